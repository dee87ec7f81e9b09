"""What concerns the whole house, as pages: its calendar, and how its instruments were checked."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from analysis.errors import StilltautError
from analysis.instruments.side_by_side import agreement
from analysis.records.house_records import CalendarEvent
from analysis.records.room_records import SideBySide
from dashboards import links
from dashboards.pages.mount_record import Fact
from dashboards.pages.record_facts import facts
from dashboards.pages.register_lines import Entry, RecordPart
from dashboards.pages.register_pages import HousePage
from dashboards.text import wording
from service.answers.museum import Museum
from service.records.record_pages import LOGGER, SAVED, part_lines
from service.records.record_parts import CALIBRATION, EVENT, SIDE_BY_SIDE
from service.storage.events import calendar, side_by_side
from service.storage.loggers import calibrations, loggers, placements
from service.storage.places import rooms
from service.storage.records import values_of

A_YEAR = timedelta(days=366)
UNITS = {"rh_pct": ("Humidity", "%RH"), "temp_c": ("Temperature", "°C")}


def calendar_page(museum: Museum, saved: str) -> HousePage:
    """Return what is planned and what was going on, the latest first."""
    every = calendar(museum.stores.register)
    return HousePage(
        question="What is planned, and what was going on?",
        answer=_next_words(every, museum),
        parts=[part_lines(museum, EVENT, "", every)],
        saved=SAVED.get(saved, ""),
    )


def _next_words(every: Sequence[CalendarEvent], museum: Museum) -> str:
    now = museum.clock()
    on = [one for one in every if one.from_utc <= now and one.to_utc and one.to_utc > now]
    ahead = [one for one in every if one.from_utc > now]
    names = {room.room: room.name for room in rooms(museum.stores.register)}
    told = [f"Now, until {wording.when(e, museum.zone)}: {one.title}." for one, e in _ends(on)]
    if ahead:
        first = ahead[0]
        where = names.get(first.room or "", "the whole house")
        at = wording.when(first.from_utc, museum.zone)
        told.append(f"Next, on {at}: {first.title}, {where}.")
    return " ".join(told) or "Nothing is planned that anybody has written down."


def _ends(every: Sequence[CalendarEvent]) -> list[tuple[CalendarEvent, datetime]]:
    return [(one, one.to_utc) for one in every if one.to_utc is not None]


def instruments_page(museum: Museum, saved: str) -> HousePage:
    """Return every logger, how it was checked, and how those that hung side by side differ."""
    register = museum.stores.register
    checked = calibrations(register)
    beside = side_by_side(register)
    compared = part_lines(museum, SIDE_BY_SIDE, "", beside)
    entries = [
        replace(entry, facts=[*entry.facts, *_differences(museum, check)])
        for entry, check in zip(compared.entries, reversed(beside), strict=True)
    ]
    return HousePage(
        question="Can our loggers be trusted?",
        answer=_checked_words(museum),
        parts=[
            part_lines(museum, CALIBRATION, "", checked),
            replace(compared, entries=entries),
            _loggers(museum),
        ],
        saved=SAVED.get(saved, ""),
    )


def _checked_words(museum: Museum) -> str:
    every, since = loggers(museum.stores.register), museum.clock() - A_YEAR
    lately = {
        one.logger
        for one in calibrations(museum.stores.register)
        if one.from_utc is not None and since <= one.from_utc <= museum.clock()
    }
    if not every:
        return "No logger is written down yet."
    return (
        f"{len(lately) or 'None'} of {wording.plural(len(every), 'logger')} checked against a "
        "reference within a year. One that reads off makes a slack work look taut."
    )


def _loggers(museum: Museum) -> RecordPart:
    now = museum.clock()
    names = {room.room: room.name for room in rooms(museum.stores.register)}
    here = {
        one.logger: one
        for one in placements(museum.stores.register)
        if (one.from_utc is None or one.from_utc <= now)
        and (one.to_utc is None or one.to_utc > now)
    }
    entries = []
    for one in loggers(museum.stores.register):
        hung = here.get(one.logger)
        where = f"{names[hung.room]}, {hung.place}" if hung else "nowhere"
        room = hung.room if hung else next(iter(names), "")
        correct = links.room_record(room, "instrument", was_logger=one.logger) if room else ""
        told = [Fact("Hangs", where), *facts(LOGGER, values_of(one), museum.zone)]
        entries.append(Entry(one.logger, told, correct))
    return RecordPart("The loggers", entries, "No logger is written down yet.")


def _differences(museum: Museum, check: SideBySide) -> list[Fact]:
    """Return how far two loggers differ by their readings of the time they hung together."""
    readings = museum.stores.readings
    both = [
        readings.load(name, check.from_utc, check.to_utc) for name in (check.other, check.logger)
    ]
    found = []
    for column, (label, unit) in UNITS.items():
        try:
            told = agreement(both[0], both[1], column)
        except StilltautError as problem:
            found.append(Fact(label, f"cannot be compared: found {problem.found}", False))
            continue
        middle, low, high = (f"{value:+.1f}" for value in (told.bias, told.low, told.high))
        words = f"{check.logger} reads {middle} {unit} against {check.other} ({low} to {high})"
        found.append(Fact(label, words))
    return found
