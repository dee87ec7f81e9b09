"""From table rows to frozen records and back: checked as declared, noted in the audit trail.

Nothing gets into a declared table but through `put` and `correct_line`: what changes is checked by
the declaration of its field first, in the transaction of the change itself.
"""

from collections.abc import Mapping
from dataclasses import fields
from functools import cache
from typing import Any, ClassVar, Protocol, TypeVar

from sqlalchemy import ColumnElement, Select, inspect, select
from sqlalchemy.orm import Session

from analysis.errors import OutOfRangeError, UnknownNameError
from analysis.records import BY_FILE, BY_TABLE, require_sound
from analysis.records.cells import text_of
from service.storage import audit
from service.storage.register import Register
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
    """Return the records of all rows that meet the conditions.

    Their columns alone are read: rows that could be changed would take twice the time.
    """
    session.flush()
    wanted = _columns(kind, table).where(*where).order_by(*order)
    names = [field.name for field in fields(kind)]
    rows = session.connection().execute(wanted)
    return tuple(kind(**dict(zip(names, row, strict=True))) for row in rows)


@cache
def _columns(kind: type[Dataclass], table: type[Table]) -> Select[Any]:
    """Return the question for a record's fields in all rows of a table."""
    columns = inspect(table).columns
    return select(*(columns[field.name] for field in fields(kind)))


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
        _require_sound(table, {**key, **values}, {})
        row = table(**key, **values)
        session.add(row)
    else:
        before = {name: getattr(row, name) for name in values}
        if before == dict(values):
            return False
        _require_sound(table, {**key, **values}, {**key, **before})
        for name, value in values.items():
            setattr(row, name, value)
    session.flush()
    audit.note(session, by=by, what=table.__tablename__, key=key, before=before, after=values)
    return True


def _require_sound(
    table: type[Table], values: Mapping[str, Any], before: Mapping[str, Any]
) -> None:
    """Raise unless what changes is as its field is declared.

    What was wrong before may stay for the moment, so that one thing after another can be mended.
    """
    declaration = BY_TABLE.get(table.__tablename__)
    if declaration is None:
        return
    changed = {
        name for name, value in values.items() if name not in before or before[name] != value
    }
    pairs = (
        *declaration.rising,
        *declaration.in_order,
        *declaration.together,
        *declaration.apart,
    )
    beside = {name for pair in pairs if changed & set(pair) for name in pair}
    looked_at = changed | (beside & set(values))
    if looked_at:
        key = set(declaration.key) & set(values)
        require_sound(declaration, {n: v for n, v in values.items() if n in looked_at | key})


def put_record(register: Register, item: Dataclass, *, by: str = "") -> bool:
    """Add a declared record, or change the one of its key; return whether anything changed.

    Raises
    ------
    OutOfRangeError
        If a value is not as its field is declared; then nothing is stored.
    StoreError
        If it names what the register does not know.
    """
    declaration = next(one for one in BY_FILE.values() if one.record is type(item))
    values = values_of(item)
    key = {name: values.pop(name) for name in declaration.key}
    with register.writing() as session:
        table = row_class(declaration.file)
        return put(session, table, key, values, by=by or str(values.get("by", "")))


def every_line(register: Register, file: str) -> list[dict[str, Any]]:
    """Return the values of all lines of a kind of record, by their keys."""
    with register.reading() as session:
        rows = session.scalars(select(row_class(file)))
        lines = [_values(file, row) for row in rows]
    key = BY_FILE[file].key
    return sorted(lines, key=lambda line: [(line[n] is not None, line[n]) for n in key])


def row_class(file: str) -> type[Table]:
    """Return the table behind a file of the register."""
    name = BY_FILE[file].table
    classes = (mapper.class_ for mapper in Table.registry.mappers)
    return next(one for one in classes if one.__tablename__ == name)


def key_of(file: str, values: Mapping[str, Any]) -> dict[str, Any]:
    """Return what names a line among those of its file; what is not stated is None."""
    return {column: values.get(column) for column in BY_FILE[file].key}


def key_words(key: Mapping[str, Any]) -> str:
    """Return a key as people read it.

    Examples
    --------
    >>> key_words({"work_id": "W-1", "mounted_utc": None})
    'W-1, mounted_utc not stated'
    """
    parts = list(key.items())
    first = text_of(parts[0][1])
    return ", ".join(
        [first, *(f"{name} {text_of(value) or 'not stated'}" for name, value in parts[1:])]
    )


def line_at(register: Register, file: str, key: Mapping[str, Any]) -> dict[str, Any] | None:
    """Return all values of one line, or None where there is no such line."""
    with register.reading() as session:
        row = _row(session, file, key)
        return None if row is None else _values(file, row)


def correct_line(
    register: Register,
    file: str,
    was: Mapping[str, Any],
    values: Mapping[str, Any],
    *,
    by: str,
) -> bool:
    """Change one line, its key too; return whether anything changed.

    Parameters
    ----------
    was : mapping of str to value
        The key of the line as it stands.
    values : mapping of str to value
        The columns to set; columns left out stay as they are.

    Raises
    ------
    UnknownNameError
        If the line is not there, for example because somebody else changed it meanwhile.
    OutOfRangeError
        If another line has the new key already, or a value is not as its field is declared.
    """
    with register.writing() as session:
        row = _require_row(session, file, was)
        key = {column: values.get(column, was[column]) for column in BY_FILE[file].key}
        if key != dict(was):
            _require_free(session, file, key)
        before = {name: getattr(row, name) for name in values}
        if before == dict(values):
            return False
        whole = _values(file, row)
        _require_sound(row_class(file), whole | dict(values), whole)
        for name, value in values.items():
            setattr(row, name, value)
        session.flush()
        audit.note(session, by=by, what=BY_FILE[file].table, key=was, before=before, after=values)
        return True


def take_out_line(
    register: Register, file: str, key: Mapping[str, Any], *, why: str, by: str
) -> None:
    """Take out a line that should never have been written; the audit trail keeps it whole.

    Raises
    ------
    UnknownNameError
        If the line is not there.
    StoreError
        If other lines name it.
    """
    with register.writing() as session:
        row = _require_row(session, file, key)
        before = _values(file, row)
        session.delete(row)
        session.flush()
        after = {"taken out": why}
        audit.note(session, by=by, what=BY_FILE[file].table, key=key, before=before, after=after)


def require_new(register: Register, file: str, values: Mapping[str, Any]) -> None:
    """Raise if a line of this key is there already, so that adding never writes over it.

    Raises
    ------
    OutOfRangeError
        If it is.
    """
    with register.reading() as session:
        _require_free(session, file, key_of(file, values))


def _row(session: Session, file: str, key: Mapping[str, Any]) -> Table | None:
    return session.scalars(select(row_class(file)).filter_by(**key)).one_or_none()


def _values(file: str, row: Table) -> dict[str, Any]:
    return {column: getattr(row, column) for column in BY_FILE[file].fields}


def _require_row(session: Session, file: str, key: Mapping[str, Any]) -> Table:
    row = _row(session, file, key)
    if row is None:
        names = BY_FILE[file].key
        every = session.scalars(select(row_class(file)))
        known = [key_words({name: getattr(one, name) for name in names}) for one in every]
        raise UnknownNameError(read=BY_FILE[file].table, name=key_words(key), known=known)
    return row


def _require_free(session: Session, file: str, key: Mapping[str, Any]) -> None:
    if _row(session, file, key) is not None:
        raise OutOfRangeError(
            read=BY_FILE[file].table,
            where=BY_FILE[file].key[-1],
            found="one that is there already",
            expected="a line of its own",
            action="Correct the one that is there, or give this one its own date or name.",
        )
