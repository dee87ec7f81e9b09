"""The calendar: openings, cleaning, works, plant, closures, weather."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from sqlalchemy import or_

from service.storage.records import find, put, values_of
from service.storage.register import Register
from service.storage.schema import EventRow


class EventKind(StrEnum):
    """What was going on."""

    OPENING = "opening"
    CLEANING = "cleaning"
    WORKS = "works"
    PLANT = "plant"
    CLOSURE = "closure"
    WEATHER = "weather"
    MOVE = "move"
    OTHER = "other"


@dataclass(frozen=True)
class CalendarEvent:
    """Something people know about. ``room`` None: the whole site; ``to_utc`` None: an instant."""

    site: str
    kind: str
    from_utc: datetime
    title: str
    room: str | None = None
    to_utc: datetime | None = None
    note: str = ""


def calendar(
    register: Register,
    room: str | None = None,
    start_utc: datetime | None = None,
    end_utc: datetime | None = None,
) -> tuple[CalendarEvent, ...]:
    """Return the events that touch a room (those of its whole site too), in order of time."""
    where = []
    if room is not None:
        where.append(or_(EventRow.room == room, EventRow.room.is_(None)))
    if end_utc is not None:
        where.append(EventRow.from_utc < end_utc)
    if start_utc is not None:
        lasting = EventRow.to_utc > start_utc
        where.append(or_(lasting, EventRow.to_utc.is_(None) & (EventRow.from_utc >= start_utc)))
    with register.reading() as session:
        return find(
            session, CalendarEvent, EventRow, *where, order=(EventRow.from_utc, EventRow.id)
        )


def put_event(register: Register, event: CalendarEvent, *, by: str = "") -> bool:
    """Add an event, or change the one of the same kind, place and beginning."""
    values = values_of(event)
    key = {name: values.pop(name) for name in ("site", "room", "kind", "from_utc")}
    with register.writing() as session:
        return put(session, EventRow, key, values, by=by)
