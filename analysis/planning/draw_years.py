"""A year draw by draw: is it slack, is it overtight, how hard do the hinges pull, every third day.

Taken from the states that a run leaves behind, so that months and peak loads have ranges over the
draws and not over the hours.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from analysis.air.room_air import RoomAir
from analysis.answers.judgement import JudgementLimits
from analysis.errors import NotEnoughError
from analysis.learning.weighted import weighted_range
from analysis.planning.year import Chances, YearSummary, look_first, refused_shares
from analysis.results import Floats, Range
from analysis.simulation import layout
from analysis.simulation.checkpoints import Checkpoint, instant
from analysis.simulation.packing import fixed_rows, stack
from analysis.simulation.priors import Draws
from analysis.works import Work

Bools = npt.NDArray[np.bool_]
# An hour more than three days, so that every hour of the day has its turn.
EVERY = timedelta(hours=73)


@dataclass(frozen=True)
class DrawYear:
    """One work's draws through a year, arrays of shape (instants, n)."""

    times_utc: Sequence[datetime]
    slack: Bools
    overtight: Bools
    hinge_load_n_m: Floats
    weights: Floats | None

    def told(self, chances: Chances) -> "DrawYear":
        """Return the same with those instants only of which anything can be said.

        Raises
        ------
        NotEnoughError
            If there is none.
        """
        stamps = np.array([np.datetime64(int(t.timestamp()), "s") for t in self.times_utc])
        row = np.searchsorted(chances.time_utc, stamps)
        keep = np.flatnonzero(chances.told[np.minimum(row, len(chances.told) - 1)])
        if not len(keep):
            reasons = ", ".join(refused_shares(chances)) or "an empty record"
            raise NotEnoughError(
                read=f"work {chances.work_id}",
                where="the room's year",
                found=f"no three days that can be told ({reasons})",
                expected="weeks with a number",
                action="Bring in more of the room's record, or enter what is missing for it.",
            )
        return DrawYear(
            [self.times_utc[int(i)] for i in keep],
            self.slack[keep],
            self.overtight[keep],
            self.hinge_load_n_m[keep],
            self.weights,
        )


def sample_times(air: RoomAir) -> list[datetime]:
    """Return an instant every third day of a room's air.

    Raises
    ------
    NotEnoughError
        If the air is shorter than three days.
    """
    first, last = instant(air.time_utc[0]), instant(air.time_utc[-1])
    times = [first + i * EVERY for i in range(1, int((last - first) / EVERY) + 1)]
    if not times:
        raise NotEnoughError(
            read="the room's year",
            where=f"{first:%Y-%m-%d %H:%M} to {last:%Y-%m-%d %H:%M} UTC",
            found=f"{air.hours} hours",
            expected="weeks, better a whole year",
            action="Bring in more of the room's record, or choose another room.",
        )
    return times


def draw_years(
    works: Sequence[Work],
    draws: Mapping[str, Draws],
    checkpoints: Sequence[Checkpoint],
    weights: Mapping[str, Floats] | None,
) -> dict[str, DrawYear]:
    """Return what each work's draws show at the checkpoints of a run."""
    fixed = fixed_rows(stack(works, draws, weights))
    found = {}
    for i, work in enumerate(works):
        at = {name: fixed[i, row] for row, name in enumerate(layout.FIXED)}
        kept = [point for point in checkpoints if work.work_id in point.states]
        states = np.stack([point.states[work.work_id] for point in kept], axis=1)
        state = {name: states[row] for row, name in enumerate(layout.STATE)}
        share = None if weights is None else weights.get(work.work_id)
        found[work.work_id] = _draw_year([p.time_utc for p in kept], at, state, share)
    return found


def _draw_year(
    times: Sequence[datetime],
    at: Mapping[str, Floats],
    state: Mapping[str, Floats],
    weights: Floats | None,
) -> DrawYear:
    share = at["image_share"]
    psi = share * state["psi_image"] + (1.0 - share) * state["psi_core"]
    soft = np.exp(-at["soften"] * (psi - 0.5))
    slack = np.zeros(psi.shape, dtype=np.bool_)
    tight, loads = slack.copy(), np.zeros(psi.shape)
    for axis in ("md", "cd"):
        above = state[f"above_{axis}"]
        reserve = at[f"gain_{axis}"] * np.maximum(above, 0.0) * soft
        slack |= -above > at["buckle"]
        tight |= reserve >= at[f"sustain_{axis}"]
        loads = np.maximum(loads, at[f"ea_{axis}"] * reserve)
    return DrawYear(times, slack, tight, loads, weights)


def year_summary(
    chances: Chances, year: DrawYear, limits: JudgementLimits | None = None
) -> YearSummary:
    """Return a work's year in a few numbers.

    Raises
    ------
    NotEnoughError
        If every hour is refused; the reasons are quoted.
    """
    first = look_first(chances, limits)
    told = year.told(chances)

    def months(of: Bools) -> Range:
        return weighted_range(of.mean(axis=0) * first.told_months, year.weights)

    return YearSummary(
        work_id=chances.work_id,
        look_first=first,
        months_slack=months(told.slack),
        months_overtight=months(told.overtight),
        peak_load_n_m=weighted_range(told.hinge_load_n_m.max(axis=0), year.weights),
    )
