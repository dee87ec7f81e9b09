"""The base of the register's tables.

Only `service.storage` imports this module; everything else sees frozen records. A change here
needs a new step in ``migrations/versions``; a test compares the two.
"""

from datetime import UTC, datetime
from typing import Any, ClassVar

from sqlalchemy import (
    JSON,
    DateTime,
    Dialect,
    ForeignKey,
    MetaData,
    Text,
    TypeDecorator,
)
from sqlalchemy.orm import DeclarativeBase

NAMES = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


class UtcTime(TypeDecorator[datetime]):
    """An instant: zone-aware in Python, UTC in the database."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Turn any zone into UTC; a time without a zone is refused."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"a time without a zone: {value}")
        value = value.astimezone(UTC)
        return value.replace(tzinfo=None) if dialect.name == "sqlite" else value

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Give the zone back."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Table(DeclarativeBase):
    """Base of all tables."""

    metadata = MetaData(naming_convention=NAMES)
    type_annotation_map: ClassVar[dict[Any, Any]] = {
        datetime: UtcTime,
        str: Text,
        dict[str, Any]: JSON,
        list[str]: JSON,
    }


def reference(column: str) -> ForeignKey:
    """Return a foreign key that follows a renamed parent and refuses to lose its own."""
    return ForeignKey(column, onupdate="CASCADE", ondelete="RESTRICT")
