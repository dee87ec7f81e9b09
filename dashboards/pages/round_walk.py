"""The round in walking order: room by room, look first within each, then by place on the walls."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate

from analysis.results import Listing
from dashboards.lines import Choice, RoundLine
from dashboards.pages.long_list import Leaf, leaf_at, whole_groups
from dashboards.text.sentences import LISTINGS


@dataclass(frozen=True)
class RoundRoom:
    """One room of the round, its works list by list, each list in walking order."""

    room_id: str
    room_name: str
    lists: Sequence[tuple[Listing, Sequence[RoundLine]]]

    @property
    def many(self) -> int:
        """How many works there are here."""
        return sum(len(lines) for _which, lines in self.lists)

    @property
    def first(self) -> int:
        """How many works are to be looked at first here."""
        return sum(len(lines) for which, lines in self.lists if which is Listing.LOOK_FIRST)


@dataclass(frozen=True)
class SavedLook:
    """What has just been written down, how it is taken back, and where to go next.

    ``next_page`` is the address of the page that holds the next work, empty where it is this one.
    """

    words: str
    undo: str
    next_work_id: str = ""
    next_words: str = ""
    caution: str = ""
    next_page: str = ""


MOST_WORKS = 100  # of the round of a house on one page, by whole rooms


@dataclass(frozen=True)
class RoundPart:
    """The rooms of the round that one page shows, in walking order, and which part of it that is.

    ``first`` leads to every room of the house with works to look at first, where only a part of the
    rooms is shown.
    """

    rooms: Sequence[RoundRoom]
    leaf: Leaf
    first: Sequence[Choice] = ()

    def holds(self, work_id: str) -> bool:
        """Whether a work stands on this page."""
        return any(line.judgement.work_id == work_id for line in in_order(self.rooms))


def part_of_round(
    rooms: Sequence[RoundRoom],
    after: int,
    address: Callable[[int], str],
    of_room: Callable[[str], str],
    *,
    whole: bool = False,
) -> RoundPart:
    """Return the rooms of one page, whole rooms of about a hundred works; all where asked for."""
    sizes = [room.many for room in rooms]
    bounds = [0, sum(sizes)] if whole else whole_groups(sizes, MOST_WORKS)
    found = leaf_at(bounds, after, address)
    before = [0, *accumulate(sizes)]
    here = [
        room
        for room, start in zip(rooms, before, strict=False)
        if found.after <= start < found.until
    ]
    if len(here) == len(rooms):
        return RoundPart(here, found)
    first = [
        Choice(of_room(room.room_id) if room.room_id else "", f"{room.room_name} ({room.first})")
        for room in rooms
        if room.first
    ]
    return RoundPart(here, found, first)


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


def in_order(rooms: Sequence[RoundRoom]) -> list[RoundLine]:
    """Return every work of the round as it is walked."""
    return [line for room in rooms for _which, lines in room.lists for line in lines]


def next_to_walk(rooms: Sequence[RoundRoom], work_id: str) -> RoundLine | None:
    """Return the next work to look at first after one, else the first of those; None: none."""
    walked = in_order(rooms)
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
