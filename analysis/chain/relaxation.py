"""Stress relaxation: the log law of paper, written as a sum of exponentials.

R(t) = 1 - m log10(1 + t/60 s) is linear in m, so one fit serves every draw: with unit weights k_i
and times tau_i, the share lost is m · sum k_i (1 - exp(-t/tau_i)).
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.optimize import nnls

from analysis.parameters import parameter
from analysis.results import Floats

TERMS = 6
HOUR_S = 3600.0
YEAR_S = 8766.0 * HOUR_S
LEAST_LEFT = 0.07


@dataclass(frozen=True)
class Prony:
    """Unit weights k_i (multiply by m) and times tau_i of a fitted relaxation [1, s]."""

    weights: Floats
    times_s: Floats

    @property
    def largest_m(self) -> float:
        """The m at which 7 % of the tension is left for good: steeper draws are held here."""
        return float((1.0 - LEAST_LEFT) / self.weights.sum())


def log_law(time_s: Floats | float, m: float) -> Floats:
    """Return the share of tension left after a time at constant length [1].

    Examples
    --------
    >>> round(float(log_law(86400.0, 0.07)), 3)
    0.779
    """
    first = parameter("moisture", "relaxation", "first_s").value
    return np.asarray(1.0 - m * np.log10(1.0 + np.asarray(time_s) / first))


def power_law(time_s: Floats | float, n: float) -> Floats:
    """Return the share of tension left by the power law (1 + t/1 s)^-n [1]."""
    return np.asarray((1.0 + np.asarray(time_s)) ** -n)


@cache
def prony() -> Prony:
    """Return the fit of the log law from one hour to thirty years.

    The time constants run in equal ratios from a third of an hour to thirty years; the weights are
    non-negative least squares over equal steps of log time. Within 0.01 of the law at m = 0.07.
    """
    times = np.geomspace(0.35 * HOUR_S, 30.0 * YEAR_S, TERMS)
    at = np.geomspace(0.5 * HOUR_S, 40.0 * YEAR_S, 400)
    lost = 1.0 - log_law(at, 1.0)
    weights, _ = nnls(1.0 - np.exp(-at[:, None] / times[None, :]), np.asarray(lost))
    return Prony(np.asarray(weights, dtype=np.float64), times)


def prony_left(time_s: Floats, m: float) -> Floats:
    """Return the share of tension left by the fitted exponentials [1]."""
    fit = prony()
    at = np.atleast_1d(np.asarray(time_s, dtype=np.float64))
    lost = (1.0 - np.exp(-at[:, None] / fit.times_s[None, :])) @ fit.weights
    return np.asarray(1.0 - m * lost)
