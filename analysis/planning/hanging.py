"""Where to hang: what a room's last year would have been to works on each wall of it.

The table of works by walls is sorted, from the best place to the worst.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from analysis.air.room_air import RoomAir
from analysis.answers.judgement import JudgementLimits
from analysis.errors import NotEnoughError
from analysis.learning.posterior import Learned
from analysis.planning.year import LookFirst, chances_of, draws_of, look_first, start_utc
from analysis.simulation.checkpoints import instant
from analysis.simulation.estimator import run
from analysis.simulation.pasts import pasts_of
from analysis.works import Mount, Wall, Work

HARDLY = 0.02  # a smaller difference of shares of the year is not called one
AT_ONCE = 250  # works: of more, all their hours would fill the memory
SAID_FROM = 0.1  # a larger share of the year that cannot be told is said


@dataclass(frozen=True)
class Place:
    """A wall of a room."""

    room: str
    wall: Wall = Wall.INSIDE


def look_first_at(
    works: Sequence[Work],
    air: RoomAir,
    wall: Wall = Wall.INSIDE,
    *,
    n: int = 200,
    learned: Mapping[str, Learned] | None = None,
    at_home: Collection[str] = (),
    counted_from: datetime | None = None,
    limits: JudgementLimits | None = None,
) -> dict[str, LookFirst]:
    """Return what a room's last year would have been to works on a wall of it, all in one run.

    In the years before it they are taken to have hung there as well.

    Parameters
    ----------
    works : sequence of Work
        Held by tension; the others are left out.
    air : RoomAir
        The room's last year.
    n : int
        Draws, where nothing was learned.
    learned : mapping of str to Learned, optional
        What inspections taught, by work.
    at_home : collection of str
        Works that hang in this room now, so that what was learned of its logger holds too.
    counted_from : datetime, optional
        Hours before it only let slow frames forget how they began; default: the first.
    """
    hung = [_hung(work, wall, air) for work in works if work.mount is Mount.TENSION_HELD]
    posteriors = learned or {}
    recorded = {work.work_id: work.wall for work in works}
    draws = {
        work.work_id: draws_of(
            work,
            n,
            posteriors.get(work.work_id),
            elsewhere=work.work_id not in at_home or recorded[work.work_id] is not wall,
        )
        for work in hung
    }
    weights = {key: one.weights for key, one in posteriors.items() if key in draws}
    pasts, found = pasts_of(air), dict[str, LookFirst]()
    since = counted_from or start_utc(air)
    for first in range(0, len(hung), AT_ONCE):
        part = hung[first : first + AT_ONCE]
        ran = run(
            part,
            draws,
            air,
            weights=weights,
            detail_from=instant(air.time_utc[-1]),
            keep_weeks=0,
            pasts=pasts,
            hours_only=True,
        )
        for work in part:
            found[work.work_id] = look_first(chances_of(work, air, ran).since(since), limits)
    return found


def _hung(work: Work, wall: Wall, air: RoomAir) -> Work:
    start = start_utc(air)
    overrides = {k: v for k, v in work.overrides.items() if k != "wall_factor"}
    return replace(
        work,
        wall=wall,
        sun_or_spot=False,
        overrides=overrides,
        mounted_utc=_at_latest(work.mounted_utc, start),
        closed_utc=_at_latest(work.closed_utc, start),
    )


def _at_latest(when: datetime | None, start: datetime) -> datetime | None:
    return None if when is None else min(when, start)


@dataclass(frozen=True)
class HangingRow:
    """One work in each place, in the order of the table's places, and where it hangs now."""

    work: Work
    cells: Sequence[LookFirst]
    now: Place | None = None

    @property
    def judged(self) -> bool:
        """Whether something can be told in every place, so that places can be compared."""
        return all(cell.judged for cell in self.cells)

    @property
    def spread(self) -> float:
        """Difference of the shares in the worst place and in the best; 0 where not told."""
        shares = [cell.share for cell in self.cells if cell.judged]
        return max(shares) - min(shares) if shares else 0.0

    @property
    def mean(self) -> float:
        """Mean of the shares over the places; NaN where not told."""
        return float(np.mean([cell.share for cell in self.cells]))

    @property
    def depends(self) -> bool:
        """Whether the place matters to this work."""
        return self.spread >= HARDLY


@dataclass(frozen=True)
class HangingTable:
    """Works by places. Places run from the best to the worst, works from those it matters to most.

    ``means`` holds the mean share of each place over the works that can be compared; ``left_out``
    the works that are not held by tension and have no row. `dashboards.text.hanging_text` words it.
    """

    places: Sequence[Place]
    rows: Sequence[HangingRow]
    means: Sequence[float]
    left_out: Sequence[Work]


def hanging_table(
    works: Sequence[Work],
    found: Mapping[Place, Mapping[str, LookFirst]],
    rooms_now: Mapping[str, str] | None = None,
) -> HangingTable:
    """Return works by places, sorted.

    Parameters
    ----------
    works : sequence of Work
        Any; those not held by tension are left out and named.
    found : mapping of Place to mapping of str to LookFirst
        For each place, as from `look_first_at`.
    rooms_now : mapping of str to str, optional
        Work → name of the room in which it hangs now, on the wall that the work says.

    Raises
    ------
    NotEnoughError
        If there is no place or no work held by tension.
    """
    held = [work for work in works if work.mount is Mount.TENSION_HELD]
    _require_some(held, found)
    unsorted = [HangingRow(w, [cells[w.work_id] for cells in found.values()]) for w in held]
    means = {place: _mean(unsorted, j) for j, place in enumerate(found)}
    places = sorted(found, key=lambda place: (np.nan_to_num(means[place]), place.room))
    now = {w.work_id: Place((rooms_now or {}).get(w.work_id, ""), w.wall) for w in held}
    rows = [
        HangingRow(w, [found[place][w.work_id] for place in places], now[w.work_id]) for w in held
    ]
    rows.sort(key=lambda row: (not row.judged, -round(row.spread, 2), -np.nan_to_num(row.mean)))
    return HangingTable(
        places=places,
        rows=rows,
        means=[means[place] for place in places],
        left_out=[work for work in works if work.mount is not Mount.TENSION_HELD],
    )


def _mean(rows: Sequence[HangingRow], j: int) -> float:
    """Return the mean share in one place, over the works that can be compared."""
    shares = [row.cells[j].share for row in rows if row.judged]
    return float(np.mean(shares)) if shares else float("nan")


def _require_some(works: Sequence[Work], places: Mapping[Place, object]) -> None:
    if not works or not places:
        raise NotEnoughError(
            read="hanging table",
            where="works and rooms",
            found=f"{len(works)} works held by tension, {len(places)} walls of rooms",
            expected="one of each or more",
            action="Choose works held by tension and rooms that have readings.",
        )
