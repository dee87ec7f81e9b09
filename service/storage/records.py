"""From table rows to frozen records and back, with a line in the audit trail for each change."""

from collections.abc import Mapping
from dataclasses import fields
from typing import Any, ClassVar, Protocol, TypeVar

from sqlalchemy import ColumnElement, select
from sqlalchemy.orm import Session

from service.storage import audit
from service.storage.tables import Table


class Dataclass(Protocol):
    """Anything made by `dataclasses.dataclass`."""

    __dataclass_fields__: ClassVar[dict[str, Any]]


RecordType = TypeVar("RecordType", bound=Dataclass)


def record(kind: type[RecordType], row: Table) -> RecordType:
    """Return the frozen record of a row: the fields of ``kind``, by name."""
    return kind(**{field.name: getattr(row, field.name) for field in fields(kind)})


def values_of(item: Dataclass) -> dict[str, Any]:
    """Return a record's fields as a mapping, not descending into them."""
    return {field.name: getattr(item, field.name) for field in fields(item)}


def find(
    session: Session,
    kind: type[RecordType],
    table: type[Table],
    *where: ColumnElement[bool],
    order: tuple[Any, ...] = (),
) -> tuple[RecordType, ...]:
    """Return the records of all rows that meet the conditions."""
    rows = session.scalars(select(table).where(*where).order_by(*order))
    return tuple(record(kind, row) for row in rows)


def put(
    session: Session,
    table: type[Table],
    key: Mapping[str, Any],
    values: Mapping[str, Any],
    *,
    by: str,
) -> bool:
    """Insert or change the row with that key; return whether anything changed.

    An unchanged row leaves no line in the audit trail.
    """
    row = session.scalars(select(table).filter_by(**key)).one_or_none()
    before = None
    if row is None:
        row = table(**key, **values)
        session.add(row)
    else:
        before = {name: getattr(row, name) for name in values}
        if before == dict(values):
            return False
        for name, value in values.items():
            setattr(row, name, value)
    session.flush()
    audit.note(session, by=by, what=table.__tablename__, key=key, before=before, after=values)
    return True
