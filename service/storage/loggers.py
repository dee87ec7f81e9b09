"""Loggers: where each hung from when to when, side by side with which, and its calibrations.

Calibrations are dated layers over the readings, which themselves are never edited.
"""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import or_, select

from analysis.instruments.calibration import CalibrationLayer, require_layer
from analysis.records.room_records import Calibration, Logger, Place, Placement, SideBySide
from service.storage import audit
from service.storage.records import find, put, put_record, values_of
from service.storage.register import Register, now_utc
from service.storage.schema import CalibrationRow, ChoiceRow, LoggerRow, PlacementRow, SideBySideRow


def loggers(register: Register) -> tuple[Logger, ...]:
    """Return all loggers, by name."""
    with register.reading() as session:
        return find(session, Logger, LoggerRow, order=(LoggerRow.logger,))


def logger_named(register: Register, logger_id: str) -> Logger | None:
    """Return one logger, or None when the register does not know it."""
    with register.reading() as session:
        found = find(session, Logger, LoggerRow, LoggerRow.logger == logger_id)
    return found[0] if found else None


def placements(register: Register, logger_id: str | None = None) -> tuple[Placement, ...]:
    """Return where one logger (or every one) hung, in order of time."""
    where = [] if logger_id is None else [PlacementRow.logger == logger_id]
    with register.reading() as session:
        found = find(session, Placement, PlacementRow, *where, order=(PlacementRow.logger,))
    return tuple(sorted(found, key=_begins))


def placements_in(
    register: Register,
    room: str,
    start_utc: datetime | None = None,
    end_utc: datetime | None = None,
    place: Place = Place.ROOM_AIR,
) -> tuple[Placement, ...]:
    """Return the placements in a room that overlap a span of time, in order of time."""
    where = [PlacementRow.room == room, PlacementRow.place == place]
    if end_utc is not None:
        where.append(or_(PlacementRow.from_utc.is_(None), PlacementRow.from_utc < end_utc))
    if start_utc is not None:
        where.append(or_(PlacementRow.to_utc.is_(None), PlacementRow.to_utc > start_utc))
    with register.reading() as session:
        found = find(session, Placement, PlacementRow, *where, order=(PlacementRow.logger,))
    return tuple(sorted(found, key=_begins))


def ensure_logger(register: Register, logger: Logger, *, by: str = "") -> bool:
    """Add a logger unless the register knows it already; return whether it was added."""
    with register.writing():
        known = logger_named(register, logger.logger) is not None
        return not known and put_record(register, logger, by=by)


def _begins(placement: Placement) -> float:
    return placement.from_utc.timestamp() if placement.from_utc else float("-inf")


def remembered_choice(register: Register, logger_id: str) -> dict[str, Any] | None:
    """Return the plain values of the choice last confirmed for a logger, or None."""
    with register.reading() as session:
        row = session.get(ChoiceRow, logger_id)
        return None if row is None else dict(row.choice)


def remember_choice(
    register: Register, logger_id: str, choice: Mapping[str, Any], *, by: str = ""
) -> bool:
    """Keep a confirmed choice in place of the earlier one; return whether it differs."""
    if remembered_choice(register, logger_id) == dict(choice):
        return False
    values = {"choice": dict(choice), "confirmed_utc": now_utc(), "by": by}
    with register.writing() as session:
        return put(session, ChoiceRow, {"logger": logger_id}, values, by=by)


def remembered_choices(register: Register) -> dict[str, tuple[dict[str, Any], datetime, str]]:
    """Return every logger's confirmed choice, when it was confirmed, and by whom."""
    with register.reading() as session:
        rows = session.scalars(select(ChoiceRow).order_by(ChoiceRow.logger))
        return {row.logger: (dict(row.choice), row.confirmed_utc, row.by) for row in rows}


def forget_choice(register: Register, logger_id: str, *, why: str, by: str) -> None:
    """Take back what was confirmed of a logger's files: the next one is understood for itself.

    The audit trail keeps what it was. Readings that came in by it stay.
    """
    with register.writing() as session:
        row = session.get(ChoiceRow, logger_id)
        if row is None:
            return
        before = {"choice": dict(row.choice), "by": row.by}
        session.delete(row)
        session.flush()
        key, after = {"logger": logger_id}, {"taken out": why}
        audit.note(session, by=by, what="choices", key=key, before=before, after=after)


def calibrations(register: Register, logger_id: str | None = None) -> tuple[Calibration, ...]:
    """Return the calibrations of one logger, or of all, in order of time."""
    where = [] if logger_id is None else [CalibrationRow.logger == logger_id]
    order = (CalibrationRow.logger, CalibrationRow.channel)
    with register.reading() as session:
        found = find(session, Calibration, CalibrationRow, *where, order=order)
    return tuple(sorted(found, key=_calibrated_from))


def put_calibration(register: Register, calibration: Calibration, *, by: str = "") -> bool:
    """Add a calibration, or change the one of the same logger, channel and date.

    Raises
    ------
    OutOfRangeError
        If it corrects by more than can be believed: then nothing is stored.
    UnknownNameError
        If it is for another channel than ``rh_pct`` or ``temp_c``.
    """
    require_layer(calibration.layer())
    values = values_of(calibration)
    key = {name: values.pop(name) for name in ("logger", "channel", "from_utc")}
    with register.writing() as session:
        return put(session, CalibrationRow, key, values, by=by or calibration.by)


def layers(register: Register, logger_id: str) -> tuple[CalibrationLayer, ...]:
    """Return a logger's calibrations as layers, for `apply_calibration`."""
    return tuple(one.layer() for one in calibrations(register, logger_id))


def _calibrated_from(calibration: Calibration) -> float:
    return calibration.from_utc.timestamp() if calibration.from_utc else float("-inf")


def side_by_side(register: Register) -> tuple[SideBySide, ...]:
    """Return which loggers hung side by side, in order of time."""
    with register.reading() as session:
        order = (SideBySideRow.from_utc, SideBySideRow.id)
        return find(session, SideBySide, SideBySideRow, order=order)
