"""The mean of every hour of a record, worked out once for all the spans that are asked of it.

Works that were hung on different days have had different parts of one record. What an hour's
readings come to is the same in each of them, but for the hours at their ends.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.results import Floats
from analysis.series import usable

BRIDGE_INTERVALS = 2.2
BRIDGE_LIMIT_H = 3.0
HOUR_S = 3600
HOUR_US = HOUR_S * 1_000_000
Indices = npt.NDArray[np.int64]


@dataclass(frozen=True)
class HourMeans:
    """The usable readings of one quantity, and the mean of the half hours around each full hour.

    Parameters
    ----------
    time_us : ndarray of int64, shape (n,)
        Times of the readings that may be used, sorted [µs since 1970].
    values : ndarray, shape (n,)
        The readings.
    first_h : int
        Hour of the first mean, in hours since 1970.
    means : ndarray, shape (h,)
        Mean around each hour from there on; NaN where nothing was read.
    """

    time_us: Indices
    values: Floats
    first_h: int
    means: Floats

    @classmethod
    def of(cls, values: pd.Series) -> "HourMeans":
        """Return the means of some readings, indexed by UTC; missing ones are left out."""
        fit = values.notna().to_numpy()
        known = values if fit.all() else values[fit]
        index = pd.DatetimeIndex(known.index)
        means = known.groupby(index.round("h")).mean()
        hours = _hours(pd.DatetimeIndex(means.index))
        first = int(hours[0]) if len(hours) else 0
        dense = np.full(int(hours[-1]) - first + 1 if len(hours) else 0, np.nan)
        dense[hours - first] = means.to_numpy()
        return cls(_times_us(index), known.to_numpy(dtype=np.float64), first, dense)

    def at(
        self,
        grid: pd.DatetimeIndex,
        interval_s: float,
        begin: pd.Timestamp | None = None,
        end: pd.Timestamp | None = None,
    ) -> Floats:
        """Return the mean around each full hour; near misses are interpolated, shape (h,).

        Parameters
        ----------
        grid : pandas.DatetimeIndex, shape (h,)
            Full hours, one after another.
        interval_s : float
            Usual step of the record: a hole of a few of them is bridged [s].
        begin, end : pandas.Timestamp, optional
            Only readings from ``begin`` to ``end`` count, both included; None: all.
        """
        at = np.full(len(grid), np.nan)
        part = _between(self.time_us, begin, end)
        time_us, values = self.time_us[part], self.values[part]
        if not len(time_us):
            return at
        hours = _hours(grid)
        ends = _mean_of(time_us, values, last=False), _mean_of(time_us, values, last=True)
        inside = (hours > ends[0][0]) & (hours < ends[1][0])
        at[inside] = self.means[hours[inside] - self.first_h]
        for hour, mean in ends:
            at[hours == hour] = mean
        _bridge(at, hours * HOUR_S, time_us, values, interval_s)
        return at


@dataclass(frozen=True)
class RecordHours:
    """The hours of a room's whole record, and the usual step of its readings.

    Parameters
    ----------
    temp_c, rh_pct : HourMeans
        Usable readings of temperature and humidity, and their means.
    time_us : ndarray of int64, shape (n,)
        Times of all readings, usable or not [µs since 1970].
    """

    temp_c: HourMeans
    rh_pct: HourMeans
    time_us: Indices

    @classmethod
    def of(cls, frame: pd.DataFrame) -> "RecordHours":
        """Return the hours of readings as `analysis.series.readings_frame` makes them."""
        temp, rh = (HourMeans.of(usable(frame, name)) for name in ("temp_c", "rh_pct"))
        return cls(temp, rh, _times_us(pd.DatetimeIndex(frame.index)))

    def interval_s(self, begin: pd.Timestamp | None, end: pd.Timestamp | None) -> float:
        """Return the median step between the readings of a span; NaN for fewer than two [s]."""
        steps_ms = np.diff(self.time_us[_between(self.time_us, begin, end)] // 1000)
        return float(np.median(steps_ms)) / 1000.0 if len(steps_ms) else float("nan")


def _between(time_us: Indices, begin: pd.Timestamp | None, end: pd.Timestamp | None) -> slice:
    """Return the places of the times from one instant to another, both included."""
    first = 0 if begin is None else int(np.searchsorted(time_us, _us(begin)))
    stop = len(time_us) if end is None else int(np.searchsorted(time_us, _us(end), "right"))
    return slice(first, stop)


def _mean_of(time_us: Indices, values: Floats, *, last: bool) -> tuple[int, float]:
    """Return the first or last hour that readings belong to, and the mean of those of it."""
    if last:
        part = slice(int(np.searchsorted(time_us, time_us[-1] - HOUR_US)), None)
    else:
        part = slice(None, int(np.searchsorted(time_us, time_us[0] + HOUR_US, "right")))
    hours = pd.DatetimeIndex(time_us[part].astype("M8[us]")).round("h")
    means = pd.Series(values[part]).groupby(hours).mean()
    which = -1 if last else 0
    return int(_hours(pd.DatetimeIndex(means.index))[which]), float(means.iloc[which])


def _bridge(
    at: Floats, hours_s: Indices, time_us: Indices, values: Floats, interval_s: float
) -> None:
    """Put a value read off the line between two readings near it where an hour has none."""
    missing = np.flatnonzero(np.isnan(at))
    if not len(missing):
        return
    hours, stamps = hours_s[missing], time_us // 1_000_000
    after = np.searchsorted(stamps, hours)
    inside = (after > 0) & (after < len(stamps))
    reach = min(max(interval_s * BRIDGE_INTERVALS, float(HOUR_S)), BRIDGE_LIMIT_H * HOUR_S)
    left, right = stamps[np.maximum(after - 1, 0)], stamps[np.minimum(after, len(stamps) - 1)]
    bridged = inside & (right - left <= reach)
    if bridged.any():
        at[missing[bridged]] = np.interp(hours[bridged], stamps, values)


def _times_us(index: pd.DatetimeIndex) -> Indices:
    """Return times in µs; those of the index itself where it holds them so, not a copy."""
    return (index if index.unit == "us" else index.as_unit("us")).asi8


def _hours(index: pd.DatetimeIndex) -> Indices:
    return np.asarray(index.as_unit("s").asi8 // HOUR_S)


def _us(when: pd.Timestamp) -> int:
    return int(when.as_unit("ns").value) // 1000
