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
from scipy.stats import chi2, norm

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
    the residual at each of ``profile_h`` with offset and start state refitted.
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


def output_error_fit(
    simulate: Simulate,
    observed: Floats,
    starts_h: Floats = STARTS_H,
    start_reach: tuple[float, float] = (-np.inf, np.inf),
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

    Raises
    ------
    NotEnoughError
        With fewer than ten measured samples.
    """
    measured = np.isfinite(observed)
    require_samples(int(measured.sum()))
    first = float(observed[measured][0])
    profile = np.array([_solve_linear(simulate, t, observed, first, start_reach) for t in starts_h])
    best = _polish(simulate, observed, measured, starts_h, start_reach, profile)
    return _describe(simulate, observed, measured, starts_h, profile[:, 0], best)


def profile_rms(
    simulate: Simulate,
    observed: Floats,
    half_time_h: float,
    start_reach: tuple[float, float] = (-np.inf, np.inf),
) -> float:
    """Return the residual at one half-time [h] with offset and start refitted."""
    first = float(observed[np.isfinite(observed)][0])
    return _solve_linear(simulate, half_time_h, observed, first, start_reach)[0]


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


def _solve_linear(
    simulate: Simulate,
    half_time_h: float,
    observed: Floats,
    first: float,
    start_reach: tuple[float, float],
) -> tuple[float, float, float]:
    """Return (rms, start, offset) at one half-time: both enter almost linearly."""
    trial = np.clip([first - 5.0, first + 5.0], *start_reach)
    low, high = simulate(np.full(2, half_time_h), trial).T
    use = np.isfinite(observed) & np.isfinite(low)
    per_unit = (high - low)[use] / np.diff(trial)
    wanted = (observed - low)[use]
    # the offset is free: take the means out, leaving one number to find within its reach
    swing = per_unit - per_unit.mean()
    power = float(swing @ swing)
    push = float(swing @ (wanted - wanted.mean())) / power if power > 1e-12 else 0.0
    start = float(np.clip(trial[0] + push, *start_reach))
    left = wanted - (start - trial[0]) * per_unit
    return float(np.std(left)), start, float(left.mean())


def _polish(
    simulate: Simulate,
    observed: Floats,
    measured: npt.NDArray[np.bool_],
    starts: Floats,
    start_reach: tuple[float, float],
    p: Floats,
) -> Floats:
    """Refine log half-time, start and offset together from every dip of the profile."""
    rms = np.concatenate([[np.inf], p[:, 0], [np.inf]])
    dips = np.flatnonzero((rms[1:-1] <= rms[:-2]) & (rms[1:-1] <= rms[2:]))
    reach = np.log(starts[[0, -1]]) + np.log([0.5, 2.0])

    def miss(x: Floats) -> Floats:
        output = simulate(np.exp(x[:1]), x[1:2])[:, 0]
        gap: Floats = (output + x[2] - observed)[measured]
        return gap

    fits = [
        least_squares(
            miss,
            np.array([np.log(starts[i]), p[i, 1], p[i, 2]]),
            bounds=([reach[0], start_reach[0], -np.inf], [reach[1], start_reach[1], np.inf]),
            x_scale=[0.1, 1.0, 1.0],
            diff_step=1e-4,
        )
        for i in dips
    ]
    best = min(fits, key=lambda fit: float(fit.cost))
    return np.asarray(best.x, dtype=np.float64)


def _describe(
    simulate: Simulate,
    observed: Floats,
    measured: npt.NDArray[np.bool_],
    starts: Floats,
    profile_rms: Floats,
    best: Floats,
) -> OutputErrorFit:
    output = simulate(np.exp(best[:1]), best[1:2])[:, 0]
    residuals = (observed - output - best[2])[measured]
    rms = float(np.sqrt(np.mean(residuals**2)))
    lag_one = _lag_one(residuals)
    effective = len(residuals) * (1.0 - lag_one) / (1.0 + lag_one)
    error = _standard_error(simulate, best, measured, rms, len(residuals) / effective)
    flat = profile_rms**2 <= rms**2 * (1.0 + chi2.ppf(0.95, 1) / max(effective, 1.0))
    low, high, bound = _bounds(best[0], error, flat, starts)
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
        swing=float(np.ptp(output[measured])),
        residuals=residuals,
        profile_h=starts,
        profile_rms=profile_rms,
    )


def _lag_one(residuals: Floats) -> float:
    centred = residuals - residuals.mean()
    power = float(centred @ centred)
    if power == 0.0:
        return 0.0
    return float(np.clip(centred[1:] @ centred[:-1] / power, 0.0, 0.999))


def _standard_error(
    simulate: Simulate,
    best: Floats,
    measured: npt.NDArray[np.bool_],
    rms: float,
    inflation: float,
) -> float:
    """Return the standard error of log half-time, inflated for residuals that follow each other."""
    step = 0.02
    around = np.exp(best[0] + np.array([-step, step, 0.0, 0.0]))
    starts = best[1] + np.array([0.0, 0.0, -0.5, 0.5])
    outputs = simulate(around, starts)[measured]
    jacobian = np.column_stack(
        [
            (outputs[:, 1] - outputs[:, 0]) / (2.0 * step),
            outputs[:, 3] - outputs[:, 2],
            np.ones(len(outputs)),
        ]
    )
    covariance = np.linalg.pinv(jacobian.T @ jacobian, rcond=1e-12) * rms**2 * inflation
    return float(np.sqrt(max(covariance[0, 0], 0.0)))


def _bounds(
    log_half_time: float, error: float, flat: npt.NDArray[np.bool_], starts: Floats
) -> tuple[float, float, Bound]:
    value = float(np.exp(log_half_time))
    reach = norm.ppf(0.95) * error
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
