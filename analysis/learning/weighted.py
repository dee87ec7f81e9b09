"""Weighted draws: normalised weights, effective sample size, ranges, resampling."""

import numpy as np
import numpy.typing as npt

from analysis.results import Range

Floats = npt.NDArray[np.float64]
LEVELS = (0.05, 0.50, 0.95)


def weights_of(log_likelihood: Floats) -> Floats:
    """Return weights that sum to 1 from log likelihoods, shape (n,).

    Examples
    --------
    >>> weights_of(np.log(np.array([1.0, 3.0]))).round(6).tolist()
    [0.25, 0.75]
    """
    weights = np.exp(log_likelihood - np.max(log_likelihood))
    share: Floats = weights / weights.sum()
    return share


def effective_sample_size(weights: Floats) -> float:
    """Return how many equally weighted draws would be as good (Kong 1992).

    Examples
    --------
    >>> effective_sample_size(np.array([0.5, 0.5, 0.0, 0.0]))
    2.0
    """
    return float(1.0 / np.sum(weights**2))


def weighted_range(values: Floats, weights: Floats | None = None) -> Range:
    """Return the 5, 50 and 95 % points of weighted draws, linear between their mid-ranks.

    Examples
    --------
    >>> weighted_range(np.arange(101.0))
    Range(low=4.5..., mid=49.9..., high=95.4...)
    """
    share = np.full(len(values), 1.0 / len(values)) if weights is None else weights
    order = np.argsort(values, kind="stable")
    middle = np.cumsum(share[order]) - share[order] / 2.0
    return Range(*(float(x) for x in np.interp(LEVELS, middle, values[order])))


def resampled(weights: Floats, start: float) -> npt.NDArray[np.intp]:
    """Return n indices drawn by weight, evenly spaced from ``start`` in [0, 1) (systematic)."""
    n = len(weights)
    at = (np.arange(n) + start) / n
    index: npt.NDArray[np.intp] = np.searchsorted(np.cumsum(weights) / weights.sum(), at)
    return np.minimum(index, n - 1)
