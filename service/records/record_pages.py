"""What the register knows of a work or a room, as pages."""

from collections.abc import Callable, Iterable, Sequence
from typing import Any

from dashboards import links
from dashboards.forms.form import Field
from dashboards.forms.record_fields import PRINT
from dashboards.forms.room_fields import LOGGER, ROOM
from dashboards.forms.stated_words import range_text
from dashboards.pages.mount_record import Fact, unknown_facts
from dashboards.pages.record_facts import change_words, facts, value_words
from dashboards.pages.register_lines import ChangeLine, Entry, RecordPart, StatedLine
from dashboards.pages.register_pages import RoomRecordPage, WorkRecordPage, WorksPage
from dashboards.text.parameters import STATED_WORDS as WORDS
from dashboards.text.wording import capital
from service.answers.museum import Museum
from service.records.entry_forms import WAS, entry_fields, was_of
from service.records.works_list import found_lines, list_answer, room_lines, work_lines
from service.register.record_nouns import OF_A_ROOM, OF_A_WORK, Noun
from service.storage import audit
from service.storage.audit import AuditLine
from service.storage.loggers import loggers, placements
from service.storage.places import bands, site_of
from service.storage.records import Dataclass, values_of
from service.storage.register_cells import text_of
from service.storage.works import Measured, WorkRecord, as_work, work_record

NO_LOGGER = "A logger that is new to the house is written down here first."
NO_DAY = "a day not known"
SAVED = {
    "written": "Written down. Thank you.",
    "taken-out": "Taken out. What it said stays in the record of changes.",
    "withdrawn": "Withdrawn: it no longer counts.",
}


def works_page(museum: Museum, search: str, saved: str) -> WorksPage:
    """Return the list of works that a search finds, and of all rooms."""
    every = work_lines(museum)
    found = found_lines(every, search)
    return WorksPage(
        answer=list_answer(len(found), len(every), search),
        search=search,
        works=found,
        rooms=room_lines(museum),
        saved=SAVED.get(saved, ""),
    )


def work_record_page(museum: Museum, work_id: str, saved: str) -> WorkRecordPage:
    """Return everything the register knows of one work."""
    register, zone = museum.stores.register, museum.zone
    record = work_record(register, work_id)
    now = as_work(record, museum.clock())
    held: dict[str, Sequence[Dataclass]] = {
        "mounting": record.mountings,
        "framing": record.framings,
        "hanging": record.hangings,
    }
    return WorkRecordPage(
        zone=zone,
        work_id=work_id,
        title=record.print.title,
        missing=[] if not record.mountings else unknown_facts(now, zone),
        print=facts(PRINT, values_of(record.print), zone),
        parts=[_work_part(museum, noun, work_id, held[noun.slug]) for noun in OF_A_WORK.values()],
        stated=stated_lines(record),
        changes=_changes(museum, audit.of_work(register, work_id), OF_A_WORK.values(), PRINT),
        saved=SAVED.get(saved, ""),
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
            *(_room_part(museum, noun, room_id, held[noun.slug]) for noun in OF_A_ROOM.values()),
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


def _work_part(museum: Museum, noun: Noun, work_id: str, held: Sequence[Dataclass]) -> RecordPart:
    def addresses(was: dict[str, str]) -> tuple[str, str]:
        slug = noun.slug
        return links.work_record(work_id, slug, **was), links.take_out(work_id, slug, **was)

    return _part(museum, noun, held, links.work_record(work_id, noun.slug), addresses)


def _room_part(museum: Museum, noun: Noun, room_id: str, held: Sequence[Dataclass]) -> RecordPart:
    def addresses(was: dict[str, str]) -> tuple[str, str]:
        slug = noun.slug
        return links.room_record(room_id, slug, **was), links.take_out_of_room(room_id, slug, **was)

    return _part(museum, noun, held, links.room_record(room_id, noun.slug), addresses)


def _instruments(museum: Museum, room_id: str, names: Sequence[str]) -> RecordPart:
    """Return the loggers that hang or hung in a room: what each is, and its clock."""
    known = {one.logger: one for one in loggers(museum.stores.register)}
    entries = [
        Entry(
            name,
            facts(LOGGER, values_of(known[name]), museum.zone),
            links.room_record(room_id, "instrument", **{f"{WAS}logger": name}),
        )
        for name in dict.fromkeys(names)
    ]
    add = links.room_record(room_id, "instrument")
    return RecordPart("The instruments", entries, NO_LOGGER, add, "Add a logger new to the house")


def _part(
    museum: Museum,
    noun: Noun,
    held: Sequence[Dataclass],
    add: str,
    addresses: Callable[[dict[str, str]], tuple[str, str]],
) -> RecordPart:
    """Return a part of a record, newest entry first."""
    fields = entry_fields(museum, noun)
    entries = []
    for values in map(values_of, reversed(held)):
        others = [one for one in fields if one.name not in (noun.since, noun.title)]
        correct, take_out = addresses(was_of(noun, values))
        heading = _heading(noun, fields, values, museum.zone)
        entries.append(Entry(heading, facts(others, values, museum.zone), correct, take_out))
    return RecordPart(noun.heading, entries, noun.none, add, f"Add {noun.one}")


def _heading(noun: Noun, fields: Sequence[Field], values: dict[str, Any], zone: str) -> str:
    """Return what an entry is, and since when: "North gallery, since Monday 2 March 2026"."""
    by_name = {one.name: one for one in fields}
    known = values.get(noun.since) is not None
    day = value_words(by_name[noun.since], values[noun.since], zone) if known else NO_DAY
    named = value_words(by_name[noun.title], values[noun.title], zone) if noun.title else ""
    return f"{named}, {noun.begins} {day}" if named else f"{noun.begins} {day}"


def _changes(
    museum: Museum, lines: Iterable[AuditLine], nouns: Iterable[Noun], itself: Sequence[Field]
) -> list[ChangeLine]:
    """Return changes in words; ``itself`` are the fields of the print or of the room."""
    asked = {noun.file: (noun.one, entry_fields(museum, noun)) for noun in nouns}
    asked |= {"works.csv": ("the print", PRINT), "rooms.csv": ("the room", tuple(itself))}
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
        return f"{capital(words)} withdrawn: {after['withdrawn']}."
    if {"value", "low", "high"} <= set(after):
        value = range_text(name, after["value"], after["low"], after["high"])
        return f"{capital(words)} stated: {value}."
    return f"{capital(words)}: changed."
