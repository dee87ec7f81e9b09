"""One work in several guises, run together on the same draws, so that only the guise differs.

What was learned of a work goes with it as far as it is about the same thing: a print mounted or
framed anew is the same sheet, but has new hinges or a new frame; in another room another logger
measures the air.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from analysis.air.room_air import RoomAir
from analysis.answers.judgement import JudgementLimits
from analysis.errors import OutOfRangeError
from analysis.learning.posterior import Learned
from analysis.planning.draw_years import DrawYear, draw_years, sample_times, year_summary
from analysis.planning.year import (
    Chances,
    YearSummary,
    chances_of,
    look_first,
    step_months,
)
from analysis.results import Floats, History
from analysis.simulation import layout
from analysis.simulation.checkpoints import instant
from analysis.simulation.estimator import run
from analysis.simulation.priors import Draws, draw
from analysis.simulation.redraw import draws_from
from analysis.works import Mount, Work

ANEW = 1000  # number of a mounting or framing that is only planned
OF_A_ROOM = ("sensor_offset_pct", "gap_fill", "outdoor_temp_c")  # doubts about a room's air
OF_A_WALL = ("wall_factor",)


def start_utc(air: RoomAir) -> datetime:
    """Return the first hour of a room's air."""
    return instant(air.time_utc[0])


def require_tension_held(work: Work) -> None:
    """Raise unless a work is held by tension.

    Raises
    ------
    OutOfRangeError
        If it is bonded, hung by corners or in a window mount: it cannot go slack.
    """
    if work.mount is not Mount.TENSION_HELD:
        raise OutOfRangeError(
            read=f"work {work.work_id}",
            where="mount",
            found=work.mount.value,
            expected=Mount.TENSION_HELD.value,
            action="Plan only for prints held by tension; correct the register if it is one.",
        )


def mounted_anew(work: Work) -> Work:
    """Return a work whose hinges and pre-strain are those of a mounting to come."""
    return replace(work, mounting_no=ANEW)


def framed_anew(work: Work) -> Work:
    """Return a work whose half-time and closing are those of a framing to come."""
    return replace(work, framing_no=ANEW, conditioned=False)


def draws_of(
    work: Work, n: int, learned: Learned | None = None, *, elsewhere: bool = False
) -> Draws:
    """Return the draws of a work as it would be, with what was learned of it as it is.

    Parameters
    ----------
    elsewhere : bool
        In another room or on another wall than where it was learned.
    """
    if learned is None:
        return draw(work, n)
    gone = (*OF_A_ROOM, *OF_A_WALL) if elsewhere else ()
    return draws_from(work, {k: v for k, v in learned.levels.items() if k not in gone})


@dataclass(frozen=True)
class VariantYear:
    """One guise of a work through a room's year; the history has hours only where asked for."""

    chances: Chances
    draws: DrawYear
    history: History

    def months_unfit(self) -> Floats:
        """Return for how many months each draw is slack or overtight, shape (n,)."""
        told = self.draws.told(self.chances)
        share = (told.slack | told.overtight).mean(axis=0)
        return np.asarray(share * look_first(self.chances).told_months)

    def summary(self, limits: JudgementLimits | None = None) -> YearSummary:
        """Return the year in a few numbers, with ranges over the draws.

        Raises
        ------
        NotEnoughError
            If no hour can be told.
        """
        return year_summary(self.chances, self.draws, limits)


def years_of(
    variants: Mapping[str, Work],
    air: RoomAir,
    n: int,
    learned: Learned | None = None,
    *,
    hourly_ranges: bool = False,
) -> dict[str, VariantYear]:
    """Return a room's year for each variant of one work.

    Parameters
    ----------
    variants : mapping of str to Work
        Name → the work as it would be; all with the same ``work_id``, so that they share draws.
    air : RoomAir
        The room's year.
    n : int
        Draws, where nothing was learned.
    learned : Learned, optional
        What inspections taught of the work.
    hourly_ranges : bool
        Whether ranges by the hour are wanted; they cost three times the run itself.
    """
    works, draws, weights = _as_works(variants, n, learned)
    found = run(
        works,
        draws,
        air,
        weights=weights,
        detail_from=instant(air.time_utc[0 if hourly_ranges else -1]),
        week_starts=sample_times(air),
    )
    years = draw_years(works, draws, found.checkpoints, weights)
    return {
        work.work_id: VariantYear(
            chances_of(work, air, found), years[work.work_id], found.histories[work.work_id]
        )
        for work in works
    }


def history_of(work: Work, air: RoomAir, n: int, learned: Learned | None = None) -> History:
    """Return a work's hours through a room's year, with their ranges."""
    works, draws, weights = _as_works({work.work_id: work}, n, learned)
    found = run(works, draws, air, weights=weights, detail_from=start_utc(air), keep_weeks=0)
    return found.histories[work.work_id]


def months_slack(work: Work, air: RoomAir, n: int, learned: Learned | None = None) -> float:
    """Return for how many months of a room's year a work would be slack, on average of its draws.

    Quicker than `years_of`, without a range.
    """
    works, draws, weights = _as_works({work.work_id: work}, n, learned)
    end = instant(air.time_utc[-1])
    found = run(works, draws, air, weights=weights, detail_from=end, keep_weeks=0)
    slack = found.hourly[work.work_id][layout.SUMS.index("slack")]
    told = chances_of(work, air, found).told
    return float(slack[told].sum()) * step_months(found.time_utc)


def _as_works(
    variants: Mapping[str, Work], n: int, learned: Learned | None
) -> tuple[list[Work], dict[str, Draws], dict[str, Floats] | None]:
    """Return variants as works of their own names, with the draws and weights of the one work."""
    for work in variants.values():
        require_tension_held(work)
    works = [replace(work, work_id=name) for name, work in variants.items()]
    draws = {
        name: replace(draws_of(work, n, learned), work_id=name) for name, work in variants.items()
    }
    return works, draws, None if learned is None else dict.fromkeys(variants, learned.weights)
