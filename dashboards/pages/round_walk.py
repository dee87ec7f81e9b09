"""The round in walking order: room by room, look first within each, then by place on the walls."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analysis.results import Listing
from dashboards.lines import Choice, RoundLine
from dashboards.text.sentences import LISTINGS


@dataclass(frozen=True)
class RoundRoom:
    """One room of the round, its works list by list, each list in walking order."""

    room_id: str
    room_name: str
    lists: Sequence[tuple[Listing, Sequence[RoundLine]]]

    @property
    def first(self) -> int:
        """How many works are to be looked at first here."""
        return sum(len(lines) for which, lines in self.lists if which is Listing.LOOK_FIRST)


@dataclass(frozen=True)
class SavedLook:
    """What has just been written down, how it is taken back, and where to go next."""

    words: str
    undo: str
    next_work_id: str = ""
    next_words: str = ""
    caution: str = ""


def by_room(
    lists: Mapping[Listing, Sequence[RoundLine]], rooms: Sequence[Choice] = ()
) -> list[RoundRoom]:
    """Return the round room by room, in the order of the rooms, those without one last."""
    order = {choice.value: at for at, choice in enumerate(rooms)}
    found: dict[tuple[str, str], list[RoundLine]] = {}
    for line in (line for which in LISTINGS for line in lists.get(which, ())):
        found.setdefault((line.room_id, line.room_name), []).append(line)
    walked = sorted(found, key=lambda room: (order.get(room[0], len(order)), room[1]))
    return [RoundRoom(room_id, name, _lists(found[room_id, name])) for room_id, name in walked]


def in_order(
    lists: Mapping[Listing, Sequence[RoundLine]], rooms: Sequence[Choice] = ()
) -> list[RoundLine]:
    """Return every work of the round as it is walked."""
    return [
        line for room in by_room(lists, rooms) for _which, lines in room.lists for line in lines
    ]


def next_to_walk(lists: Mapping[Listing, Sequence[RoundLine]], work_id: str) -> RoundLine | None:
    """Return the next work to look at first after one, else the first of those; None: none."""
    walked = in_order(lists)
    at = next((n for n, line in enumerate(walked) if line.judgement.work_id == work_id), -1)
    first = [
        line
        for line in [*walked[at + 1 :], *walked[: max(at, 0)]]
        if line.judgement.listing is Listing.LOOK_FIRST and line.judgement.work_id != work_id
    ]
    return first[0] if first else None


def _lists(lines: Sequence[RoundLine]) -> list[tuple[Listing, Sequence[RoundLine]]]:
    walked = sorted(lines, key=lambda line: (place_key(line.place), line.judgement.order_key))
    by_list = [(which, [x for x in walked if x.judgement.listing is which]) for which in LISTINGS]
    return [(which, found) for which, found in by_list if found]


def place_key(place: str) -> tuple[bool, list[tuple[bool, int, str]]]:
    """Return what sorts places as people number them: 2 before 10, none last.

    Examples
    --------
    >>> sorted(["place 10", "", "place 2"], key=place_key)
    ['place 2', 'place 10', '']
    """
    parts = re.findall(r"\d+|\D+", place.casefold())
    return not place, [(not p.isdigit(), int(p) if p.isdigit() else 0, p) for p in parts]
