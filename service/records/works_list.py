"""All works and rooms: where each hangs, and how it was last judged, without judging anew."""

from collections.abc import Iterable, Mapping, Sequence

from analysis.records.room_records import Place, Placement
from analysis.records.work_records import Hanging, Print
from analysis.results import Judgement
from dashboards.pages.register_lines import RoomLine, WorkLine
from dashboards.text.messages import _
from dashboards.text.wording import plural
from service.answers.museum import Museum
from service.storage.works import hangings_in, prints

WAITING = "being judged"
NOWHERE = "hangs nowhere"
NO_READINGS = "no readings yet"


def work_lines(museum: Museum) -> tuple[WorkLine, ...]:
    """Return all works, by number."""
    hung = _hung(museum)
    names = {room.room: room.name for room in museum.every_room()}
    known = _cached_judgements(museum, names)
    none = WAITING if museum.first() else NO_READINGS
    every = prints(museum.stores.register)
    return tuple(_line(one, hung, names, known, none) for one in every)


def found_lines(every: Sequence[WorkLine], search: str) -> tuple[WorkLine, ...]:
    """Return the works whose number, title or room holds every word that is searched for."""
    words = search.casefold().split()
    return tuple(line for line in every if all(word in _text(line) for word in words))


def waiting(lines: Sequence[WorkLine]) -> bool:
    """Return whether a work waits for its judgement."""
    return any(line.words == WAITING for line in lines)


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
    rooms = [room.room for room in museum.every_room()]
    every = [one for room in rooms for one in hangings_in(museum.stores.register, room, now)]
    return {one.work_id: one for one in every if one.from_utc is None or one.from_utc <= now}


def _line(
    sheet: Print,
    hung: Mapping[str, Hanging],
    names: Mapping[str, str],
    known: Mapping[str, Judgement],
    none: str,
) -> WorkLine:
    here = hung.get(sheet.work_id)
    if here is None:
        return WorkLine(sheet.work_id, sheet.title, words=NOWHERE)
    judged = known.get(sheet.work_id)
    words = "" if judged else none
    return WorkLine(sheet.work_id, sheet.title, here.room, names[here.room], judged, words)


def _cached_judgements(museum: Museum, rooms: Iterable[str]) -> dict[str, Judgement]:
    """Return the judgements that are at hand already, by work."""
    every = [one for room in rooms for one in museum.assessed_before(room)]
    return {one.judgement.work_id: one.judgement for one in every}


def _text(line: WorkLine) -> str:
    return f"{line.work_id} {line.title} {line.room_name}".casefold()


def _loggers_words(here: Sequence[Placement], room: str) -> str:
    many = sum(one.room == room for one in here)
    return plural(many, "logger")
