"""Outdoor air since its last reading, where a logger is read seldom: what the season usually does.

It never counts as measured. Each hour has a low and a high end, so that what is foretold from it is
told with a wider band.
"""

import numpy as np
import pandas as pd

from analysis.series import usable

SEASON_DAYS = 21
LATELY_DAYS = 14
QUANTITIES = {"temp_c": ("temp_low_c", "temp_high_c"), "rh_pct": ("rh_low_pct", "rh_high_pct")}


def bridged_outdoors(outdoor: pd.DataFrame, until: pd.Timestamp) -> pd.DataFrame:
    """Return outdoor readings with every hour since the last one up to ``until``.

    Parameters
    ----------
    outdoor : pandas.DataFrame
        Readings, the last of which lie before ``until``.
    until : pandas.Timestamp
        A full hour.

    Returns
    -------
    pandas.DataFrame
        The readings, then by the hour the middle and, as ``temp_low_c`` … ``rh_high_pct``, the 5
        and 95 % points of what the record had at that hour of the day within three weeks of that
        day of the year; where it had none, of its last fortnight. Unchanged where nothing is
        missing.
    """
    both = pd.DataFrame({name: usable(outdoor, name) for name in QUANTITIES}).dropna()
    last = both.index[-1].floor("h")
    missing = pd.date_range(last + pd.Timedelta("1h"), until, freq="h")
    if missing.empty:
        return outdoor
    found = pd.DataFrame(index=missing)
    known = both.resample("h").mean().dropna()
    for day, hours in pd.Series(missing, index=missing).groupby(missing.normalize()):
        alike = _alike(known, pd.Timestamp(day))
        by_hour = alike.groupby(pd.DatetimeIndex(alike.index).hour)
        for name, (low, high) in QUANTITIES.items():
            for column, share in ((low, 0.05), (name, 0.5), (high, 0.95)):
                there = (
                    by_hour[name]
                    .quantile(share)
                    .reindex(range(24))
                    .interpolate(limit_direction="both")
                )
                at = pd.DatetimeIndex(hours).hour
                found.loc[hours, column] = there.to_numpy()[at]
    return pd.concat([outdoor, found.assign(flags=np.int32(0))])


def _alike(known: pd.DataFrame, day: pd.Timestamp) -> pd.DataFrame:
    """Return the hours of the record that lie near a day of the year, else the last ones."""
    times = pd.DatetimeIndex(known.index)
    apart = np.abs((times.day_of_year - day.day_of_year + 182) % 365 - 182)
    near = np.asarray(apart <= SEASON_DAYS)
    if times[near].normalize().nunique() < LATELY_DAYS:
        near = np.asarray(times > times[-1] - pd.Timedelta(days=LATELY_DAYS))
    return known.loc[near]
