"""Swings of humidity or temperature, by every definition in use, each under its own name.

Nobody publishes a computable definition of "±x in 24 hours"; practitioners asked for one in 2001
(DistList2001). So the definitions stand side by side, and every result names the one it used.

All of them go by time, not by count of readings; missing readings are left out and nothing is read
across a gap. Each costs one pass over the record.
"""

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.running import RunningIntegral, running_integral
from analysis.air.sampling import steps_s
from analysis.air.time_weights import DAY_S, HOUR_S, centred_mean, hourly_thinned

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
