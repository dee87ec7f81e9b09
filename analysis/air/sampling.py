"""How often a record was sampled: its steps, its usual step, and whether its clock is regular."""

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.ndimage import median_filter

from analysis.parameters import parameter

Floats = npt.NDArray[np.float64]
NEIGHBOURHOOD = 9
FEW = 20
REGULAR_WITHIN = 0.1
REGULAR_SHARE = 0.9


def steps_s(index: pd.Index) -> Floats:
    """Return the steps between times [s], shape (n − 1,)."""
    return np.asarray(np.diff(pd.DatetimeIndex(index).as_unit("ns").asi8) / 1e9)


def usual_step_s(index: pd.Index) -> float:
    """Return the step that 95 of 100 steps do not exceed [s]; NaN for fewer than two times.

    In a regular record this is the interval, however much of it is missing in long holes; in an
    irregular one it is a long but ordinary step. Of fewer than twenty steps the largest would
    decide alone: there it is three median steps at most.
    """
    steps = steps_s(index)
    if len(steps) == 0:
        return float("nan")
    long = float(np.quantile(steps, 0.95))
    return long if len(steps) >= FEW else min(long, 3.0 * float(np.median(steps)))


def usual_steps_s(index: pd.Index) -> Floats:
    """Return for each step the median of the steps around it [s], shape (n − 1,).

    It follows a logger whose interval was changed in the middle of the record.
    """
    steps = steps_s(index)
    return np.asarray(median_filter(steps, size=NEIGHBOURHOOD, mode="reflect"))


def is_regular(index: pd.Index) -> bool:
    """Return whether nine steps in ten are within a tenth of the steps around them."""
    steps = steps_s(index)
    if len(steps) < 3:
        return False
    around = usual_steps_s(index)
    return bool(np.mean(np.abs(steps - around) <= REGULAR_WITHIN * around) >= REGULAR_SHARE)


def hold_s(index: pd.Index, usual_s: float | None = None) -> Floats:
    """Return the longest step that is still no gap, for each step [s], shape (n − 1,).

    ``usual_s`` is the usual step of the record of which these times are a part; default: theirs.
    This is the one rule by which time counts as measured: ``quality.toml``, ``gap.intervals``
    times the usual step, that of the record or that of the steps around, whichever is longer.
    """
    intervals = parameter("quality", "gap", "intervals").value
    usual = usual_step_s(index) if usual_s is None else usual_s
    return np.asarray(intervals * np.maximum(usual_steps_s(index), usual))


def measured_steps_s(index: pd.Index) -> Floats:
    """Return how much of each step its two readings stand for [s], shape (n − 1,).

    All of it, or across a gap (see `hold_s`) one median step: the rest was not measured.

    Examples
    --------
    >>> hours = pd.date_range("2030-01-01", periods=30, freq="h", tz="UTC")
    >>> float(measured_steps_s(hours.delete([20, 21, 22])).max() / 3600)
    1.0
    """
    steps = steps_s(index)
    intervals = parameter("quality", "gap", "intervals").value
    if not (steps > intervals * usual_step_s(index)).any():
        return steps
    return np.where(steps <= hold_s(index), steps, float(np.median(steps)))
