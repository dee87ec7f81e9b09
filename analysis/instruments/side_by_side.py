"""Two loggers in the same air: their bias, spread and lag, and the offset of their clocks."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.fft import irfft, next_fast_len, rfft

from analysis.air.time_weights import HOUR_S
from analysis.errors import NotEnoughError
from analysis.harm.condensation import at_times
from analysis.parameters import parameter
from analysis.series import require_readings, sample_interval_s, usable

Floats = npt.NDArray[np.float64]
FEWEST_PAIRS = 24


@dataclass(frozen=True)
class Agreement:
    """The second logger less the first, in one quantity.

    95 % of differences lie between ``low`` and ``high`` if they are normally spread. ``lag_s`` is
    how much later the second shows the same change, None where the records do not tell.
    """

    column: str
    pairs: int
    bias: float
    spread: float
    low: float
    high: float
    lag_s: float | None


@dataclass(frozen=True)
class ClockOffset:
    """How much later the second record shows the same changes [s], and how alike they then are."""

    offset_s: float | None
    correlation: float
    step_s: float


def agreement(
    first: pd.DataFrame, second: pd.DataFrame, column: str = "rh_pct", *, max_lag_h: float = 3.0
) -> Agreement:
    """Compare two loggers that hung side by side.

    Parameters
    ----------
    first, second : pandas.DataFrame
        Readings as in `analysis.series`, over the same days.
    column : str
        ``rh_pct`` or ``temp_c``.
    max_lag_h : float
        Longest lag that is looked for [h].

    Raises
    ------
    NotEnoughError
        If fewer than 24 readings of the first have one of the second at their time.
    """
    require_readings(first, read="readings of the first logger")
    require_readings(second, read="readings of the second logger")
    one = usable(first, column).dropna()
    two = at_times(usable(second, column), pd.DatetimeIndex(one.index))
    difference = (two - one.to_numpy())[np.isfinite(two)]
    if len(difference) < FEWEST_PAIRS:
        raise NotEnoughError(
            read="two loggers side by side",
            where=column,
            found=f"{len(difference)} readings at the same time",
            expected=f"at least {FEWEST_PAIRS}",
            action="Leave them side by side for a day or more, and check both clocks.",
        )
    bias, spread = float(difference.mean()), float(difference.std(ddof=1))
    clock = clock_offset(usable(first, column), usable(second, column), max_lag_h=max_lag_h)
    return Agreement(
        column=column,
        pairs=len(difference),
        bias=bias,
        spread=spread,
        low=bias - 1.96 * spread,
        high=bias + 1.96 * spread,
        lag_s=clock.offset_s,
    )


def clock_offset(first: pd.Series, second: pd.Series, *, max_lag_h: float = 30.0) -> ClockOffset:
    """Estimate by how much the second record runs late, from the changes both show.

    Parameters
    ----------
    first, second : pandas.Series
        One quantity of two loggers in the same air, indexed by UTC.
    max_lag_h : float
        Longest offset that is looked for [h].

    Returns
    -------
    ClockOffset
        ``offset_s`` is positive where the second shows a change later, resolved to a part of the
        sampling interval; None where the best correlation of changes is below 0.5.

    References
    ----------
    Cross-correlation of first differences; the peak by a parabola through three points.
    """
    step_s = max(_interval_s(first), _interval_s(second))
    if not np.isfinite(step_s) or first.dropna().empty or second.dropna().empty:
        return ClockOffset(None, 0.0, step_s)
    start = min(first.index[0], second.index[0])
    end = max(first.index[-1], second.index[-1])
    grid = pd.date_range(start, end, freq=pd.Timedelta(seconds=step_s))
    max_lag = round(max_lag_h * HOUR_S / step_s)
    lags, likeness = _correlations(_changes(first, grid), _changes(second, grid), max_lag)
    if len(lags) == 0:
        return ClockOffset(None, 0.0, step_s)
    best = int(np.argmax(likeness))
    correlation = float(likeness[best])
    if correlation < parameter("instruments", "clock", "correlation").value:
        return ClockOffset(None, correlation, step_s)
    return ClockOffset((float(lags[best]) + _vertex(likeness, best)) * step_s, correlation, step_s)


def _interval_s(values: pd.Series) -> float:
    return sample_interval_s(pd.DatetimeIndex(values.dropna().index))


@dataclass(frozen=True)
class _Changes:
    """First differences on a regular grid, nought where unknown, of mean nought."""

    size: Floats
    known: Floats


def _changes(values: pd.Series, grid: pd.DatetimeIndex) -> _Changes:
    change = np.diff(at_times(values, grid))
    known = np.isfinite(change)
    mean = float(change[known].mean()) if known.any() else 0.0
    return _Changes(np.where(known, change - mean, 0.0), known.astype(np.float64))


def _correlations(first: _Changes, second: _Changes, max_lag: int) -> tuple[Floats, Floats]:
    """Correlation of the changes at each lag, over the steps that both know at that lag."""
    one, two, size = first.size, second.size, len(first.size)
    lags = np.arange(-(size - 1), size)
    if size < 2:
        return np.zeros(0), np.zeros(0)
    product = _at_every_lag(two, one)
    one_power = _at_every_lag(second.known, one**2)
    two_power = _at_every_lag(two**2, first.known)
    pairs = _at_every_lag(second.known, first.known)
    power = np.sqrt(np.maximum(one_power, 0.0) * np.maximum(two_power, 0.0))
    enough = (np.abs(lags) <= max_lag) & (pairs >= FEWEST_PAIRS - 0.5) & (power > 1e-12)
    return lags[enough].astype(np.float64), np.asarray(product[enough] / power[enough])


def _at_every_lag(one: Any, two: Any) -> Floats:
    """Sum of the products at each lag; by itself, since `scipy.signal` loads all of scipy."""
    lags = len(one) + len(two) - 1
    length = next_fast_len(lags, real=True)
    return np.asarray(irfft(rfft(one, length) * rfft(two[::-1], length), length)[:lags])


def _vertex(likeness: Floats, best: int) -> float:
    """Place of the peak between three points, in steps from the middle one."""
    if not 0 < best < len(likeness) - 1:
        return 0.0
    left, middle, right = likeness[best - 1 : best + 2]
    bend = left - 2 * middle + right
    return float(0.5 * (left - right) / bend) if bend < 0 else 0.0
