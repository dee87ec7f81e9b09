"""One line of the register corrected or taken out by hand; both stay in the audit trail."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from analysis.errors import OutOfRangeError, UnknownNameError
from service.storage import audit, schema
from service.storage.register import Register
from service.storage.register_cells import text_of
from service.storage.tables import Table


@dataclass(frozen=True)
class Lines:
    """The rows behind one file of the register, and the columns that name one of them."""

    table: type[Table]
    key: tuple[str, ...]

    @property
    def name(self) -> str:
        """Name of the table, as the audit trail has it."""
        return str(self.table.__tablename__)

    @property
    def columns(self) -> tuple[str, ...]:
        """Every column that a file of this kind holds, or may hold."""
        names = (column.key for column in self.table.__table__.columns)
        return tuple(name for name in names if name != "id")


LINES: Mapping[str, Lines] = {
    "sites.csv": Lines(schema.SiteRow, ("site",)),
    "rooms.csv": Lines(schema.RoomRow, ("room",)),
    "bands.csv": Lines(schema.BandRow, ("room", "band_since")),
    "loggers.csv": Lines(schema.LoggerRow, ("logger",)),
    "placements.csv": Lines(schema.PlacementRow, ("logger", "from_utc")),
    "calibrations.csv": Lines(schema.CalibrationRow, ("logger", "channel", "from_utc")),
    "works.csv": Lines(schema.WorkRow, ("work_id",)),
    "mounts.csv": Lines(schema.MountRow, ("work_id", "mounted_utc")),
    "frames.csv": Lines(schema.FrameRow, ("work_id", "closed_utc")),
    "hangings.csv": Lines(schema.HangingRow, ("work_id", "from_utc")),
    "overrides.csv": Lines(schema.OverrideRow, ("work_id", "name", "from_utc")),
    "inspections.csv": Lines(schema.InspectionRow, ("work_id", "at_utc", "by")),
    "events.csv": Lines(schema.EventRow, ("site", "room", "kind", "from_utc")),
}


def key_of(file: str, values: Mapping[str, Any]) -> dict[str, Any]:
    """Return what names a line among those of its file; what is not stated is None."""
    return {column: values.get(column) for column in LINES[file].key}


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
        If another line has the new key already.
    """
    with register.writing() as session:
        row = _require_row(session, file, was)
        key = {column: values.get(column, was[column]) for column in LINES[file].key}
        if key != dict(was):
            _require_free(session, file, key)
        before = {name: getattr(row, name) for name in values}
        if before == dict(values):
            return False
        for name, value in values.items():
            setattr(row, name, value)
        session.flush()
        audit.note(session, by=by, what=LINES[file].name, key=was, before=before, after=values)
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
        audit.note(session, by=by, what=LINES[file].name, key=key, before=before, after=after)


def require_new(register: Register, file: str, values: Mapping[str, Any]) -> None:
    """Raise if a line of this key is there already, so that adding never writes over it.

    Raises
    ------
    OutOfRangeError
        If it is.
    """
    with register.reading() as session:
        _require_free(session, file, key_of(file, values))


def withdraw_measured(
    register: Register,
    work_id: str,
    name: str,
    from_utc: datetime | None,
    *,
    why: str,
    by: str,
    at_utc: datetime,
) -> bool:
    """Take a measured value out of the count, with the reason and the date; it stays on record.

    Raises
    ------
    UnknownNameError
        If there is no such value.
    """
    key = {"work_id": work_id, "name": name, "from_utc": from_utc}
    values = {"withdrawn": why, "withdrawn_utc": at_utc}
    return correct_line(register, "overrides.csv", key, values, by=by)


def _row(session: Session, file: str, key: Mapping[str, Any]) -> Table | None:
    return session.scalars(select(LINES[file].table).filter_by(**key)).one_or_none()


def _values(file: str, row: Table) -> dict[str, Any]:
    return {column: getattr(row, column) for column in LINES[file].columns}


def _require_row(session: Session, file: str, key: Mapping[str, Any]) -> Table:
    row = _row(session, file, key)
    if row is None:
        every = session.scalars(select(LINES[file].table))
        known = [key_words({name: getattr(one, name) for name in LINES[file].key}) for one in every]
        raise UnknownNameError(read=LINES[file].name, name=key_words(key), known=known)
    return row


def _require_free(session: Session, file: str, key: Mapping[str, Any]) -> None:
    if _row(session, file, key) is not None:
        raise OutOfRangeError(
            read=LINES[file].name,
            where=LINES[file].key[-1],
            found="one that is there already",
            expected="a line of its own",
            action="Correct the one that is there, or give this one its own date or name.",
        )
