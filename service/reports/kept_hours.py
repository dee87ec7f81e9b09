"""The hours of a room's works over a report's dates, kept on disk while what they rest on holds.

A past that is asked for again, after a start or by another process, is not worked out again. What
was seen of the works is no part of it: that is read from the register each time.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from analysis.records.inspection_records import Inspection
from analysis.results import Listing
from service.answers.kept_answers import newest_change, on_record
from service.answers.museum import Museum
from service.estimates.fingerprints import program
from service.storage.results import Result

KEEP_DATES = 12  # of each room, the dates that were worked out last


@dataclass(frozen=True)
class Spell:
    """A run of hours in which waves were likelier than not, and the room in which it began."""

    room: str
    since_utc: datetime
    hours: int


@dataclass(frozen=True)
class WorkHours:
    """One work over the dates.

    Parameters
    ----------
    listing, asked : Listing, bool
        In which list it stands at the end of the dates (``at_utc``), or now where they are not
        over, and whether its last look asks for something.
    look_again_utc : datetime or None
        When to look again at the latest, told at that hour.
    order_key : tuple of float
        Its place in the order of need.
    room : str
        Where it hangs then; "" where it hangs nowhere.
    told_h, untold_h : int
        Hours in the house of which something can be told, and of which nothing can.
    highest : float
        Highest chance of waves at any told hour; NaN where none is told.
    looks : sequence of Inspection
        What was seen within the dates, oldest first.
    before : Inspection or None
        The last look before them.
    """

    work_id: str
    title: str
    listing: Listing
    asked: bool
    at_utc: datetime
    look_again_utc: datetime | None
    order_key: tuple[float, ...]
    room: str
    told_h: int
    untold_h: int
    highest: float
    spells: Sequence[Spell]
    looks: Sequence[Inspection] = ()
    before: Inspection | None = None

    @property
    def waves_h(self) -> int:
        """Hours in which waves were likelier than not."""
        return sum(one.hours for one in self.spells)


def kept_hours(
    museum: Museum,
    room_id: str,
    start_utc: datetime,
    end_utc: datetime,
    make: Callable[[], list[WorkHours]],
) -> list[WorkHours]:
    """Return the hours of a room's works, from disk where nothing has changed since they were made.

    They hold while the room, its works and all rooms they hung in are as they were (by the numbers
    of `service.storage.versions`), and the calculation is the same. After an older register was
    put back the numbers are given out again: so the change that was newest when they were made
    must still be on record.
    """
    results, name, inputs = museum.stores.results, f"hours over dates/{room_id}", program()
    rests_on = _rests_on(museum, room_id, end_utc)
    dates = f"{start_utc.isoformat()}/{end_utc.isoformat()}"
    kept = results.load(name, inputs)
    found = None if kept is None else kept.facts.get(dates)
    if found is not None and found["rests on"] == rests_on and on_record(museum, found["after"]):
        return [_from_plain(one) for one in found["works"]]
    after = newest_change(museum)
    made = make()
    with museum.stores.register.one_moment():  # as it is now, not as it was for who asks
        still = _rests_on(museum, room_id, end_utc) == rests_on
    if made and still:
        works = [_plain(one) for one in made]
        others = dict(() if kept is None else kept.facts)
        others.pop(dates, None)
        latest = list(others.items())[1 - KEEP_DATES :]
        line = {"rests on": rests_on, "after": after, "works": works}
        results.save(name, inputs, Result(facts={**dict(latest), dates: line}))
    return made


def _plain(one: WorkHours) -> dict[str, Any]:
    """Return the hours of a work as values that can stand in JSON, without what was seen of it."""
    again = one.look_again_utc
    return {
        **{name: value for name, value in vars(one).items() if name not in ("looks", "before")},
        "at_utc": one.at_utc.isoformat(),
        "look_again_utc": None if again is None else again.isoformat(),
        "spells": [asdict(s) | {"since_utc": s.since_utc.isoformat()} for s in one.spells],
    }


def _from_plain(kept: Mapping[str, Any]) -> WorkHours:
    again = kept["look_again_utc"]
    spells = [
        Spell(s["room"], datetime.fromisoformat(s["since_utc"]), s["hours"]) for s in kept["spells"]
    ]
    read: dict[str, Any] = {
        "listing": Listing(kept["listing"]),
        "at_utc": datetime.fromisoformat(kept["at_utc"]),
        "look_again_utc": None if again is None else datetime.fromisoformat(again),
        "order_key": tuple(kept["order_key"]),
        "spells": spells,
    }
    return WorkHours(**{**kept, **read})


def _rests_on(museum: Museum, room_id: str, end_utc: datetime) -> list[Any]:
    """Return what a room's hours rest on, as it comes back from JSON."""
    rooms, works = museum.concerned(room_id, end_utc)
    stamp = museum.versions().stamp(rooms=rooms, works=works)
    present = end_utc == museum.now()
    return [[list(one) for one in stamp], present, museum.settings.draws]
