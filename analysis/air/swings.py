"""Swings of humidity or temperature, by every definition in use, each under its own name.

Nobody publishes a computable definition of "±x in 24 hours"; practitioners asked for one in 2001
(DistList2001). So the definitions stand side by side, and every result names the one it used.

All of them go by time, not by count of readings; missing readings are left out and nothing is read
across a gap. Each costs one pass over the record.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
import rainflow

from analysis.air.sampling import steps_s
from analysis.air.time_weights import DAY_S, HOUR_S, centred_mean, gap_s, hourly_thinned, seconds

Floats = npt.NDArray[np.float64]

DEFINITIONS = {
    "range24": "highest minus lowest reading in every rolling 24 hours",
    "lag24": "difference from the reading 24 hours earlier",
    "dev24": "distance from the mean of the last 24 hours",
    "dayspan": "highest minus lowest reading of a calendar day, local time",
    "rate1h": "change in one hour, of means over 15 to 30 minutes",
    "drift30": "highest minus lowest running mean over 30 days",
    "drift90": "highest minus lowest running mean over 90 days",
}
LEAST_SHARE_OF_DAY = 0.75
LEAST_SHARE_OF_SMOOTHING = 0.4
SMALLEST = 1.0
CLASS_EDGES = (1.0, 5.0, 10.0, 15.0, 20.0, 30.0, 50.0, 100.0)


@dataclass(frozen=True)
class RunningIntegral:
    """A record as straight lines between its readings, with its integral from the beginning.

    Times are seconds since 1970. Between readings further apart than
    `analysis.air.time_weights.gap_s` nothing is known and nothing is counted.
    """

    at_s: Floats
    value: Floats
    joined: npt.NDArray[np.bool_]
    area: Floats
    covered: Floats
    offset: float

    def means(self, from_s: Floats, to_s: Floats, least_share: float) -> Floats:
        """Return the means over windows; NaN where less than a share of one was measured."""
        if len(self.at_s) < 2:
            return np.full(len(from_s), np.nan)
        (first, first_s), (last, last_s) = self._until(from_s), self._until(to_s)
        covered = last_s - first_s
        enough = covered >= least_share * (to_s - from_s) - 1e-6
        with np.errstate(divide="ignore", invalid="ignore"):
            mean = (last - first) / covered + self.offset
        return np.where(enough & (covered > 0), mean, np.nan)

    def values(self, when_s: Floats) -> Floats:
        """Return the record at times between its readings; NaN outside it and within gaps."""
        if len(self.at_s) < 2:
            return np.full(len(when_s), np.nan)
        segment = self._segment(when_s)
        part = when_s - self.at_s[segment]
        inside = (part >= -1e-6) & (when_s <= self.at_s[-1] + 1e-6)
        exact = (np.abs(part) < 1e-6) | (np.abs(when_s - self.at_s[segment + 1]) < 1e-6)
        known = inside & (self.joined[segment] | exact)
        return np.where(known, np.interp(when_s, self.at_s, self.value) + self.offset, np.nan)

    def _segment(self, when_s: Floats) -> npt.NDArray[np.intp]:
        found = np.searchsorted(self.at_s, when_s, side="right") - 1
        return np.clip(found, 0, len(self.at_s) - 2)

    def _until(self, when_s: Floats) -> tuple[Floats, Floats]:
        clipped = np.clip(when_s, self.at_s[0], self.at_s[-1])
        segment = self._segment(clipped)
        part = np.where(self.joined[segment], clipped - self.at_s[segment], 0.0)
        step = self.at_s[segment + 1] - self.at_s[segment]
        slope = (self.value[segment + 1] - self.value[segment]) / step
        area = self.area[segment] + part * (self.value[segment] + slope * part / 2.0)
        return area, self.covered[segment] + part


def running_integral(values: pd.Series) -> RunningIntegral:
    """Return the running integral of a record; missing readings are left out.

    Parameters
    ----------
    values : pandas.Series, shape (n,)
        Indexed by sorted, unique times.
    """
    valid = values.dropna()
    at_s, x = seconds(pd.DatetimeIndex(valid.index)), valid.to_numpy(dtype=np.float64)
    steps = steps_s(valid.index)
    offset = float(x.mean()) if len(x) else 0.0
    x = x - offset
    joined = steps <= (gap_s(float(np.median(steps))) if len(steps) else 0.0)
    widths = np.where(joined, steps, 0.0)
    areas = widths * (x[1:] + x[:-1]) / 2.0
    return RunningIntegral(
        at_s=at_s,
        value=x,
        joined=np.asarray(joined, dtype=bool),
        area=np.concatenate([[0.0], np.cumsum(areas)]),
        covered=np.concatenate([[0.0], np.cumsum(widths)]),
        offset=offset,
    )


def range24(values: pd.Series) -> pd.Series:
    """Return highest minus lowest reading of the 24 hours up to each reading.

    Where part of the window was not measured the figure is a lower bound: the true range is at
    least this.

    Examples
    --------
    >>> hours = pd.date_range("2030-01-01", periods=30, freq="h", tz="UTC")
    >>> float(range24(pd.Series(range(30), index=hours, dtype=float)).max())
    24.0
    """
    window = values.dropna().rolling("24h", closed="both")
    return window.max() - window.min()


def lag24(values: pd.Series) -> pd.Series:
    """Return the distance from the value 24 hours earlier; NaN where none was measured."""
    valid = values.dropna()
    record = running_integral(valid)
    return _series(valid, np.abs(valid.to_numpy() - record.values(record.at_s - DAY_S)))


def dev24(values: pd.Series) -> pd.Series:
    """Return the distance from the mean of the last 24 hours, three quarters of it measured.

    NaN in the first 24 hours of the record.
    """
    valid = values.dropna()
    record = running_integral(valid)
    means = record.means(record.at_s - DAY_S, record.at_s, LEAST_SHARE_OF_DAY)
    whole = record.at_s - record.at_s[:1] >= DAY_S
    return _series(valid, np.where(whole, np.abs(valid.to_numpy() - means), np.nan))


def dayspan(values: pd.Series, zone: str) -> pd.Series:
    """Return highest minus lowest reading of each local day, by date.

    Parameters
    ----------
    values : pandas.Series, shape (n,)
        Indexed by UTC.
    zone : str
        IANA zone of the site; the day of a clock change has 23 or 25 hours.

    Examples
    --------
    >>> hours = pd.date_range("2030-01-01 12:00", periods=24, freq="h", tz="UTC")
    >>> dayspan(pd.Series(range(24), index=hours, dtype=float), "UTC").tolist()
    [11.0, 11.0]
    """
    valid = values.dropna()
    days = local_days(pd.DatetimeIndex(valid.index), zone)
    grouped = valid.groupby(days)
    return grouped.max() - grouped.min()


def local_days(index: pd.DatetimeIndex, zone: str) -> pd.DatetimeIndex:
    """Return the local calendar day of each UTC time, without a zone."""
    return index.tz_convert(zone).tz_localize(None).normalize()


def rate1h(values: pd.Series, smoothing_min: float = 30.0) -> pd.Series:
    """Return the change within one hour, up or down, of means over ``smoothing_min`` minutes."""
    return rate_per_h(values, smoothing_min).abs()


def rate_per_h(values: pd.Series, smoothing_min: float = 30.0) -> pd.Series:
    """Return the change within the last hour, with its sign, of smoothed values [per hour].

    Parameters
    ----------
    values : pandas.Series, shape (n,)
        Indexed by UTC.
    smoothing_min : float
        Width of the centred window, 15 to 30 minutes. A record slower than the window is taken
        as it is.
    """
    valid = values.dropna()
    record = running_integral(valid)
    steps = steps_s(valid.index)
    if len(steps) == 0:
        return _series(valid, np.full(len(valid), np.nan))
    window_s = smoothing_min * 60.0
    if float(np.median(steps)) >= window_s:
        return _series(valid, valid.to_numpy() - record.values(record.at_s - HOUR_S))
    now = smoothed(record, record.at_s, window_s)
    before = smoothed(record, record.at_s - HOUR_S, window_s)
    return _series(valid, np.where(record.at_s - HOUR_S >= record.at_s[0], now - before, np.nan))


def smoothed(record: RunningIntegral, when_s: Floats, window_s: float) -> Floats:
    """Return means over windows centred on the given times [s since 1970]."""
    half = window_s / 2.0
    return record.means(when_s - half, when_s + half, LEAST_SHARE_OF_SMOOTHING)


def seasonal_drift(values: pd.Series, window_days: float = 30.0, least_pct: float = 75.0) -> float:
    """Return highest minus lowest centred running mean over 30 (or 90) days.

    NaN where no window lies whole within the record with ``least_pct`` of it measured.
    """
    means = centred_mean(hourly_thinned(values), window_days, least_pct)
    known = means[~np.isnan(means)]
    return float(known.max() - known.min()) if len(known) else float("nan")


def response_weighted(values: pd.Series, time_constant_h: float) -> pd.Series:
    """Return what an object with one time constant feels of the air.

    First order, exact for steps held between readings: y += (x − y)(1 − exp(−dt/τ)). A swing of
    period P reaches it with the factor 1/√(1 + (2πτ/P)²).
    """
    valid = values.dropna()
    x = valid.to_numpy(dtype=np.float64)
    if len(x) == 0:
        return valid
    keep = np.exp(-steps_s(valid.index) / (time_constant_h * HOUR_S))
    felt = np.empty_like(x)
    felt[0] = x[0]
    for i in range(1, len(x)):
        felt[i] = x[i - 1] + (felt[i - 1] - x[i - 1]) * keep[i - 1]
    return _series(valid, felt)


def _series(like: pd.Series, values: Floats) -> pd.Series:
    return pd.Series(values, index=like.index, name=like.name)


@dataclass(frozen=True)
class CycleClass:
    """Number of cycles (a half cycle counts one half) with a range in ``[low, high)``."""

    low: float
    high: float
    cycles: float


def cycle_counts(values: pd.Series, smallest: float = SMALLEST) -> list[tuple[float, float]]:
    """Return (range, number of cycles), by range (ASTM-E1049, section 5.4.4).

    Parameters
    ----------
    values : pandas.Series, shape (n,)
        In order of time; missing readings are left out, so that a swing across a gap counts.
    smallest : float
        Swings with a smaller range are not counted; the larger ones around them are not changed.
    """
    points = turning_points(values.dropna().to_numpy(dtype=np.float64))
    points = without_small_swings(points, smallest)
    if len(points) == 2:  # the package sees nothing where nothing turns
        return [(abs(float(points[1] - points[0])), 0.5)]
    return [(float(size), float(number)) for size, number in rainflow.count_cycles(points)]


def cycle_classes(
    values: pd.Series, edges: tuple[float, ...] = CLASS_EDGES
) -> tuple[CycleClass, ...]:
    """Return the counts in classes of range; what lies below the first edge is left out."""
    counts = cycle_counts(values, edges[0])
    ranges = np.array([size for size, _ in counts])
    cycles = np.array([count for _, count in counts])
    gathered, _ = np.histogram(ranges, bins=np.array(edges), weights=cycles)
    classes = zip(edges[:-1], edges[1:], gathered, strict=True)
    return tuple(CycleClass(low, high, float(number)) for low, high, number in classes)


def turning_points(x: Floats) -> Floats:
    """Return the first value, every reversal, and the last value.

    Examples
    --------
    >>> turning_points(np.array([0.0, 1.0, 1.0, 2.0, 1.0, 3.0]))
    array([0., 2., 1., 3.])
    """
    x = x[np.append(True, np.diff(x) != 0.0)] if len(x) else x
    if len(x) < 3:
        return x
    up = np.diff(x) > 0.0
    return np.asarray(x[np.concatenate([[True], up[1:] != up[:-1], [True]])])


def without_small_swings(points: Floats, smallest: float) -> Floats:
    """Return turning points without the nested swings smaller than ``smallest``.

    A small swing between two larger ones is a closed cycle of its own: taking it out leaves the
    counting of all others as it was. Many are taken out at once, until none is left.
    """
    while len(points) > 3:
        swing = np.abs(np.diff(points))
        inner = swing[1:-1]
        closed = (inner < smallest) & (inner <= swing[:-2]) & (inner <= swing[2:])
        # Of two neighbouring closed swings only the first is taken in one pass.
        closed &= _rank_in_run(closed) % 2 == 1
        if not closed.any():
            return points
        keep = np.ones(len(points), dtype=bool)
        at = np.flatnonzero(closed) + 1
        keep[at] = False
        keep[at + 1] = False
        points = points[keep]
    return points


def _rank_in_run(marked: npt.NDArray[np.bool_]) -> npt.NDArray[np.int64]:
    """Return 1 for the first mark of each run of marks, 2 for the second…, 0 where unmarked."""
    place = np.arange(1, len(marked) + 1)
    return np.asarray(place - np.maximum.accumulate(np.where(marked, 0, place)))
