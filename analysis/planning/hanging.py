"""Where to hang: what a room's last year would have been to works on a wall of it."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from analysis.air.room_air import RoomAir
from analysis.answers.judgement import JudgementLimits
from analysis.learning.posterior import Learned
from analysis.planning.variants import draws_of, start_utc
from analysis.planning.year import LookFirst, chances_of, look_first
from analysis.simulation.checkpoints import instant
from analysis.simulation.estimator import run
from analysis.works import Mount, Wall, Work


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
    taught = learned or {}
    recorded = {work.work_id: work.wall for work in works}
    draws = {
        work.work_id: draws_of(
            work,
            n,
            taught.get(work.work_id),
            elsewhere=work.work_id not in at_home or recorded[work.work_id] is not wall,
        )
        for work in hung
    }
    weights = {key: one.weights for key, one in taught.items() if key in draws}
    end = instant(air.time_utc[-1])
    found = run(hung, draws, air, weights=weights, detail_from=end, keep_weeks=0)
    since = counted_from or start_utc(air)
    return {
        work.work_id: look_first(chances_of(work, air, found).since(since), limits) for work in hung
    }


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
