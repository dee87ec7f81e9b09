"""Fit by output error: simulate with a half-time, compare with what was measured, minimise.

The alternative, a regression of each sample on the one before it, is biased low by sensor noise
and must not be used for slow frames (Enclosure notes, section 9).
"""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt
from scipy.optimize import least_squares
from scipy.special import chdtri, ndtri

from analysis.errors import NotEnoughError

Floats = npt.NDArray[np.float64]
# (half-times [h], shape (k,); starts, shape (k,)) -> simulated output, shape (n, k)
Simulate = Callable[[Floats, Floats], Floats]

STARTS_H = np.geomspace(1.0, 1000.0, 25)
LEAST_SAMPLES = 10
UNCERTAINTY_FLOOR = 0.10


class Bound(StrEnum):
    """What a fit can say of a half-time."""

    BOTH = "between two bounds"
    AT_LEAST = "at least"
    AT_MOST = "at most"
    NONE = "not told by this record"


@dataclass(frozen=True)
class OutputErrorFit:
    """A half-time with how well it is known.

    ``low_h`` and ``high_h`` are the 5 % and 95 % points, never closer than 10 % to
    ``half_time_h``; the side that the record cannot bound is 0 or infinite. ``profile_rms`` is
    the residual at each of ``profile_h`` with start state and a free offset refitted.
    """

    half_time_h: float
    low_h: float
    high_h: float
    bound: Bound
    offset: float
    start: float
    residual_rms: float
    lag_one: float
    standard_error_log: float
    swing: float
    residuals: Floats
    profile_h: Floats
    profile_rms: Floats


@dataclass(frozen=True)
class _Search:
    """What is fitted to what; NaN in ``observed`` where nothing was measured."""

    simulate: Simulate
    observed: Floats
    starts_h: Floats
    start_reach: tuple[float, float]
    offset: float | None

    @property
    def measured(self) -> npt.NDArray[np.bool_]:
        return np.isfinite(self.observed)


def output_error_fit(
    simulate: Simulate,
    observed: Floats,
    starts_h: Floats = STARTS_H,
    start_reach: tuple[float, float] = (-np.inf, np.inf),
    *,
    offset: float | None = None,
) -> OutputErrorFit:
    """Return the half-time whose simulated output, shifted by an offset, is nearest to a record.

    Parameters
    ----------
    simulate : callable
        From k half-times [h] and k start values to outputs of shape (n, k).
    observed : array, shape (n,)
        The record; NaN where nothing was measured.
    starts_h : array
        Half-times at which the search starts, also those of the profile [h].
    start_reach : tuple of float
        Lowest and highest start value that can be.
    offset : float, optional
        Offset of the record where it is known by other means; None: it is fitted too.

    Raises
    ------
    NotEnoughError
        With fewer than ten measured samples.
    """
    search = _Search(simulate, observed, starts_h, start_reach, offset)
    require_samples(int(search.measured.sum()))
    profile = np.array([_solve_linear(search, half_time) for half_time in starts_h])
    return _describe(search, profile[:, 0], _polish(search, profile))


def profile_rms(
    simulate: Simulate,
    observed: Floats,
    half_time_h: float,
    start_reach: tuple[float, float] = (-np.inf, np.inf),
) -> float:
    """Return the residual at one half-time [h] with offset and start refitted."""
    search = _Search(simulate, observed, np.array([half_time_h]), start_reach, None)
    return _solve_linear(search, half_time_h)[0]


def require_samples(count: int) -> None:
    """Raise unless there are enough samples for a fit."""
    if count < LEAST_SAMPLES:
        raise NotEnoughError(
            read="paired loggers",
            where="times at which both measured",
            found=str(count),
            expected=f"{LEAST_SAMPLES} or more",
            action="Check that both files cover the same days in the same clock.",
        )


def _solve_linear(search: _Search, half_time_h: float) -> tuple[float, float, float]:
    """Return (rms, start, offset) at one half-time: both enter almost linearly."""
    observed, reach = search.observed, search.start_reach
    first = float(observed[search.measured][0]) - (search.offset or 0.0)
    trial = np.clip([first - 5.0, first + 5.0], *reach)
    low, high = search.simulate(np.full(2, half_time_h), trial).T
    use = np.isfinite(observed) & np.isfinite(low)
    swing = (high - low)[use] / np.diff(trial)
    wanted = (observed - low)[use]
    # a free offset takes the means out, leaving one number to find within its reach
    level, middle = search.offset, 0.0
    if level is None:
        level, middle = float(wanted.mean()), float(swing.mean())
    push = _projected(wanted - level, swing - middle)
    start = float(np.clip(trial[0] + push, *reach))
    left = wanted - (start - trial[0]) * swing
    offset = float(left.mean()) if search.offset is None else search.offset
    return float(np.sqrt(np.mean((left - offset) ** 2))), start, offset


def _projected(wanted: Floats, along: Floats) -> float:
    power = float(along @ along)
    return float(along @ wanted) / power if power > 1e-12 else 0.0


def _polish(search: _Search, p: Floats) -> Floats:
    """Refine log half-time, start and a free offset together from every dip of the profile."""
    rms = np.concatenate([[np.inf], p[:, 0], [np.inf]])
    dips = np.flatnonzero((rms[1:-1] <= rms[:-2]) & (rms[1:-1] <= rms[2:]))
    edge = np.log(search.starts_h[[0, -1]]) + np.log([0.5, 2.0])
    low, high = search.start_reach
    free = 3 if search.offset is None else 2

    def miss(x: Floats) -> Floats:
        output = search.simulate(np.exp(x[:1]), x[1:2])[:, 0]
        level = x[2] if search.offset is None else search.offset
        gap: Floats = (output + level - search.observed)[search.measured]
        return gap

    fits = [
        least_squares(
            miss,
            np.array([np.log(search.starts_h[i]), p[i, 1], p[i, 2]])[:free],
            bounds=([edge[0], low, -np.inf][:free], [edge[1], high, np.inf][:free]),
            x_scale=[0.1, 1.0, 1.0][:free],
            diff_step=1e-4,
        )
        for i in dips
    ]
    best = min(fits, key=lambda fit: float(fit.cost))
    return np.append(best.x, [] if search.offset is None else search.offset)


def _describe(search: _Search, profile_rms: Floats, best: Floats) -> OutputErrorFit:
    output = search.simulate(np.exp(best[:1]), best[1:2])[:, 0]
    residuals = (search.observed - output - best[2])[search.measured]
    rms = float(np.sqrt(np.mean(residuals**2)))
    lag_one = _lag_one(residuals)
    effective = len(residuals) * (1.0 - lag_one) / (1.0 + lag_one)
    error = _standard_error(search, best, rms, len(residuals) / effective)
    flat = profile_rms**2 <= rms**2 * (1.0 + chdtri(1, 0.05) / max(effective, 1.0))
    low, high, bound = _bounds(best[0], error, flat, search.starts_h)
    return OutputErrorFit(
        half_time_h=float(np.exp(best[0])),
        low_h=low,
        high_h=high,
        bound=bound,
        offset=float(best[2]),
        start=float(best[1]),
        residual_rms=rms,
        lag_one=lag_one,
        standard_error_log=error,
        swing=float(np.ptp(output[search.measured])),
        residuals=residuals,
        profile_h=search.starts_h,
        profile_rms=profile_rms,
    )


def _lag_one(residuals: Floats) -> float:
    centred = residuals - residuals.mean()
    power = float(centred @ centred)
    if power == 0.0:
        return 0.0
    return float(np.clip(centred[1:] @ centred[:-1] / power, 0.0, 0.999))


def _standard_error(search: _Search, best: Floats, rms: float, inflation: float) -> float:
    """Return the standard error of log half-time, inflated for residuals that follow each other."""
    step = 0.02
    around = np.exp(best[0] + np.array([-step, step, 0.0, 0.0]))
    starts = best[1] + np.array([0.0, 0.0, -0.5, 0.5])
    outputs = search.simulate(around, starts)[search.measured]
    columns = [(outputs[:, 1] - outputs[:, 0]) / (2.0 * step), outputs[:, 3] - outputs[:, 2]]
    if search.offset is None:
        columns.append(np.ones(len(outputs)))
    jacobian = np.column_stack(columns)
    covariance = np.linalg.pinv(jacobian.T @ jacobian, rcond=1e-12) * rms**2 * inflation
    return float(np.sqrt(max(covariance[0, 0], 0.0)))


def _bounds(
    log_half_time: float, error: float, flat: npt.NDArray[np.bool_], starts: Floats
) -> tuple[float, float, Bound]:
    value = float(np.exp(log_half_time))
    reach = ndtri(0.95) * error
    low = min(value * np.exp(-reach), value * (1.0 - UNCERTAINTY_FLOOR))
    high = max(value * np.exp(reach), value * (1.0 + UNCERTAINTY_FLOOR))
    if flat[0] and flat[-1]:
        return 0.0, np.inf, Bound.NONE
    if flat[-1] or value >= starts[-1]:
        edge = starts[flat][0] if flat.any() else starts[-1]
        return float(min(edge, value)), np.inf, Bound.AT_LEAST
    if flat[0] or value <= starts[0]:
        edge = starts[flat][-1] if flat.any() else starts[0]
        return 0.0, float(max(edge, value)), Bound.AT_MOST
    return float(low), float(high), Bound.BOTH
