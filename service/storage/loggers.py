"""Loggers, and where each hung from when to when."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import or_

from service.storage.records import find, put, values_of
from service.storage.register import Register, now_utc
from service.storage.schema import ChoiceRow, LoggerRow, PlacementRow


class Place(StrEnum):
    """Where a logger hangs in relation to the works."""

    ROOM_AIR = "room air"
    IN_FRAME = "in the frame"
    BEHIND_FRAME = "behind the frame"
    OUTDOORS = "outdoors"


@dataclass(frozen=True)
class Logger:
    """An instrument. ``zone`` is the declared time base of its clock, "" when not declared."""

    logger: str
    description: str = ""
    zone: str = ""
    interval_s: float | None = None
    note: str = ""


@dataclass(frozen=True)
class Placement:
    """Where a logger hung; an open end is None."""

    logger: str
    room: str
    from_utc: datetime | None = None
    to_utc: datetime | None = None
    place: str = Place.ROOM_AIR
    work_id: str | None = None
    position: str = ""
    note: str = ""


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


def put_logger(register: Register, logger: Logger, *, by: str = "") -> bool:
    """Add or change a logger; return whether anything changed."""
    values = values_of(logger)
    with register.writing() as session:
        return put(session, LoggerRow, {"logger": values.pop("logger")}, values, by=by)


def ensure_logger(register: Register, logger: Logger, *, by: str = "") -> bool:
    """Add a logger unless the register knows it already; return whether it was added."""
    with register.writing():
        known = logger_named(register, logger.logger) is not None
        return not known and put_logger(register, logger, by=by)


def put_placement(register: Register, placement: Placement, *, by: str = "") -> bool:
    """Add a placement, or change the one that began at the same time."""
    values = values_of(placement)
    key = {"logger": values.pop("logger"), "from_utc": values.pop("from_utc")}
    with register.writing() as session:
        return put(session, PlacementRow, key, values, by=by)


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
