"""The time each reading stands for, so that shares, means and runs go by time, not by count."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.sampling import measured_steps_s
from analysis.errors import OutOfRangeError
from analysis.parameters import parameter

Floats = npt.NDArray[np.float64]
HOUR_S = 3600.0
DAY_S = 86400.0
Marks = npt.NDArray[np.bool_]
TOUCHING_S = 1e-3


@dataclass(frozen=True)
class Cells:
    """The stretch of time of each reading, in seconds since the first of them.

    A reading stands for the time half way to its neighbours. Across a gap it stands for half a
    usual step, and what lies between belongs to no reading
    (`analysis.air.sampling.measured_steps_s`).
    """

    at_s: Floats
    from_s: Floats
    to_s: Floats

    @property
    def width_s(self) -> Floats:
        """Length of each cell, shape (n,) [s]."""
        return self.to_s - self.from_s

    @property
    def span_s(self) -> float:
        """From the beginning of the first cell to the end of the last [s]."""
        return float(self.to_s[-1] - self.from_s[0]) if len(self.at_s) else 0.0

    @property
    def coverage_pct(self) -> float:
        """Share of the span that belongs to a reading [%]."""
        return 100.0 * float(self.width_s.sum()) / self.span_s if self.span_s > 0 else 0.0


def seconds(index: pd.DatetimeIndex) -> Floats:
    """Return times as seconds since 1970, shape (n,)."""
    return np.asarray(index.as_unit("ns").asi8 / 1e9, dtype=np.float64)


def instant_s(when: datetime, *, read: str) -> float:
    """Return an instant as seconds since 1970, refusing a time without a zone.

    Raises
    ------
    OutOfRangeError
        If ``when`` has no zone: it could be any of two dozen instants.

    Examples
    --------
    >>> from datetime import UTC
    >>> instant_s(datetime(1970, 1, 2, tzinfo=UTC), read="a date")
    86400.0
    """
    if when.tzinfo is None:
        raise OutOfRangeError(
            read=read,
            where="time",
            found=f"{when} without a zone",
            expected="an instant in UTC",
            action="Give the time with its zone.",
        )
    return when.timestamp()


def gap_s(interval_s: float) -> float:
    """Return the silence above which nothing is read between two neighbours [s].

    A shorter one was not measured either, and does not count as measured (`Cells`); but a value in
    it may be read off the line between its ends, as the change over 24 hours needs.

    Examples
    --------
    >>> gap_s(300.0)  # five-minute logging: three hours
    10800.0
    >>> gap_s(7200.0)  # a reading every two hours: six hours
    21600.0
    """
    return max(parameter("record_rules", "gap", "shortest").value * HOUR_S, 3.0 * interval_s)


def cells(index: pd.DatetimeIndex) -> Cells:
    """Return the cells of sorted times.

    Parameters
    ----------
    index : pandas.DatetimeIndex, shape (n,)
        Sorted, unique times of valid readings (leave out what is missing first).

    Returns
    -------
    Cells
        Empty for no time; for a single one a cell without width.

    Examples
    --------
    >>> times = pd.to_datetime(["2030-01-01 00", "2030-01-01 01", "2030-01-01 01:30"], utc=True,
    ...     format="ISO8601")
    >>> cells(pd.DatetimeIndex(times)).width_s / 3600
    array([0.875, 0.75 , 0.625])
    """
    absolute = seconds(index)
    at_s = absolute - absolute[0] if len(absolute) else absolute
    usual = float(np.median(np.diff(at_s))) if len(at_s) > 1 else 0.0
    halves = measured_steps_s(index) / 2
    before = np.concatenate([[usual / 2], halves])[: len(at_s)]
    after = np.concatenate([halves, [usual / 2]])[: len(at_s)]
    return Cells(at_s=at_s, from_s=at_s - before, to_s=at_s + after)


def time_mean(values: pd.Series) -> float:
    """Return the mean weighted by time; missing readings count neither way (NaN if none).

    Examples
    --------
    >>> times = pd.to_datetime(["2030-01-01 00", "2030-01-01 01", "2030-01-01 01:30"], utc=True,
    ...     format="ISO8601")
    >>> round(time_mean(pd.Series([50.0, 50.0, 59.0], index=pd.DatetimeIndex(times))), 2)
    52.5
    """
    valid = values.dropna()
    if valid.empty:
        return float("nan")
    width = cells(pd.DatetimeIndex(valid.index)).width_s
    weights = width if width.sum() > 0 else np.ones(len(valid))
    return float(np.average(valid.to_numpy(), weights=weights))


def time_percentiles(values: Floats, width_s: Floats, percents: tuple[float, ...]) -> Floats:
    """Return percentiles weighted by time, linear between readings.

    With equal weights this is the linear method of `numpy.percentile`.

    Examples
    --------
    >>> time_percentiles(np.array([3.0, 1.0, 2.0]), np.ones(3), (0.0, 25.0, 50.0, 100.0))
    array([1. , 1.5, 2. , 3. ])
    """
    if len(values) == 0:
        return np.full(len(percents), np.nan)
    order = np.argsort(values, kind="stable")
    upper = np.cumsum(width_s[order])
    middle = upper - width_s[order] / 2
    total = middle[-1] - middle[0]
    place = (middle - middle[0]) / total if total > 0 else np.zeros(len(values))
    return np.asarray(np.interp(np.asarray(percents) / 100.0, place, values[order]))


def centred_mean(values: pd.Series, window_days: float, least_pct: float) -> Floats:
    """Return the mean over half a window before and half a window after each reading.

    Weighted by time, by prefix sums: the cost grows with the length of the record alone.

    Parameters
    ----------
    values : pandas.Series, shape (n,)
        Readings without missing ones, indexed by sorted times.
    window_days : float
        Whole length of the window [d].
    least_pct : float
        Share of the window that must be measured [%].

    Returns
    -------
    numpy.ndarray, shape (n,)
        NaN where the record does not hold both halves, or too little of the window was measured.
    """
    grid = cells(pd.DatetimeIndex(values.index))
    if len(values) == 0 or grid.span_s == 0:
        return np.full(len(values), np.nan)
    half = window_days * DAY_S / 2
    lower, upper = grid.at_s - half, grid.at_s + half
    covered = _covered_s(grid, upper) - _covered_s(grid, lower)
    total = _integral(grid, values.to_numpy(), upper) - _integral(grid, values.to_numpy(), lower)
    whole = (lower >= grid.from_s[0] - 1.0) & (upper <= grid.to_s[-1] + 1.0)
    enough = whole & (covered >= least_pct / 100.0 * 2 * half)
    return np.where(enough, total / np.where(covered > 0, covered, 1.0), np.nan)


def _covered_s(grid: Cells, until_s: Floats) -> Floats:
    return _integral(grid, np.ones(len(grid.at_s)), until_s)


def _integral(grid: Cells, values: Floats, until_s: Floats) -> Floats:
    """Integral of the readings from the beginning to each of the given times."""
    sums = np.concatenate([[0.0], np.cumsum(values * grid.width_s)])
    last = np.searchsorted(grid.from_s, until_s, side="right") - 1
    inside = np.clip(last, 0, len(values) - 1)
    part = np.clip(until_s - grid.from_s[inside], 0.0, grid.width_s[inside])
    return np.asarray(np.where(last < 0, 0.0, sums[inside] + values[inside] * part))


def hourly_thinned(values: pd.Series) -> pd.Series:
    """Return the mean of each hour, at the mean of its times; slower records come back as they are.

    Missing readings are left out. Nothing is filled.
    """
    valid = values.dropna()
    times = seconds(pd.DatetimeIndex(valid.index))
    if len(times) < 2 or float(np.median(np.diff(times))) >= 0.9 * HOUR_S:
        return valid
    starts = np.flatnonzero(np.diff(np.floor(times / HOUR_S), prepend=-1.0))
    counts = np.diff(np.append(starts, len(times)))
    means = np.add.reduceat(valid.to_numpy(), starts) / counts
    origin = times[0]
    middle = np.add.reduceat(times - origin, starts) / counts + origin
    index = pd.DatetimeIndex(pd.to_datetime((middle * 1e9).astype("int64"), utc=True))
    return pd.Series(means, index=index, name=values.name)


def hourly_grid(values: pd.Series) -> pd.Series:
    """Return the mean of every hour from first to last, NaN where nothing was measured.

    A record slower than hourly is held from one reading to the next; before a gap the last reading
    is held for one usual interval.
    """
    valid = values.dropna()
    if valid.empty:
        return valid
    means = valid.groupby(pd.DatetimeIndex(valid.index).floor("h")).mean()
    hours = pd.date_range(means.index[0], means.index[-1], freq="h", name=values.index.name)
    grid = means.reindex(hours)
    times = seconds(pd.DatetimeIndex(valid.index))
    usual = float(np.median(np.diff(times))) if len(times) > 1 else 0.0
    return _held(grid, usual) if usual > HOUR_S else grid


def _held(grid: pd.Series, usual_s: float) -> pd.Series:
    """Hold each known hour until the next, or for one usual interval where a gap follows."""
    known = np.flatnonzero(grid.notna())
    last = np.searchsorted(known, np.arange(len(grid)), side="right") - 1
    step_s = np.diff(known, append=known[-1] + 1)[last] * HOUR_S
    since_s = (np.arange(len(grid)) - known[last]) * HOUR_S
    touching = step_s <= parameter("quality", "gap", "intervals").value * usual_s
    return grid.ffill().where(touching | (since_s < usual_s))


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
