"""Sensors that stand still: equal readings for longer than their resolution explains."""

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.sampling import hold_s, steps_s
from analysis.parameters import parameter

Floats = npt.NDArray[np.float64]
Marks = npt.NDArray[np.bool_]
SATURATED_RH_PCT = 99.95
FINEST = 0.01


def stuck(frame: pd.DataFrame) -> Marks:
    """Mark readings in runs of equal humidity, or of equal temperature, that last too long.

    How long is too long depends on the resolution of the sensor (see `resolution`). Saturated air
    may stand at 100 % for days and is left alone.

    Returns
    -------
    numpy.ndarray of bool, shape (n,)
    """
    rh = standing_still(frame["rh_pct"], _limit("rh_hours_per_pct"))
    saturated = frame["rh_pct"].to_numpy() >= SATURATED_RH_PCT
    temp = standing_still(frame["temp_c"], _limit("temp_hours_per_c"))
    return (rh & ~saturated) | temp


def resolution(values: Floats) -> float:
    """Return the usual smallest change of a sensor: the lowest tenth of its changes.

    Examples
    --------
    >>> resolution(np.array([50.0, 50.5, 50.5, 51.0, 52.0, 51.5, 51.5]))
    0.5
    """
    changes = np.abs(np.diff(values))
    changes = changes[changes > FINEST / 10]
    return max(float(np.quantile(changes, 0.1)), FINEST) if len(changes) else FINEST


def standing_still(values: pd.Series, hours_per_unit: float) -> Marks:
    """Mark the runs of equal values that last longer than the resolution allows, shape (n,)."""
    x = values.to_numpy(dtype=np.float64)
    marks = np.zeros(len(x), dtype=bool)
    held = np.flatnonzero(~np.isnan(x))
    if len(held) < _limit("least_readings"):
        return marks
    steps = steps_s(values.index[held])
    whole = steps <= hold_s(values.index[held])
    starts = np.flatnonzero(np.append(True, (np.diff(x[held]) != 0.0) | ~whole))
    counts = np.diff(np.append(starts, len(held)))
    clock_h = np.append(0.0, np.cumsum(steps)) / 3600.0
    lasted_h = clock_h[starts + counts - 1] - clock_h[starts]
    allowed_h = np.clip(hours_per_unit * resolution(x[held]), _limit("shortest"), _limit("longest"))
    long = (lasted_h >= allowed_h) & (counts >= _limit("least_readings"))
    marks[held] = np.repeat(long, counts)
    return marks


def _limit(name: str) -> float:
    return parameter("quality", "stuck", name).value
