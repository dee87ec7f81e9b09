"""The hours of every work over a report's dates: how long waves were likelier than not, and where.

All figures are those of the estimate that judges works everywhere else, up to the last reading of
the room; later hours, and those that are refused, are counted as hours of which nothing is told.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import numpy.typing as npt

from analysis.records.inspection_records import Inspection
from analysis.records.work_records import Hanging
from analysis.results import History, Judgement
from analysis.simulation.checkpoints import instant
from service.answers.museum import Museum
from service.answers.rounds import museum_round
from service.climate.room_readings import A_MOMENT, full_hour
from service.estimates.assessments import Assessed
from service.estimates.hanging_history import HOUR
from service.storage.inspections import inspections
from service.storage.works import work_records

HALF = 0.5
Marks = npt.NDArray[np.bool_]


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
    judgement : Judgement
        At the end of the dates, or now where they are not over.
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

    judgement: Judgement
    room: str
    told_h: int
    untold_h: int
    highest: float
    spells: Sequence[Spell]
    looks: Sequence[Inspection]
    before: Inspection | None = None

    @property
    def waves_h(self) -> int:
        """Hours in which waves were likelier than not."""
        return sum(one.hours for one in self.spells)


def works_hours(museum: Museum, start_utc: datetime, end_utc: datetime) -> tuple[WorkHours, ...]:
    """Return every work that hung in the house on some of the dates, in order of need."""
    over = _Over(museum, start_utc, min(full_hour(end_utc), museum.now()), end_utc)
    detailed = {one.work.work_id: one for one in museum.assessed_over(over.end, start_utc)}
    found = []
    walked = museum_round(museum, at_utc=over.end)
    for room in (*walked.rooms, *walked.away):
        for one in room.works:
            found.append(over.hours(one, detailed.get(one.work.work_id, one), room.room.room))
    for one in museum.unplaced(over.end):
        left = one.left
        if left is not None and left.at_utc > start_utc:
            gone = full_hour(left.at_utc - A_MOMENT)
            then = next(iter(museum.assessed_over(gone, start_utc, [one.work.work_id])), one)
            found.append(over.hours(one, then, ""))
    return tuple(sorted(found, key=lambda one: one.judgement.order_key))


class _Over:
    """The dates, and what the register holds of every work over them."""

    def __init__(
        self, museum: Museum, start_utc: datetime, end_utc: datetime, seen_until: datetime
    ) -> None:
        self.start, self.end = start_utc, end_utc
        self._records = work_records(museum.stores.register)
        self._seen: dict[str, list[Inspection]] = {}
        for one in inspections(museum.stores.register):
            if one.at_utc < seen_until:
                self._seen.setdefault(one.work_id, []).append(one)

    def hours(self, judged: Assessed, detailed: Assessed, room: str) -> WorkHours:
        """Return one work over the dates; ``detailed`` has its hours."""
        stays = self._records[judged.work.work_id].hangings
        told_h, highest, spells = 0, float("nan"), list[Spell]()
        if detailed.history is not None and detailed.known_until_utc is not None:
            last = min(self.end, detailed.known_until_utc)
            told_h, highest = _told(detailed.history, self.start, last)
            spells = list(_spells(detailed.history, self.start, last, stays))
        looks = self._seen.get(judged.work.work_id, [])
        before = [one for one in looks if one.at_utc < self.start]
        return WorkHours(
            judgement=judged.judgement,
            room=room,
            told_h=told_h,
            untold_h=max(0, sum(_within(one, self.start, self.end) for one in stays) - told_h),
            highest=highest,
            spells=spells,
            looks=[one for one in looks if one.at_utc >= self.start],
            before=before[-1] if before else None,
        )


def _within(stay: Hanging, start_utc: datetime, end_utc: datetime) -> int:
    """Return how many hours of the dates a work hung somewhere."""
    begin = start_utc if stay.from_utc is None else max(start_utc, stay.from_utc)
    end = end_utc if stay.to_utc is None else min(end_utc, stay.to_utc)
    return max(0, int((end - begin) / HOUR))


def _marks(history: History, start_utc: datetime, last_utc: datetime) -> Marks:
    """Mark the hours within the dates of which something is told."""
    first, last = (np.datetime64(int(t.timestamp()), "s") for t in (start_utc, last_utc))
    times = history.time_utc.astype("datetime64[s]")
    inside = (times > first) & (times <= last)
    return np.asarray(inside & (history.refused == "") & np.isfinite(history.p_visible))


def _told(history: History, start_utc: datetime, last_utc: datetime) -> tuple[int, float]:
    told = _marks(history, start_utc, last_utc)
    chances = history.p_visible[told]
    return len(chances), float(chances.max()) if len(chances) else float("nan")


def _spells(
    history: History, start_utc: datetime, last_utc: datetime, stays: Sequence[Hanging]
) -> Iterator[Spell]:
    shown = _marks(history, start_utc, last_utc) & (history.p_visible > HALF)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], shown.astype(int), [0]])))
    for first, after in zip(edges[::2], edges[1::2], strict=True):
        since = instant(history.time_utc[first])
        yield Spell(_room_at(stays, since), since, int(after - first))


def _room_at(stays: Sequence[Hanging], at_utc: datetime) -> str:
    """Return where a work hung at an hour."""
    begun = [one for one in stays if one.from_utc is None or one.from_utc <= at_utc]
    return begun[-1].room if begun else ""
