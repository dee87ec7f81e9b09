"""The hours of every work over a report's dates: how long waves were likelier than not, and where.

All figures are those of the estimate that judges works everywhere else, up to the last reading of
the room; later hours, and those that are refused, are counted as hours of which nothing is told.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime

import numpy as np
import numpy.typing as npt

from analysis.records.inspection_records import Inspection
from analysis.records.work_records import Hanging
from analysis.results import History
from analysis.simulation.checkpoints import instant
from service.answers.museum import Museum
from service.climate.room_readings import A_MOMENT, full_hour
from service.estimates.assessments import Assessed
from service.estimates.hanging_history import HOUR
from service.reports.kept_hours import Spell, WorkHours, kept_hours
from service.storage.inspections import inspections
from service.storage.works import work_records

HALF = 0.5
Marks = npt.NDArray[np.bool_]


def works_hours(museum: Museum, start_utc: datetime, end_utc: datetime) -> tuple[WorkHours, ...]:
    """Return every work that hung in the house on some of the dates, in order of need."""
    over = _Over(museum, start_utc, min(full_hour(end_utc), museum.now()))
    found = [one for room in museum.every_room() for one in over.room(room.room)]
    found += over.gone()
    looks = _looks(museum, end_utc)
    seen = (_seen(one, looks.get(one.work_id, []), start_utc) for one in found)
    return tuple(sorted(seen, key=lambda one: one.order_key))


class _Over:
    """The hours of the dates, and what the register holds of every work over them."""

    def __init__(self, museum: Museum, start_utc: datetime, end_utc: datetime) -> None:
        self.museum, self.start, self.end = museum, start_utc, end_utc
        self._records = work_records(museum.stores.register)

    def room(self, room_id: str) -> Sequence[WorkHours]:
        """Return the works that hang in a room at the end, from disk while they hold."""

        def make() -> list[WorkHours]:
            judged = self.museum.room_over(room_id, self.end, self.end - self.start)
            return [self._hours(one, one, room_id) for one in judged]

        return kept_hours(self.museum, room_id, self.start, self.end, make)

    def gone(self) -> Iterator[WorkHours]:
        """Yield the works that hang nowhere at the end, and left within the dates."""
        for one in self.museum.unplaced(self.end):
            left = one.left
            if left is not None and left.at_utc > self.start:
                gone, names = full_hour(left.at_utc - A_MOMENT), [one.work.work_id]
                then = next(iter(self.museum.assessed_over(gone, self.start, names)), one)
                yield self._hours(one, then, "")

    def _hours(self, judged: Assessed, detailed: Assessed, room: str) -> WorkHours:
        """Return one work over the dates; ``detailed`` has its hours."""
        stays = self._records[judged.work.work_id].hangings
        told_h, highest, spells = 0, float("nan"), list[Spell]()
        if detailed.history is not None and detailed.known_until_utc is not None:
            last = min(self.end, detailed.known_until_utc)
            told_h, highest = _told(detailed.history, self.start, last)
            spells = list(_spells(detailed.history, self.start, last, stays))
        found = judged.judgement
        return WorkHours(
            work_id=found.work_id,
            title=found.title,
            listing=found.listing,
            asked=found.asks is not None,
            at_utc=found.at_utc,
            look_again_utc=found.look_again_utc,
            order_key=found.order_key,
            room=room,
            told_h=told_h,
            untold_h=max(0, sum(_within(one, self.start, self.end) for one in stays) - told_h),
            highest=highest,
            spells=spells,
        )


def _looks(museum: Museum, until_utc: datetime) -> dict[str, list[Inspection]]:
    """Return what was seen of each work before a time, oldest first."""
    found: dict[str, list[Inspection]] = {}
    for one in inspections(museum.stores.register):
        if one.at_utc < until_utc:
            found.setdefault(one.work_id, []).append(one)
    return found


def _seen(hours: WorkHours, looks: Sequence[Inspection], start_utc: datetime) -> WorkHours:
    """Return the hours of a work with what was seen of it within the dates, and before them."""
    before = [one for one in looks if one.at_utc < start_utc]
    within = [one for one in looks if one.at_utc >= start_utc]
    return replace(hours, looks=within, before=before[-1] if before else None)


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
