"""The base of the register's tables.

Only `service.storage` imports this module; everything else sees frozen records. A change here
needs a new step in ``migrations/versions``; a test compares the two.
"""

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any, ClassVar

from sqlalchemy import (
    JSON,
    Boolean,
    CheckConstraint,
    DateTime,
    Dialect,
    Double,
    ForeignKey,
    Integer,
    MetaData,
    Text,
    TypeDecorator,
    UniqueConstraint,
)
from sqlalchemy.orm import DeclarativeBase, mapped_column
from sqlalchemy.types import TypeEngine

from analysis.records import BY_FILE, Declaration, Field, Kind, Span
from analysis.records.cells import text_of

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
    python_type = datetime

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


class NumberOrRange(TypeDecorator[float | Span]):
    """A number, or a range that holds it, as text: "48", "40 to 55"."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: float | Span | None, dialect: Dialect) -> str | None:
        """Write it to its last digit."""
        return (
            None if value is None else text_of(value if isinstance(value, Span) else float(value))
        )

    def process_result_value(self, value: str | None, dialect: Dialect) -> float | Span | None:
        """Give the number or the range back."""
        if value is None:
            return None
        low, _, high = value.partition(" to ")
        return Span(float(low), float(high)) if high else float(low)


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


TYPES: Mapping[Kind, type[TypeEngine[Any]] | type[TypeDecorator[Any]]] = {
    Kind.NUMBER: Double,
    Kind.YES_NO: Boolean,
    Kind.WHEN: UtcTime,
}


def table_of(declaration: Declaration, *checks: CheckConstraint) -> Any:
    """Return the table of a kind of record: its columns are the fields that are declared.

    A record that one name tells from all others is keyed by it, any other by a number.
    """
    one_name = len(declaration.key) == 1
    columns: dict[str, Any] = {
        name: _column(one, keyed=one_name and name in declaration.key)
        for name, one in declaration.fields.items()
    }
    constraints: tuple[Any, ...] = checks
    if not one_name:
        columns = {"id": mapped_column(Integer, primary_key=True)} | columns
        constraints = (UniqueConstraint(*declaration.key), *checks)
    about = {
        "__tablename__": declaration.table,
        "__doc__": declaration.record.__doc__,
        "__table_args__": constraints,
    }
    return type(f"{declaration.record.__name__}Row", (Table,), about | columns)


def _column(one: Field, *, keyed: bool) -> Any:
    kind: Any = TYPES.get(one.kind, Text)
    if one.kind is Kind.NUMBER and (one.whole or one.may_be_range):
        kind = Integer if one.whole else NumberOrRange
    if one.kind is not Kind.REFERENCE:
        return mapped_column(kind, primary_key=keyed, nullable=one.may_be_unknown)
    parent = BY_FILE[one.of]
    key = reference(f"{parent.table}.{parent.key[0]}")
    # A house is looked up by its rooms, never the other way.
    indexed = parent.table != "sites"
    return mapped_column(kind, key, nullable=one.may_be_unknown, index=indexed)
