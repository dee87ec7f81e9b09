"""Incidents: opened from a notice, followed to a lesson that the next notice of its kind shows."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from analysis.errors import OutOfRangeError
from analysis.records.inspection_records import Inspection
from analysis.results import History, Range
from dashboards.text.messages import N_
from service.answers.museum import Museum
from service.climate.room_readings import full_hour
from service.estimates.assessments import Assessed
from service.storage.incidents import Incident, change_incident, incidents, put_incident
from service.storage.inspections import inspections
from service.storage.notices import Notice, notices
from service.storage.register import Register

HALF = 0.5
# The first questions, in order; common practice, reading outdoor air beside indoor air from
# published guidance (second-hand).
QUESTIONS = (
    (
        "true",
        N_("Is the reading true?"),
        N_("A second instrument, a neighbour's logger, battery, moved?"),
    ),
    ("reach", N_("One sensor, one room, or the building?"), ""),
    ("source", N_("Water? Doors? People? Plant? Works or cleaning?"), ""),
    ("outdoors", N_("What is it doing outside?"), N_("Compare moisture or dew point, not RH.")),
    ("size", N_("How far, how fast, how long?"), N_("And what will the frames have felt?")),
    ("order", N_("Which works, in which order?"), ""),
)
STATES = ("known", "suspected", "unknown")


@dataclass(frozen=True)
class Dose:
    """What one work had of an incident, by the estimate.

    Parameters
    ----------
    peak_rh_pct : Range or None
        Highest humidity at the print, low and high end of the range of that hour; None where
        nothing can be told.
    waves_h : float
        Hours in which waves were more likely than not.
    mounted_rh_pct : float or None
        Humidity at mounting, where it is known.
    inspected : sequence of Inspection
        What people saw from the beginning on.
    counted_from : datetime or None
        Since when it is counted, where the detailed estimate begins after the incident did.
    """

    work_id: str
    title: str
    on_loan: bool
    peak_rh_pct: Range | None
    waves_h: float
    mounted_rh_pct: float | None
    inspected: Sequence[Inspection]
    counted_from: datetime | None = None


def open_incident(museum: Museum, notice: Notice, *, by: str) -> Incident:
    """Open the incident of a notice, or return the one that is open already.

    Raises
    ------
    OutOfRangeError
        If the notice belongs to no room, or nobody says who opens it.
    """
    if notice.room is None or not by:
        raise OutOfRangeError(
            read="incident",
            where="room" if notice.room is None else "your name",
            found="none",
            expected="a notice of one room" if notice.room is None else "who opens it",
            action="Open the incident from a room's notice, with your name. Nothing was stored.",
        )
    register = museum.stores.register
    for one in incidents(register, notice.room):
        if one.details.get("notice") == notice.id:
            return one
    opened = Incident(
        room=notice.room,
        opened_utc=museum.clock(),
        opened_by=by,
        noticed=notice.headline,
        first_utc=notice.since_utc,
        last_utc=notice.ended_utc,
        details={
            "notice": notice.id,
            "kind": notice.kind,
            "shape": str(notice.details.get("shape", "")),
            "likely_cause": str(notice.details.get("likely_cause", "")),
        },
    )
    put_incident(register, opened, by=by)
    return next(
        one for one in incidents(register, notice.room) if one.details.get("notice") == notice.id
    )


def add_line(museum: Museum, number: int, part: str, *, text: str, by: str) -> Incident:
    """Add a person told or an action, with the time.

    Raises
    ------
    OutOfRangeError
        If nothing was written, or nobody says who wrote it.
    """
    text, by = " ".join(text.split()), " ".join(by.split())
    if not text or not by:
        raise OutOfRangeError(
            read="incident",
            where="your name" if text else part,
            found="nothing",
            expected="a line, and who wrote it",
            action="Write both and send it again. Nothing was stored.",
        )
    register = museum.stores.register
    before = next(one for one in incidents(register) if one.id == number)
    line = {"text": text, "by": by, "at_utc": museum.clock().isoformat()}
    lines = [*before.details.get(part, []), line]
    return change_incident(register, number, by=by, details={part: lines})


def close_incident(
    museum: Museum, number: int, *, cause: str, state: str, lesson: str, by: str
) -> Incident:
    """Close an incident with its cause and its lesson.

    Raises
    ------
    OutOfRangeError
        If the lesson is missing, or nobody says who closes it.
    """
    wrong = {"lesson": lesson, "your name": by}
    missing = [name for name, value in wrong.items() if not value.strip()]
    if missing or state not in STATES:
        raise OutOfRangeError(
            read="incident",
            where=missing[0] if missing else "cause",
            found="nothing" if missing else state,
            expected="something for next time, also “nothing was harmed”, and who closes it",
            action="Write it and send the form again. Nothing was stored.",
        )
    return change_incident(
        museum.stores.register,
        number,
        by=by.strip(),
        cause=cause.strip(),
        cause_state=state,
        lesson=lesson.strip(),
        closed_by=by.strip(),
        closed_utc=museum.clock(),
    )


def doses(museum: Museum, one: Incident) -> list[Dose]:
    """Return what each work that hung in the room had of an incident, the most concerned first."""
    start = one.first_utc or one.opened_utc
    until = one.last_utc or one.closed_utc or museum.clock()
    known = museum.readings(one.room).frame
    if known.empty:
        return []
    at = full_hour(min(until + timedelta(hours=1), known.index[-1].to_pydatetime()))
    found = [
        _dose(museum.stores.register, assessed, start, until)
        for assessed in museum.assessed(one.room, at)
    ]
    return sorted(found, key=lambda dose: -dose.waves_h)


def _dose(register: Register, one: Assessed, start: datetime, until: datetime) -> Dose:
    inspected = [look for look in inspections(register, one.work.work_id) if look.at_utc >= start]
    peak, waves_h = (None, 0.0) if one.history is None else _felt(one.history, start, until)
    return Dose(
        one.work.work_id,
        one.work.title,
        one.work.on_loan,
        peak,
        waves_h,
        one.work.mounted_rh_pct,
        inspected,
        _counted_from(one.history, start),
    )


def _counted_from(history: History | None, start: datetime) -> datetime | None:
    if history is None or not len(history.time_utc):
        return None
    seconds = history.time_utc[0].astype("datetime64[s]").astype(int)
    first = datetime.fromtimestamp(int(seconds), UTC)
    return first if first > start + timedelta(hours=1) else None


def _felt(history: History, start: datetime, until: datetime) -> tuple[Range | None, float]:
    times = history.time_utc.astype("datetime64[s]")
    first, last = (np.datetime64(int(t.timestamp()), "s") for t in (start, until))
    inside = (times >= first) & (times <= last)
    rh_pct = history.print_rh_pct[inside]
    known = rh_pct[np.isfinite(rh_pct).all(axis=1)]
    if not len(known):
        return None, 0.0
    low, mid, high = (float(value) for value in known[int(np.argmax(known[:, 1]))])
    waves = history.p_visible[inside]
    return Range(low, mid, high), float(np.nansum(waves >= HALF))


def lessons(known: Iterable[Incident], notice: Notice) -> tuple[Incident, ...]:
    """Return those of some incidents that were closed, of the same room and kind of cause."""
    if notice.room is None:
        return ()
    shape = str(notice.details.get("shape", ""))
    return tuple(
        one
        for one in known
        if one.room == notice.room
        and one.lesson
        and one.details.get("notice") != notice.id
        and one.details.get("kind") == notice.kind
        and one.details.get("shape", "") == shape
    )


def notice_of(museum: Museum, number: str) -> Notice | None:
    """Return the notice of that number, or None."""
    found = {str(one.id): one for one in notices(museum.stores.register)}
    return found.get(number)
