"""The round: every work with where it hangs, how it was last seen, and what is said of it now."""

import json
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from textwrap import fill
from typing import Any

from analysis.records.inspection_records import TIGHT, Inspection
from analysis.records.room_records import Room
from analysis.results import Because, Judgement, Listing
from dashboards.lines import RoundLine
from dashboards.text import sentences, wording
from dashboards.text.judgement_text import condition, mend, reason
from dashboards.text.look_text import answered_words
from dashboards.text.messages import N_, _, way
from dashboards.text.presence_text import (
    last_answer_sentence,
    left_sentence,
    readings_sentence,
)
from dashboards.text.sentences import LISTINGS
from service.answers.as_json import as_plain
from service.answers.museum import Museum
from service.climate.presence import Presence
from service.estimates.assessments import Assessed
from service.storage.inspections import inspections
from service.storage.works import hangings_in

NOWHERE = N_("not hung")


LATELY = timedelta(days=7)  # a look is answered for so long


@dataclass(frozen=True)
class RoomRound:
    """One room of the round: what its readings reach to, and its works in order of need."""

    room: Room
    presence: Presence
    works: tuple[Assessed, ...]


@dataclass(frozen=True)
class Round:
    """All works at a time: by room; in crates and other houses; and those that hang nowhere."""

    now_utc: datetime
    rooms: tuple[RoomRound, ...]
    unplaced: tuple[Assessed, ...]
    away: tuple[RoomRound, ...] = ()

    @property
    def judgements(self) -> tuple[Judgement, ...]:
        """What is said of every work, in order of need."""
        here = [one for room in (*self.rooms, *self.away) for one in room.works]
        every = [*here, *self.unplaced]
        return tuple(sorted((one.judgement for one in every), key=lambda j: j.order_key))


def museum_round(
    museum: Museum,
    room_id: str | None = None,
    at_utc: datetime | None = None,
    tell: Callable[[str], None] | None = None,
) -> Round:
    """Return the round at a time (default: now), of one room or of the house.

    ``tell`` is told how far it is.

    A room is on it when it has readings or works. Works that hang nowhere stand on that of the
    house.
    """
    at = at_utc or museum.now()
    asked = museum.every_room() if room_id is None else (museum.room(room_id),)
    measured = {room.room for room in museum.rooms()}
    rooms, elsewhere = list[RoomRound](), list[RoomRound]()
    away = museum.away()
    each = museum.engine.ahead(lambda room: museum.told(room.room, at), asked)
    for number, room in enumerate(asked, 1):
        if tell is not None:
            tell(sentences.room_of_many(number, len(asked), room.name))
        works = next(each)
        if works or room.room in measured or room_id is not None:
            found = RoomRound(room, museum.presence(room.room, at), works)
            (elsewhere if room.room in away else rooms).append(found)
    unplaced = museum.unplaced(at) if room_id is None else ()
    return Round(at, tuple(rooms), unplaced, tuple(elsewhere))


def round_json(found: Round, zone: str) -> dict[str, Any]:
    """Return the round as values that can stand in JSON."""
    return {
        "now_utc": found.now_utc.isoformat(),
        "rooms": [_room_json(one, zone) for one in found.rooms],
        "away": [_room_json(one, zone) for one in found.away],
        "unplaced": [answered_json(one, zone) for one in found.unplaced],
    }


def round_as_sent(museum: Museum, found: Round) -> str:
    """Return `round_json` as text; works are worded once while all of their room is as it was."""

    def rooms(every: Sequence[RoomRound]) -> str:
        return "[" + ",".join(_room_as_sent(museum, one, found.now_utc) for one in every) + "]"

    unplaced = _text([answered_json(one, museum.zone) for one in found.unplaced])
    return (
        f'{{"now_utc":{_text(found.now_utc.isoformat())},"rooms":{rooms(found.rooms)},'
        f'"away":{rooms(found.away)},"unplaced":{unplaced}}}'
    )


def _room_as_sent(museum: Museum, one: RoomRound, at_utc: datetime) -> str:
    room, zone, now = one.room.room, museum.zone, museum.now()

    def make() -> str:
        return _text([answered_json(work, zone) for work in one.works])

    name = ("works as sent", room, at_utc, at_utc == now, zone, way())
    rooms, known = museum.concerned(room, at_utc)
    works = museum.cached(name, make, rooms=rooms, works=known)
    return f'{_text(_room_facts(one))[:-1]},"works":{works}}}'


def _text(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def _room_json(one: RoomRound, zone: str) -> dict[str, Any]:
    return _room_facts(one) | {"works": [answered_json(work, zone) for work in one.works]}


def _room_facts(one: RoomRound) -> dict[str, Any]:
    until = one.presence.known_until_utc
    due = one.presence.due_utc
    return {
        "room": one.room.room,
        "name": one.room.name,
        "known_until_utc": None if until is None else until.isoformat(),
        "current": one.presence.current,
        "rhythm": one.presence.rhythm.value,
        "due_utc": None if due is None else due.isoformat(),
    }


def answered_json(work: Assessed, zone: str) -> dict[str, Any]:
    """Return what is said of a work, and its last answer, as values that can stand in JSON."""
    return as_plain(work.judgement, zone) | {"last_answer": last_answer(work, zone)}


def round_lines(
    museum: Museum, at_utc: datetime, room_id: str | None = None
) -> Mapping[Listing, Sequence[RoundLine]]:
    """Return the lists at a time, of one room or of all, each in order of need.

    They are kept while nothing in the house has changed, as long as the hour lasts.
    """

    def make() -> dict[Listing, list[RoundLine]]:
        lines = sorted(_lines(museum, at_utc, room_id), key=lambda line: line.judgement.order_key)
        return {
            listing: [line for line in lines if line.judgement.listing is listing]
            for listing in LISTINGS
        }

    return museum.cached(("round lines", room_id, at_utc, at_utc == museum.now()), make)


def _lines(museum: Museum, at_utc: datetime, room_id: str | None) -> Iterator[RoundLine]:
    found = museum_round(museum, room_id, at_utc)
    last, said = _last_seen(museum, at_utc), _Saying(museum.zone, museum.clock())
    every = hangings_in(museum.stores.register, room_id)
    places = {(hung.room, hung.work_id): hung.position for hung in every}
    for one in found.rooms:
        for work in one.works:
            place = places.get((one.room.room, work.work.work_id), "")
            yield _line(said, work, (one.room.room, one.room.name, place), last)
    for one in found.away:
        for work in one.works:
            yield _line(said, work, (one.room.room, away_words(one.room.name), ""), last)
    for work in found.unplaced:
        yield _line(said, work, ("", _(NOWHERE), ""), last)


@dataclass(frozen=True)
class _Saying:
    """In which zone, and at what time, a line is worded."""

    zone: str
    clock_utc: datetime


def away_words(room_name: str) -> str:
    """Return where a work is that is in a crate or in another house."""
    return _("away: {room}", room=room_name)


def _line(
    said: _Saying, work: Assessed, where: tuple[str, str, str], last: Mapping[str, Inspection]
) -> RoundLine:
    judgement, (room_id, name, place) = work.judgement, where
    seen = last.get(judgement.work_id)
    return RoundLine(
        judgement=judgement,
        room_id=room_id,
        room_name=name,
        place=place,
        last_grade=None if seen is None else seen.grade,
        last_seen_utc=None if seen is None else seen.at_utc,
        last_released=None if seen is None else seen.released,
        at_its_edges=_at_its_edges(judgement),
        answered="" if seen is None else look_answered(seen, judgement, said.clock_utc),
        last_answer=last_answer(work, said.zone),
    )


def look_answered(seen: Inspection, judgement: Judgement, now_utc: datetime) -> str:
    """Return what a late look did to an estimate that had strongly said otherwise, or ""."""
    if seen.finding == TIGHT or now_utc - seen.at_utc > LATELY:
        return ""
    return answered_words(seen.grade, seen.estimate_p, judgement.p_visible_now)


def last_answer(work: Assessed, zone: str) -> str:
    """Return the last answer from readings, with its age, where none holds now; else ""."""
    now = work.judgement
    if work.left is not None:
        return left_sentence(
            work.left.room_name, work.left.at_utc, work.left.last, now.at_utc, zone
        )
    answered = now.listing is not Listing.CANNOT_TELL and not math.isnan(now.p_visible_now)
    if work.last is None or answered:
        return ""
    return last_answer_sentence(work.last, work.judgement.at_utc, zone)


def _at_its_edges(judgement: Judgement) -> bool:
    """Return whether hinges send people to a work: likely to give way, or found loose."""
    return bool({Because.LOOSE_HINGE, Because.HINGES} & set(judgement.because))


def _last_seen(museum: Museum, at_utc: datetime) -> dict[str, Inspection]:
    """Return each work's last inspection up to a time."""
    until = museum.seen_until(at_utc)
    every = inspections(museum.stores.register)
    return {one.work_id: one for one in every if one.at_utc <= until}


# The four lists as plain text, for the command line.

WIDTH = 96


def round_text(found: Round, zone: str) -> Iterator[str]:
    """Yield the lines of the lists, each work with its room and its reason."""
    every = found.judgements
    rooms = {one.judgement.work_id: room.room.name for room in found.rooms for one in room.works}
    for other in found.away:
        rooms |= {one.judgement.work_id: away_words(other.room.name) for one in other.works}
    every_room = (*found.rooms, *found.away)
    works = [*(one for room in every_room for one in room.works), *found.unplaced]
    last = {one.judgement.work_id: last_answer(one, zone) for one in works}
    yield _("As of {now_utc}", now_utc=wording.date_time(found.now_utc, zone))
    if not any(room.presence.known_until_utc for room in found.rooms):
        yield _("No readings yet: add a logger's file first (stilltaut add).")
    yield fill(sentences.round_sentence(every, zone), WIDTH)
    yield from _old_rooms(found, zone)
    for listing in sentences.LISTINGS:
        listed = [j for j in every if j.listing is listing]
        if listed:
            yield ""
            yield f"{_(listing.value).upper()} ({len(listed)})"
        for judgement in listed:
            room = rooms.get(judgement.work_id, _(NOWHERE))
            yield from _list_lines(judgement, room, zone, last[judgement.work_id])
    yield ""
    yield fill(_(sentences.CAUTION), WIDTH)


def _old_rooms(found: Round, zone: str) -> Iterator[str]:
    """Yield a line for each room whose readings have stopped, or are not there."""
    for one in found.rooms:
        here = one.presence
        said = readings_sentence(
            here.known_until_utc, found.now_utc, zone, current=here.current, due=False
        )
        if said:
            yield fill(f"{one.room.name}: {said}", WIDTH)


def _list_lines(judgement: Judgement, room: str, zone: str, last: str) -> Iterator[str]:
    yield f"  {judgement.work_id}  {judgement.title} ({room}): {_(judgement.state.value)}"
    said = [reason(judgement, zone), condition(judgement, zone), mend(judgement), last]
    text = " ".join(part for part in said if part)
    yield fill(text, WIDTH, initial_indent="      ", subsequent_indent="      ")
