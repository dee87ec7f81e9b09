"""How far two records lie apart on average, over the hours in which both were measured."""

from dataclasses import dataclass

import pandas as pd

LEAST_H = 24  # of fewer hours in common nothing is said


@dataclass(frozen=True)
class MeanDifference:
    """The first record less the second on average, the share of hours below it, and all hours."""

    difference: float
    below: float
    hours: int


def mean_difference(first: pd.Series, second: pd.Series) -> MeanDifference | None:
    """Return the mean difference of two records; None where too few hours hold both.

    Parameters
    ----------
    first, second : pandas.Series
        Values by instants in UTC, NaN where not measured. Each hour counts once, with the mean of
        its readings, however often each record was read.

    Examples
    --------
    >>> at = pd.date_range("2026-03-16", periods=48, freq="30min", tz="UTC")
    >>> mean_difference(pd.Series(44.0, at), pd.Series(41.5, at))
    MeanDifference(difference=2.5, below=0.0, hours=24)
    """
    hours = [one.dropna().resample("1h").mean() for one in (first, second)]
    apart = (hours[0] - hours[1]).dropna()
    if len(apart) < LEAST_H:
        return None
    return MeanDifference(float(apart.mean()), float((apart < 0.0).mean()), len(apart))
