"""Excursions of the rooms' air over a report's dates, and what each cost in works and hours.

They are the causes of which notices tell, found in the same events by the same settings.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from analysis.events.planned import planned_around
from analysis.records.house_records import CalendarEvent
from analysis.records.room_records import Room
from analysis.results import Event
from service.answers.museum import Museum
from service.notices.arrangements import arrangement
from service.notices.causes import Cause, NoticeLimits, air_causes
from service.reports.kept_hours import WorkHours
from service.storage.incidents import Incident, incidents
from service.storage.places import calendar


@dataclass(frozen=True)
class Excursion:
    """One cause in a room's air.

    Parameters
    ----------
    event : Event
        The event that tells it best.
    until_utc : datetime or None
        None while it goes on.
    entry : CalendarEvent or None
        What the calendar holds of its hours.
    incident : Incident or None
        The incident that was opened from it.
    hours : mapping of str to int
        Work → hours of waves likelier than not, in spells that began after it and before the next.
    """

    room: Room
    event: Event
    since_utc: datetime
    until_utc: datetime | None
    entry: CalendarEvent | None
    incident: Incident | None
    hours: Mapping[str, int]

    @property
    def work_hours(self) -> int:
        """Hours of waves likelier than not, summed over works."""
        return sum(self.hours.values())

    @property
    def explained(self) -> bool:
        """Whether the calendar or an incident says what it was."""
        known = self.incident is not None and self.incident.cause_state == "known"
        return self.entry is not None or known


def excursions(
    museum: Museum, works: Sequence[WorkHours], start_utc: datetime, end_utc: datetime
) -> tuple[Excursion, ...]:
    """Return the excursions that touch the dates, by room, in order of their beginning."""
    register = museum.stores.register
    limits = arrangement(register, museum.clock()).limits
    end = min(end_utc, museum.now())
    found = []
    for room in museum.rooms() if start_utc < end else ():
        causes = _causes(museum, room, start_utc, end, limits)
        hours = hours_by_cause(causes, works, room.room)
        planned = calendar(register, room.room)
        opened = incidents(register, room.room)
        for one in causes:
            if one.event is not None:
                found.append(
                    Excursion(
                        room=room,
                        event=one.event,
                        since_utc=one.since_utc,
                        until_utc=one.until_utc,
                        entry=planned_around(planned, one.since_utc, one.event.peak_utc),
                        incident=_incident_of(one, opened),
                        hours=hours.get(one.key, {}),
                    )
                )
    return tuple(found)


def _causes(
    museum: Museum, room: Room, start_utc: datetime, end_utc: datetime, limits: NoticeLimits
) -> list[Cause]:
    every = air_causes(room.room, museum.events(room.room, start_utc, end_utc), limits)
    return [
        one
        for one in every
        if one.since_utc < end_utc and (one.until_utc is None or one.until_utc > start_utc)
    ]


def hours_by_cause(
    causes: Iterable[Cause], works: Iterable[WorkHours], room: str
) -> dict[str, dict[str, int]]:
    """Return by key of a cause: work → hours of the spells that belong to it.

    A spell belongs to the cause that had begun last when it began. Spells before any cause belong
    to none: the air that slackened the work was no excursion, or lies before the dates.
    """
    begun = sorted(causes, key=lambda one: one.since_utc)
    found: dict[str, dict[str, int]] = {}
    for work in works:
        for spell in work.spells:
            before = [one for one in begun if one.since_utc <= spell.since_utc]
            if spell.room == room and before:
                mine = found.setdefault(before[-1].key, {})
                mine[work.work_id] = mine.get(work.work_id, 0) + spell.hours
    return found


def _incident_of(cause: Cause, opened: Sequence[Incident]) -> Incident | None:
    """Return the incident whose beginning lies within a cause, or None."""
    for one in opened:
        first = one.first_utc or one.opened_utc
        if cause.since_utc <= first and (cause.until_utc is None or first <= cause.until_utc):
            return one
    return None
