"""The calendar: openings, cleaning, works, plant, closures, weather; and checks side by side."""

from datetime import datetime

from sqlalchemy import or_

from analysis.records.house_records import CalendarEvent
from analysis.records.room_records import SideBySide
from service.storage.records import find
from service.storage.register import Register
from service.storage.schema import EventRow, SideBySideRow


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


def side_by_side(register: Register) -> tuple[SideBySide, ...]:
    """Return which loggers hung side by side, in order of time."""
    with register.reading() as session:
        order = (SideBySideRow.from_utc, SideBySideRow.id)
        return find(session, SideBySide, SideBySideRow, order=order)
