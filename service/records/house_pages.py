"""What concerns the whole house, as pages: its calendar, and how its instruments were checked."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from analysis.errors import StilltautError
from analysis.instruments.side_by_side import agreement
from analysis.records.house_records import CalendarEvent
from analysis.records.room_records import Logger, SideBySide
from dashboards import links
from dashboards.forms.form import YOUR_NAME
from dashboards.pages.record_facts import Fact, facts
from dashboards.pages.register_pages import Entry, FormPage, HousePage, RecordPart
from dashboards.text import wording
from dashboards.text.error_words import error_words
from dashboards.text.messages import N_, _
from service.answers.museum import Museum
from service.ingest.times.dateorder import ORDER, YEAR_FIRST
from service.records.entry_forms import BACK, WHY, form_of
from service.records.record_pages import LOGGER, SAVED, part_lines
from service.records.record_parts import CALIBRATION, EVENT, SIDE_BY_SIDE
from service.records.sent_forms import Texts, read_form
from service.storage.loggers import (
    calibrations,
    forget_choice,
    loggers,
    placements,
    remembered_choices,
    side_by_side,
)
from service.storage.places import calendar, rooms
from service.storage.records import values_of

A_YEAR = timedelta(days=366)
WORDS = {"rh_pct": "humidity", "temp_c": "temperature", "time": "time"}
UNITS = {"rh_pct": ("Humidity", "%RH"), "temp_c": ("Temperature", "°C")}


def calendar_page(museum: Museum, saved: str) -> HousePage:
    """Return what is planned and what was going on, the latest first."""
    every = calendar(museum.stores.register)
    return HousePage(
        question=_("What is planned, and what was going on?"),
        answer=_next_words(every, museum),
        parts=[
            replace(
                part_lines(museum, EVENT, "", every),
                heading=_("All that is written down, the latest first"),
            )
        ],
        tables=[("calendar", _("This as a table:"))],
        address=links.calendar(),
        saved=SAVED.get(saved, ""),
    )


def _next_words(every: Sequence[CalendarEvent], museum: Museum) -> str:
    now = museum.clock()
    on = [one for one in every if one.from_utc <= now and one.to_utc and one.to_utc > now]
    ahead = [one for one in every if one.from_utc > now]
    names = {room.room: room.name for room in rooms(museum.stores.register)}
    told = [
        _("Now, until {end}: {title}.", end=wording.when(e, museum.zone), title=one.title)
        for one, e in _ends(on)
    ]
    if ahead:
        first = ahead[0]
        where = names.get(first.room or "", _("the whole house"))
        at = wording.when(first.from_utc, museum.zone)
        told.append(_("Next, on {at}: {title}, {where}.", at=at, title=first.title, where=where))
    return " ".join(told) or _("Nothing is planned that anybody has written down.")


def _ends(every: Sequence[CalendarEvent]) -> list[tuple[CalendarEvent, datetime]]:
    return [(one, one.to_utc) for one in every if one.to_utc is not None]


def instruments_page(museum: Museum, saved: str) -> HousePage:
    """Return every logger, folded, with how it was checked, the last check first.

    What hung side by side stands with both.
    """
    register = museum.stores.register
    checked = part_lines(museum, CALIBRATION, "", calibrations(register))
    beside = part_lines(museum, SIDE_BY_SIDE, "", side_by_side(register))
    add = [
        RecordPart(one.heading, (), one.none, one.add, one.add_words)
        if not one.entries
        else RecordPart("", (), "", one.add, one.add_words)
        for one in (checked, beside)
    ]
    return HousePage(
        question=_("Can our loggers be trusted?"),
        answer=_checked_words(museum),
        parts=[*add, *_loggers(museum, checked.entries, beside.entries)],
        tables=[
            ("instruments", _("The loggers as a table:")),
            ("checks", _("Their checks:")),
            ("side-by-side", _("Side by side:")),
        ],
        address=links.instruments(),
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
        return _("No logger is written down yet.")
    return _(
        "{checked} of {loggers} checked against a reference within a year. One that reads off "
        "makes a slack work look taut.",
        checked=len(lately) or _("None"),
        loggers=wording.plural(len(every), "logger"),
    )


def _loggers(museum: Museum, checked: Sequence[Entry], beside: Sequence[Entry]) -> list[RecordPart]:
    """Return each logger as a part of its own: itself, its checks, how its files are read."""
    register = museum.stores.register
    layers = list(reversed(calibrations(register)))
    pairs = list(reversed(side_by_side(register)))
    ways = _ways(museum)
    parts = []
    for one in loggers(register):
        mine = [e for e, c in zip(checked, layers, strict=True) if c.logger == one.logger]
        both = [
            replace(e, facts=[*e.facts, *_differences(museum, c)])
            for e, c in zip(beside, pairs, strict=True)
            if one.logger in (c.logger, c.other)
        ]
        itself = _itself(museum, one)
        last = next((c.from_utc for c in layers if c.logger == one.logger and c.from_utc), None)
        entries = [itself, *mine, *both, *ways.get(one.logger, ())]
        short = _in_short(itself, last, museum.zone)
        anchor = links.anchor_of(one.logger)
        parts.append(RecordPart(one.shown, entries, folded=short, anchor=anchor))
    return parts


def _in_short(itself: Entry, last_check: datetime | None, zone: str) -> str:
    where = itself.facts[0].words
    if last_check is None:
        return _("{where}; no check is written down", where=where)
    day = wording.day_only(last_check, zone)
    return _("{where}; last checked on {day}", where=where, day=day)


def _itself(museum: Museum, one: Logger) -> Entry:
    """Return where a logger hangs, and what is written down of it."""
    now, register = museum.clock(), museum.stores.register
    names = {room.room: room.name for room in rooms(register)}
    here = [
        placed
        for placed in placements(register, one.logger)
        if (placed.from_utc is None or placed.from_utc <= now)
        and (placed.to_utc is None or placed.to_utc > now)
    ]
    where = f"{names[here[-1].room]}, {_(here[-1].place)}" if here else _("nowhere")
    room = here[-1].room if here else next(iter(names), "")
    correct = links.room_record(room, "instrument", was_logger=one.logger) if room else ""
    told = [Fact("Hangs", where), *facts(LOGGER, values_of(one), museum.zone)]
    return Entry(_("The logger"), told, correct)


def _ways(museum: Museum) -> dict[str, list[Entry]]:
    """Return how each logger's files are read since somebody confirmed it."""
    found = {}
    for name, (choice, confirmed, by) in remembered_choices(museum.stores.register).items():
        day = wording.day(confirmed, museum.zone)
        heading = _("How its files are read, confirmed on {confirmed}", confirmed=day)
        forget = links.forget_reading(name)
        by_whom = _("{heading} by {by}", heading=heading, by=by) if by else heading
        found[name] = [Entry(by_whom, way_facts(choice), "", forget)]
    return found


DAY_FIRST = {"True": N_("the day comes first"), "False": N_("the month comes first")}


def way_facts(choice: Mapping[str, Any]) -> list[Fact]:
    """Return what was confirmed of a logger's files, in words."""
    said = dict(choice["columns"])
    year_first = said.pop(ORDER, "") == YEAR_FIRST
    columns = [f"{WORDS.get(name, name)}: {column}" for name, column in said.items()]
    sensors = [
        _("{one} goes to {logger}", one=one, logger=logger)
        for one, logger in choice.get("sensors", {}).items()
    ]
    told = [
        (_("Columns"), wording.listed(columns)),
        (
            _("In dates such as 03/04"),
            _("the year comes first")
            if year_first
            else _(DAY_FIRST.get(str(choice.get("day_first")), "")),
        ),
        (_("Clock"), choice.get("zone") or ""),
        (_("Sensors"), wording.listed(sensors)),
    ]
    return [Fact(label, words) for label, words in told if words]


def forget_form(logger_id: str, sent: Texts, problems: Texts) -> FormPage:
    """Return the form that takes back how a logger's files are read."""
    return FormPage(
        question=_("Forget how the files of {logger_id} are read?", logger_id=logger_id),
        answer=_(
            "The next file of it is understood for itself, and asked about where it is unclear. "
            "Readings that have come in stay as they are; an upload that was read wrongly is "
            "taken back by its number under Bring in."
        ),
        form=form_of(
            (WHY,), sent, problems, action=links.forget_reading(logger_id), button=_("Forget it")
        ),
        notes=(),
        result=(),
        back=links.house_page("calibration"),
        back_words=_(BACK),
    )


def sent_forget(museum: Museum, logger_id: str, sent: Texts) -> FormPage | None:
    """Take back how a logger's files are read; the form again where something is wrong with it."""
    found = read_form((WHY, YOUR_NAME), sent, museum.zone)
    if found.problems:
        return forget_form(logger_id, sent, found.problems)
    why, who = str(found.values["why"]), str(found.values["who"])
    forget_choice(museum.stores.register, logger_id, why=why, by=who)
    return None


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
            found.append(
                Fact(
                    label,
                    _("cannot be compared: found {found}", found=error_words(problem.found)),
                    False,
                )
            )
            continue
        middle, low, high = (f"{value:+.1f}" for value in (told.bias, told.low, told.high))
        words = _(
            "{logger} reads {middle} {unit} against {other} ({low} to {high})",
            logger=check.logger,
            middle=middle,
            unit=unit,
            other=check.other,
            low=low,
            high=high,
        )
        found.append(Fact(label, words))
    return found
