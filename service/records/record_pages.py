"""What the register knows of a work or a room, as pages."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from analysis.records import REGISTER, Field
from analysis.records.cells import text_of
from analysis.records.inspection_records import Measured
from analysis.records.room_records import Place, Placement
from analysis.records.work_records import Hanging, Print
from dashboards import links
from dashboards.forms.stated_words import range_text
from dashboards.pages.long_list import leaf
from dashboards.pages.record_facts import Fact, change_words, facts, unknown_facts, value_words
from dashboards.pages.register_pages import (
    ChangeLine,
    Entry,
    RecordPart,
    RoomLine,
    RoomRecordPage,
    StatedLine,
    WorkLine,
    WorkRecordPage,
    WorksPage,
)
from dashboards.text.messages import N_, Worded, _
from dashboards.text.parameters import STATED_WORDS as WORDS
from dashboards.text.refusal_text import problem_sentence
from dashboards.text.wording import capital, plural
from service.answers.museum import Museum
from service.estimates.record_problems import RecordProblem, phases_or_problem
from service.records.entry_forms import (
    WAS,
    address_of,
    asked_fields,
    take_out_address,
    was_of,
)
from service.records.record_parts import OF_A_ROOM, OF_A_WORK, Part
from service.storage import audit
from service.storage.audit import AuditLine
from service.storage.inspections import inspections
from service.storage.loggers import loggers, placements
from service.storage.places import bands, site_of
from service.storage.records import Dataclass, values_of
from service.storage.works import WorkRecord, hangings_in, prints, work_record

PRINT = REGISTER["works.csv"].asked("work_id")


ROOM = REGISTER["rooms.csv"].asked("room", "site")


LOGGER = REGISTER["loggers.csv"].asked("logger")


NO_LOGGER = N_("A logger that is new to the house is written down here first.")


NO_DAY = N_("a day not known")


SAVED = Worded(
    {
        "written": N_("Written down. Thank you."),
        "taken-out": N_("Taken out. What it said stays in the record of changes."),
        "withdrawn": N_("Withdrawn: it no longer counts."),
    }
)


def works_page(museum: Museum, search: str, saved: str, after: int = 0) -> WorksPage:
    """Return a part of the list of works that a search finds, and all rooms."""
    every = work_lines(museum)
    found = found_lines(every, search)
    part = leaf(len(found), after, lambda passed: links.works(search, passed))
    return WorksPage(
        answer=list_answer(len(found), len(every), search),
        search=search,
        works=with_judgements(museum, found[part.after : part.until]),
        rooms=room_lines(museum),
        saved=SAVED.get(saved, ""),
        part=part,
    )


def work_record_page(museum: Museum, work_id: str, saved: str) -> WorkRecordPage:
    """Return everything the register knows of one work."""
    register, zone = museum.stores.register, museum.zone
    record = work_record(register, work_id)
    found = phases_or_problem(record, inspections(register, work_id), museum.clock())
    known = () if isinstance(found, RecordProblem) else found[:1]
    missing = [one for work in known if record.mountings for one in unknown_facts(work, zone)]
    held: dict[str, Sequence[Dataclass]] = {
        "mounting": record.mountings,
        "framing": record.framings,
        "hanging": record.hangings,
    }
    return WorkRecordPage(
        zone=zone,
        work_id=work_id,
        title=record.print.title,
        missing=missing,
        print=facts(PRINT, values_of(record.print), zone),
        parts=[part_lines(museum, one, work_id, held[one.slug]) for one in OF_A_WORK.values()],
        stated=stated_lines(record),
        changes=_changes(museum, audit.of_work(register, work_id), OF_A_WORK.values(), PRINT),
        saved=SAVED.get(saved, ""),
        problem=problem_sentence(found.words) if isinstance(found, RecordProblem) else "",
    )


def room_record_page(museum: Museum, room_id: str, saved: str) -> RoomRecordPage:
    """Return everything the register knows of one room."""
    register, zone = museum.stores.register, museum.zone
    room, house = museum.room(room_id), site_of(register, room_id)
    hung = [one for one in placements(register) if one.room == room_id]
    held: dict[str, Sequence[Dataclass]] = {"logger": hung, "band": bands(register, room_id)}
    house_fact = Fact("House", f"{house.name}, {house.zone}")
    measured = next(line.measured for line in room_lines(museum) if line.room_id == room_id)
    return RoomRecordPage(
        zone=zone,
        room_id=room_id,
        room_name=room.name,
        facts=[*facts(ROOM, values_of(room), zone), house_fact],
        parts=[
            *(part_lines(museum, one, room_id, held[one.slug]) for one in OF_A_ROOM.values()),
            _instruments(museum, room_id, [one.logger for one in hung]),
        ],
        measured=measured,
        changes=_changes(museum, audit.of_room(register, room_id), OF_A_ROOM.values(), ROOM),
        saved=SAVED.get(saved, ""),
    )


def stated_lines(record: WorkRecord) -> list[StatedLine]:
    """Return the numbers stated of a work, newest first, those withdrawn last."""
    newest = record.measured[::-1]
    counting = [one for one in newest if not one.withdrawn]
    return [_stated(one) for one in (*counting, *(one for one in newest if one.withdrawn))]


def _stated(one: Measured) -> StatedLine:
    was = text_of(one.from_utc)
    return StatedLine(
        words=capital(WORDS.get(one.name, one.name)),
        value=range_text(one.name, one.value, one.low, one.high),
        origin=one.origin,
        since_utc=one.from_utc,
        withdrawn=one.withdrawn,
        withdrawn_utc=one.withdrawn_utc,
        correct="" if one.withdrawn else links.correct_measured(one.work_id, one.name, was),
        withdraw="" if one.withdrawn else links.withdraw_measured(one.work_id, one.name, was),
    )


def _instruments(museum: Museum, room_id: str, names: Sequence[str]) -> RecordPart:
    """Return the loggers that hang or hung in a room: what each is, and its clock."""
    known = {one.logger: one for one in loggers(museum.stores.register)}
    entries = [
        Entry(
            known[name].shown,
            facts(LOGGER, values_of(known[name]), museum.zone),
            links.room_record(room_id, "instrument", **{f"{WAS}logger": name}),
        )
        for name in dict.fromkeys(names)
    ]
    add = links.room_record(room_id, "instrument")
    return RecordPart(
        _("The instruments"), entries, _(NO_LOGGER), add, _("Add a logger new to the house")
    )


def part_lines(museum: Museum, part: Part, owner: str, held: Sequence[Dataclass]) -> RecordPart:
    """Return a part of a record, newest entry first."""
    fields = asked_fields(museum, part)
    entries = []
    for values in map(values_of, reversed(held)):
        others = [one for one in fields if one.name not in (part.since, part.title)]
        was = was_of(part, values)
        entries.append(
            Entry(
                _heading(part, fields, values, museum.zone),
                facts(others, values, museum.zone),
                address_of(part, owner, **was),
                take_out_address(part, owner, **was),
            )
        )
    add = address_of(part, owner)
    return RecordPart(
        _(part.heading), entries, _(part.none), add, _("Add {what}", what=_(part.one))
    )


def _heading(part: Part, fields: Sequence[Field], values: dict[str, Any], zone: str) -> str:
    """Return what an entry is, and since when: "North gallery, since Monday 2 March 2026"."""
    by_name = {one.name: one for one in fields}
    known = values.get(part.since) is not None
    day = value_words(by_name[part.since], values[part.since], zone) if known else _(NO_DAY)
    named = value_words(by_name[part.title], values[part.title], zone) if part.title else ""
    begins = _(part.begins)
    return f"{named}, {begins} {day}" if named else f"{begins} {day}"


def _changes(
    museum: Museum, lines: Iterable[AuditLine], parts: Iterable[Part], itself: Sequence[Field]
) -> list[ChangeLine]:
    """Return changes in words; ``itself`` are the fields of the print or of the room."""
    asked = {part.file: (part.one, asked_fields(museum, part)) for part in parts}
    asked |= {
        "works.csv": (N_("the print"), PRINT),
        "rooms.csv": (N_("the room"), tuple(itself)),
    }
    told = []
    for line in lines:
        one, fields = asked.get(f"{line.what}.csv", ("", ()))
        words = (
            change_words(one, fields, line.before, line.after, museum.zone)
            if one
            else _stated_change(line)
        )
        told.append(ChangeLine(line.at_utc, line.by, words))
    return told


def _stated_change(line: AuditLine) -> str:
    name = dict(part.split("=", 1) for part in line.key.split(", ") if "=" in part)["name"]
    after, words = line.after or {}, WORDS.get(name, name)
    if after.get("withdrawn"):
        return _("{what} withdrawn: {why}.", what=capital(words), why=after["withdrawn"])
    if {"value", "low", "high"} <= set(after):
        value = range_text(name, after["value"], after["low"], after["high"])
        return _("{what} stated: {value}.", what=capital(words), value=value)
    return _("{what}: changed.", what=capital(words))


# All works and rooms: where each hangs, and how it was last judged, without judging anew.

WAITING = N_("being judged")


NOWHERE = N_("hangs nowhere")


NO_READINGS = N_("no readings yet")


def work_lines(museum: Museum) -> tuple[WorkLine, ...]:
    """Return all works, by number, with where they hang."""
    hung = _hung(museum)
    names = {room.room: room.name for room in museum.every_room()}
    return tuple(_line(one, hung, names) for one in prints(museum.stores.register))


def with_judgements(museum: Museum, lines: Sequence[WorkLine]) -> tuple[WorkLine, ...]:
    """Return works with the judgements that are at hand already, or why there is none."""
    rooms = dict.fromkeys(line.room_id for line in lines if line.room_id)
    every = [one.judgement for room in rooms for one in museum.assessed_before(room)]
    known = {one.work_id: one for one in every}
    none = _(WAITING) if museum.first() else _(NO_READINGS)
    return tuple(
        replace(line, judgement=judged, words="" if judged else none) if line.room_id else line
        for line, judged in ((line, known.get(line.work_id)) for line in lines)
    )


def found_lines(every: Sequence[WorkLine], search: str) -> tuple[WorkLine, ...]:
    """Return the works whose number, title or room holds every word that is searched for."""
    words = search.casefold().split()
    return tuple(line for line in every if all(word in _text(line) for word in words))


def waiting(lines: Sequence[WorkLine]) -> bool:
    """Return whether a work waits for its judgement."""
    return any(line.words == _(WAITING) for line in lines)


def room_lines(museum: Museum) -> tuple[RoomLine, ...]:
    """Return every room, and how many loggers hang there."""
    now = museum.clock()
    every = museum.placements()
    filled = set(museum.stores.readings.loggers())
    measured = {p.room for p in every if p.place == Place.ROOM_AIR and p.logger in filled}
    here = [p for p in every if p.to_utc is None or p.to_utc > now]
    return tuple(
        RoomLine(room.room, room.name, _loggers_words(here, room.room), room.room in measured)
        for room in museum.every_room()
    )


def list_answer(found: int, every: int, search: str) -> str:
    """Return how many works there are, in one sentence."""
    if not every:
        return _("No work is written down yet. A room and its logger come first, then the works.")
    if search:
        return _(
            "{capitalize} of {every} found for “{search}”.",
            capitalize=plural(found, "work").capitalize(),
            every=every,
            search=search,
        )
    works = plural(every, "work").capitalize()
    return _("{works}. A title leads to how the work is, a number to its record.", works=works)


def _hung(museum: Museum) -> dict[str, Hanging]:
    now = museum.clock()
    every = hangings_in(museum.stores.register, None, now)
    return {one.work_id: one for one in every if one.from_utc is None or one.from_utc <= now}


def _line(sheet: Print, hung: Mapping[str, Hanging], names: Mapping[str, str]) -> WorkLine:
    here = hung.get(sheet.work_id)
    if here is None:
        return WorkLine(sheet.work_id, sheet.title, words=_(NOWHERE))
    return WorkLine(sheet.work_id, sheet.title, here.room, names[here.room])


def _text(line: WorkLine) -> str:
    return f"{line.work_id} {line.title} {line.room_name}".casefold()


def _loggers_words(here: Sequence[Placement], room: str) -> str:
    many = sum(one.room == room for one in here)
    return plural(many, "logger")
