"""The mean of every hour of a record, worked out once for all the spans that are asked of it.

Works that were hung on different days have had different parts of one record. What an hour's
readings come to is the same in each of them, but for the hours at their ends.
"""

from collections.abc import Mapping, Sequence
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
KnownMeans = tuple[int, Floats]


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
    def of(cls, values: pd.Series, known: Sequence[KnownMeans] = ()) -> "HourMeans":
        """Return the means of some readings, indexed by UTC; missing ones are left out.

        ``known`` are means of hours, in order of time, that were worked out before from the same
        readings: (hour of the first, means).
        """
        fit = values.notna().to_numpy()
        found = values if fit.all() else values[fit]
        time_us, read = _times_us(pd.DatetimeIndex(found.index)), found.to_numpy(dtype=np.float64)
        if not len(time_us):
            return cls(time_us, read, 0, np.empty(0))
        first, last = _hour_of(time_us[0]), _hour_of(time_us[-1])
        dense = np.full(last - first + 1, np.nan)
        begin = first
        for at, means in [*known, (last + 1, np.empty(0))]:
            _put_means(dense, first, begin, at - 1, time_us, read)
            inside = means[max(first - at, 0) : max(last + 1 - at, 0)]
            dense[max(at - first, 0) : max(at - first, 0) + len(inside)] = inside
            begin = at + len(means)
        return cls(time_us, read, first, dense)

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
    def of(
        cls, frame: pd.DataFrame, known: Mapping[str, Sequence[KnownMeans]] | None = None
    ) -> "RecordHours":
        """Return the hours of readings as `analysis.series.readings_frame` makes them.

        ``known`` are means of ``temp_c`` and ``rh_pct`` that were worked out before, as
        `HourMeans.of` takes them.
        """
        temp, rh = (
            HourMeans.of(usable(frame, name), (known or {}).get(name, ()))
            for name in ("temp_c", "rh_pct")
        )
        return cls(temp, rh, _times_us(pd.DatetimeIndex(frame.index)))

    def interval_s(self, begin: pd.Timestamp | None, end: pd.Timestamp | None) -> float:
        """Return the median step between the readings of a span; NaN for fewer than two [s]."""
        steps_ms = np.diff(self.time_us[_between(self.time_us, begin, end)] // 1000)
        return float(np.median(steps_ms)) / 1000.0 if len(steps_ms) else float("nan")


def _put_means(
    dense: Floats, first_h: int, begin_h: int, end_h: int, time_us: Indices, values: Floats
) -> None:
    """Work out the means of the hours from one to another, both included, and put them in place."""
    begin_us, end_us = (
        (2 * hour + half) * HOUR_US // 2 for hour, half in ((begin_h, -1), (end_h, 1))
    )
    part = slice(
        int(np.searchsorted(time_us, begin_us)), int(np.searchsorted(time_us, end_us, "right"))
    )
    if begin_h > end_h or part.start >= part.stop:
        return
    hours, means = _means_of_hours(time_us[part], values[part])
    asked = (hours >= begin_h) & (hours <= end_h)
    dense[hours[asked] - first_h] = means[asked]


def _means_of_hours(time_us: Indices, values: Floats) -> tuple[Indices, Floats]:
    """Return the hours that readings belong to, in hours since 1970, and the mean of each."""
    full = pd.DatetimeIndex(time_us.astype("M8[us]")).round("h")
    means = pd.Series(values).groupby(full).mean()
    return _hours(pd.DatetimeIndex(means.index)), np.asarray(means, dtype=np.float64)


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
    hours, means = _means_of_hours(time_us[part], values[part])
    which = -1 if last else 0
    return int(hours[which]), float(means[which])


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


def _hour_of(time_us: np.int64) -> int:
    """Return the full hour nearest to an instant, in hours since 1970; of a half the even one."""
    return int(_hours(pd.DatetimeIndex([time_us.astype("M8[us]")]).round("h"))[0])


def _us(when: pd.Timestamp) -> int:
    return int(when.as_unit("ns").value) // 1000
