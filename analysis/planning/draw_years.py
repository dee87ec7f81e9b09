"""A year draw by draw: is it slack, is it overtight, how hard do the hinges pull, every other day.

Taken from the states that a run leaves behind, so that months and peak loads have ranges over the
draws and not over the hours.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from analysis import layout
from analysis.checkpoints import Checkpoint, instant
from analysis.packing import fixed_rows, stack
from analysis.planning.year import YearSummary
from analysis.priors import Draws
from analysis.results import Floats, History, Range
from analysis.room_air import RoomAir
from analysis.weighted import weighted_range
from analysis.works import Work

Bools = npt.NDArray[np.bool_]
EVERY = timedelta(hours=48)


@dataclass(frozen=True)
class DrawYear:
    """One work's draws through a year, arrays of shape (instants, n)."""

    times_utc: Sequence[datetime]
    slack: Bools
    overtight: Bools
    hinge_load_n_m: Floats
    weights: Floats | None


def sample_times(air: RoomAir) -> list[datetime]:
    """Return an instant every other day of a room's air."""
    first, last = instant(air.time_utc[0]), instant(air.time_utc[-1])
    return [first + i * EVERY for i in range(1, int((last - first) / EVERY) + 1)]


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


def by_draw(summary: YearSummary, history: History, year: DrawYear) -> YearSummary:
    """Return a summary whose months and peak load are ranges over the draws: 5, 50, 95 %."""
    stamps = np.array([np.datetime64(int(t.timestamp()), "s") for t in year.times_utc])
    row = np.searchsorted(history.time_utc, stamps)
    told = history.refused[np.minimum(row, len(history.refused) - 1)] == ""
    if not told.any():
        return summary

    def months(of: Bools) -> Range:
        return weighted_range(of[told].mean(axis=0) * summary.told_months, year.weights)

    return replace(
        summary,
        months_slack=months(year.slack),
        months_overtight=months(year.overtight),
        peak_load_n_m=weighted_range(year.hinge_load_n_m[told].max(axis=0), year.weights),
    )
