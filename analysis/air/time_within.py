"""Time within limits: shares by time, the longest run outside, the degree of exceedance."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.time_weights import Cells, cells

Floats = npt.NDArray[np.float64]
Marks = npt.NDArray[np.bool_]
TOUCHING_S = 1e-3


@dataclass(frozen=True)
class TimeWithin:
    """How a quantity stood to its limits. Shares are by time of what was measured [%].

    ``exceedance_unit_h`` is the area outside the limits, for humidity in %RH·h.
    """

    within_pct: float
    above_pct: float
    below_pct: float
    longest_run_outside_h: float
    exceedance_unit_h: float


def time_within(values: pd.Series, low: float | None, high: float | None) -> TimeWithin:
    """Return shares of time, longest run and area outside a closed interval.

    Parameters
    ----------
    values : pandas.Series, shape (n,)
        Indexed by UTC; missing readings are left out.
    low, high : float or None
        The limits themselves are within. None: no limit on that side.

    Examples
    --------
    >>> hours = pd.date_range("2030-01-01", periods=4, freq="h", tz="UTC")
    >>> time_within(pd.Series([50.0, 60.0, 60.1, 50.0], index=hours), 40.0, 60.0).within_pct
    75.0
    """
    valid = values.dropna()
    x = valid.to_numpy(dtype=np.float64)
    grid = cells(pd.DatetimeIndex(valid.index))
    total = float(grid.width_s.sum())
    if total <= 0:
        nan = float("nan")
        return TimeWithin(nan, nan, nan, nan, nan)
    above = x > (np.inf if high is None else high)
    below = x < (-np.inf if low is None else low)
    excess = np.where(above, x - (high or 0.0), 0.0) + np.where(below, (low or 0.0) - x, 0.0)
    above_pct, below_pct = (100.0 * float(grid.width_s[m].sum()) / total for m in (above, below))
    return TimeWithin(
        within_pct=100.0 - above_pct - below_pct,
        above_pct=above_pct,
        below_pct=below_pct,
        longest_run_outside_h=longest_run_h(above | below, grid),
        exceedance_unit_h=float((excess * grid.width_s).sum()) / 3600.0,
    )


def longest_run_h(marked: Marks, grid: Cells) -> float:
    """Return the length of the longest unbroken run of marked cells [h]."""
    if not marked.any():
        return 0.0
    begins = marked.copy()
    begins[1:] &= ~(marked[:-1] & (grid.from_s[1:] - grid.to_s[:-1] < TOUCHING_S))
    starts = np.flatnonzero(begins)
    run = np.searchsorted(starts, np.flatnonzero(marked), side="right") - 1
    return float(np.bincount(run, weights=grid.width_s[marked]).max()) / 3600.0
