"""Events of a room's air in words: the sentence of each kind, its span, its size."""

import math
from collections.abc import Mapping, Sequence
from datetime import timedelta

from analysis.events.event_cause import OUTDOORS_DAMPER, OUTDOORS_DRIER
from analysis.events.planned import planned_around
from analysis.events.ranking import Crowd, ranked_events
from analysis.results import Cause, Event, Planned, RoomWeek
from dashboards.text import wording
from dashboards.text.messages import N_, _

MOST_NUMBERS = 8  # as many notes as fit under a chart
BEYOND = {
    "above band": N_("was above the band ({limit})"),
    "below band": N_("was below the band ({limit})"),
    "warmer than band": N_("was warmer than the band ({limit})"),
    "colder than band": N_("was colder than the band ({limit})"),
    "sustained damp": N_("stayed damp (above {limit})"),
    "sustained dry": N_("stayed dry (below {limit})"),
}


CROWDS = {
    "spike": N_("humidity changed suddenly and came back, at most by {largest}"),
    "step": N_("humidity changed suddenly and stayed, at most by {largest}"),
    "above band": N_("humidity was above the band, at most by {largest}"),
    "below band": N_("humidity was below the band, at most by {largest}"),
    "warmer than band": N_("it was warmer than the band, at most by {largest}"),
    "colder than band": N_("it was colder than the band, at most by {largest}"),
    "sustained damp": N_("it stayed damp, at most {largest} above the limit"),
    "sustained dry": N_("it stayed dry, at most {largest} below the limit"),
    "24-hour swing": N_("humidity ranged widely within 24 h, at most by {largest}"),
    "day–night cycling": N_("humidity went up and down with the day, at most by {largest}"),
    "no data": N_("no readings came for a while"),
}


# What a change of moisture probably was, seen together with outdoors.
WITH_OUTDOORS: Mapping[tuple[str, str], str] = {
    (Cause.MOISTURE_ADDED, OUTDOORS_DRIER): N_("moisture from inside the building"),
    (Cause.MOISTURE_ADDED, OUTDOORS_DAMPER): N_("moist air from outdoors"),
    (Cause.MOISTURE_REMOVED, OUTDOORS_DRIER): N_("dry air from outdoors"),
    (Cause.MOISTURE_REMOVED, OUTDOORS_DAMPER): N_(
        "something inside the building that dries the air"
    ),
}


def event_sentence(event: Event, zone: str, planned: Sequence[Planned] = ()) -> str:
    """Return what an event was, since when, in which planned hours, and what probably caused it.

    Examples
    --------
    >>> from datetime import UTC, datetime
    >>> at = datetime(2026, 3, 17, 15, 10, tzinfo=UTC)
    >>> rise = Event("spike", "N1", at, at + timedelta(hours=3), at + timedelta(hours=9),
    ...     44.0, 58.2, 14.2, 4.7, 60.0, Cause.MOISTURE_ADDED, 100.0)
    >>> event_sentence(rise, "Europe/Amsterdam")
    'Room air rose 14 %RH in 3 h from Tuesday 16:10, probably moist air or water coming in.'
    """
    start, during = wording.day_time(event.start_utc, zone), _during(event, planned)
    return _said(event, _(" from {start}{during}", start=start, during=during))


def event_note(event: Event, zone: str, planned: Sequence[Planned] = ()) -> str:
    """Return an event as a numbered note says it: when it began and ended, then what it was."""
    return f"{event_span(event, zone)}: {_said(event, _during(event, planned))}"


def event_notes(week: RoomWeek) -> list[str]:
    """Return the numbered notes of a week, an event once.

    What lies within an event already told and has its cause is a part of it: the cause, what was
    planned and which loggers agree are not told again.
    """
    events = worth_a_number(week.events)
    notes = []
    for place, event in enumerate(events):
        whole = next((n for n in range(place) if _part_of(event, events[n], week)), None)
        if whole is None:
            notes.append(event_note(event, week.zone, week.planned))
        else:
            said = f"{event_span(event, week.zone)}: {_happened(event, '')}"
            notes.append(_("{said}; part of {number}.", said=said, number=whole + 1))
    return notes


def _part_of(event: Event, other: Event, week: RoomWeek) -> bool:
    within = other.start_utc <= event.start_utc and event.end_utc <= other.end_utc
    alike = all(
        getattr(event, name) == getattr(other, name)
        for name in ("quantity", "cause", "confirmed_by", "over")
    )
    silent = is_silence(event) or is_silence(other)
    planned = told_of(event, week.planned) is told_of(other, week.planned)
    return within and alike and planned and not silent


def undated_sentence(event: Event) -> str:
    """Return what an event was and what probably caused it, for a place that dates it itself."""
    return _said(event, "")


def planned_note(event: Planned, zone: str) -> str:
    """Return an entry of the calendar as a note says it.

    Examples
    --------
    >>> from datetime import UTC, datetime
    >>> six = datetime(2026, 3, 19, 18, tzinfo=UTC)
    >>> show = Planned("Opening", six, six + timedelta(hours=3))
    >>> planned_note(show, "UTC")
    'Thu 18:00 to 21:00, in the calendar: Opening.'
    """
    first, end = wording.short_time(event.from_utc, zone), event.to_utc
    when = first
    if end is not None:
        here = wording.local(event.from_utc, zone).date() == wording.local(end, zone).date()
        last = wording.clock(end, zone) if here else wording.short_time(end, zone)
        when = wording.joined(first, last)
    return _("{when}, in the calendar: {title}.", when=when, title=event.title)


def told_of(event: Event, planned: Sequence[Planned]) -> Planned | None:
    """Return the entry of the calendar in whose hours an event began and was largest, or None."""
    return planned_around(planned, event.start_utc, event.peak_utc)


def _during(event: Event, planned: Sequence[Planned]) -> str:
    found = told_of(event, planned)
    return "" if found is None else _(", during “{title}”", title=found.title)


def telling_event(week: RoomWeek) -> Event | None:
    """Return the event that tells a week: the one after which most works were likeliest slack.

    Where several tell of as many works, or none of any, it is the largest.
    """
    return max(week.events, key=lambda e: (_followed(e, week), event_size(e)), default=None)


def _followed(event: Event, week: RoomWeek) -> int:
    """Return how many works were likeliest to show waves during an event or the day after it."""
    until = event.end_utc + timedelta(hours=24)
    hours = [
        j.now.likeliest_utc for j in week.judgements if j.now is not None and j.p_visible_week > 0.5
    ]
    return sum(at is not None and event.start_utc <= at <= until for at in hours)


def events_named(events: Sequence[Event], zone: str) -> str:
    """Return events by name, those of one day together: "Thursday's fall and rise"."""
    by_day: dict[str, list[str]] = {}
    for event in sorted(events, key=lambda e: e.start_utc):
        kinds = by_day.setdefault(wording.weekday(event.start_utc, zone), [])
        if (kind := event_kind(event)) not in kinds:
            kinds.append(kind)
    named = [
        _("{day}’s {event}", day=day, event=wording.listed(kinds)) for day, kinds in by_day.items()
    ]
    return wording.listed(named)


def event_kind(event: Event) -> str:
    """Return an event in a word."""
    rising = event.peak_value >= event.from_value
    if event.quantity == "temp_c":
        return _("warmth") if rising else _("cold")
    if event.kind == "day–night cycling":
        return _("swings")
    if event.kind in BEYOND:
        return _("damp") if rising else _("dryness")
    return _("rise") if rising else _("fall")


def event_name(event: Event, zone: str) -> str:
    """Return an event by a name: "Tuesday's rise", "Sunday's damp"."""
    return events_named([event], zone)


def _said(event: Event, when: str) -> str:
    said = f"{_happened(event, when)}{_cause(event)}"
    if not event.confirmed_by:
        return f"{said}."
    others = event.confirmed_by.split(", ")
    if len(others) == 1:
        return _("{said}; {logger} shows it too.", said=said, logger=others[0])
    agreeing = wording.plural(len(others) + 1, "logger")
    return _("{said}; {loggers} agree.", said=said, loggers=agreeing)


def _happened(event: Event, when: str) -> str:
    length = wording.duration(_hours(event.end_utc - event.start_utc))
    if is_silence(event):
        return _("No readings to rely on came for {length}{when}", length=length, when=when)
    rose = event.peak_value >= event.from_value
    if event.kind in BEYOND:
        past = _(BEYOND[event.kind], limit=_value(event, event.from_value))
        farthest = _value(event, event.peak_value)
        reach = _("up to {value}", value=farthest) if rose else _("down to {value}", value=farthest)
        return _(
            "Room air {past} for {length}{when}, {reach}",
            past=past, length=length, when=when, reach=reach,
        )  # fmt: skip
    size = _value(event, abs(event.peak_value - event.from_value))
    if event.kind == "day–night cycling":
        return _(
            "Room air went up and down by about {size} each day for {length}{when}",
            size=size, length=length, when=when,
        )  # fmt: skip
    if event.kind == "24-hour swing":
        if rose:
            return _("Room air rose {size} within 24 h{when}", size=size, when=when)
        return _("Room air fell {size} within 24 h{when}", size=size, when=when)
    took = wording.duration(_hours(event.peak_utc - event.start_utc))
    if rose:
        return _("Room air rose {size} in {took}{when}", size=size, took=took, when=when)
    return _("Room air fell {size} in {took}{when}", size=size, took=took, when=when)


def _value(event: Event, value: float) -> str:
    return wording.temp(value) if event.quantity == "temp_c" else wording.rh(value)


def is_silence(event: Event) -> bool:
    """Return whether an event is the lack of readings."""
    return event.kind == "no data" or math.isnan(event.peak_value)


def _hours(length: timedelta) -> float:
    return length.total_seconds() / 3600.0


def _cause(event: Event) -> str:
    """Return what probably made an event, after a comma; "" where it was not understood.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from datetime import UTC, datetime
    >>> at = datetime(2026, 3, 17, tzinfo=UTC)
    >>> rise = Event("spike", "N1", at, at, at, 44.0, 58.2, 14.2, 4.7, 60.0, "", 100.0)
    >>> _cause(replace(rise, cause="moist air or water coming in; outdoors was drier"))
    ', probably moisture from inside the building; outdoors was drier'
    """
    if event.cause in ("", Cause.UNKNOWN):
        return ""
    if event.cause == Cause.SENSOR:
        return f", {_(event.cause)}"
    first, _sep, outdoors = event.cause.partition("; ")
    said = _(WITH_OUTDOORS.get((first, outdoors), first))
    known = f"; {_(outdoors)}" if outdoors else ""
    return _(", probably {cause}{outdoors}", cause=said, outdoors=known)


def event_span(event: Event, zone: str) -> str:
    """Return when an event began and ended, short: ``Tue 16:10 to Wed 04:00``."""
    start, end = wording.local(event.start_utc, zone), wording.local(event.end_utc, zone)
    first = wording.short_time(event.start_utc, zone)
    if not event.over:
        return _("{since}, still going on", since=first)
    if start.date() == end.date():
        return wording.joined(first, wording.clock(event.end_utc, zone))
    return wording.joined(first, wording.short_time(event.end_utc, zone))


def event_size(event: Event) -> float:
    """Return how large an event is, for choosing the largest [%RH]; 0 for a silence."""
    change = abs(event.peak_value - event.from_value)
    if math.isnan(change) or event.quantity == "temp_c":
        return 0.0
    return change


def worth_a_number(events: Sequence[Event], most: int = MOST_NUMBERS) -> list[Event]:
    """Return the events that a chart has room for, in order of time: the few that matter."""
    return list(ranked_events(events, most).reported)


def crowds(events: Sequence[Event], most: int = MOST_NUMBERS) -> Sequence[Crowd]:
    """Return the events that are counted only, a count for each kind."""
    return ranked_events(events, most).crowds


def crowd_note(crowd: Crowd) -> str:
    """Return how many lesser events of one kind there were.

    Examples
    --------
    >>> from datetime import UTC, datetime
    >>> at = datetime(2026, 3, 17, tzinfo=UTC)
    >>> crowd_note(Crowd("24-hour swing", 170, 24.2, "rh_pct", at, at))
    'Besides, 170 times humidity ranged widely within 24 h, at most by 24 %RH.'
    """
    warmth = crowd.quantity == "temp_c"
    largest = wording.temp(crowd.largest) if warmth else wording.rh(crowd.largest)
    what = _(CROWDS[crowd.kind], largest=largest)
    if crowd.count == 1:
        return _("Besides, once {what}.", what=what)
    return _("Besides, {many} times {what}.", many=crowd.count, what=what)
