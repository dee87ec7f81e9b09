"""Works of one kind teach each other: what was measured of some narrows it for the others.

Only what was *measured* is pooled. The logarithm of a number is taken to be normal over the works
of a class, about a middle and with a spread that are themselves uncertain; together they are as
wide as the table's range, so that a class of which nothing was measured keeps just that range.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.special import ndtr

from analysis.parameters import parameter
from analysis.results import Floats, Range
from analysis.works import Override

# Each number with the facts that make a class of it.
CLASS_FACTS: Mapping[str, tuple[str, ...]] = {
    "beta_md": ("paper", "finish"),
    "beta_cd": ("paper", "finish"),
    "thickness_mm": ("paper", "finish"),
    "wavelength_m": ("paper", "finish"),
    "panel_half_time_h": ("panel",),
    "half_time_h": ("frame",),
    "hinge_free_length_mm": ("adhesive",),
    "hinge_coverage": ("adhesive",),
}
ALIKE = np.linspace(0.05, 1.0, 20)  # share of the table's variance that lies between works
# In deviations of the prior from its mean: where a class may have its middle, and a further work.
CENTRES = np.linspace(-4.0, 4.0, 161)
FURTHER = np.linspace(-5.0, 5.0, 801)
TWO = 2.0  # low and high of a range lie two deviations off, in logarithms


@dataclass(frozen=True)
class ClassSummary:
    """What is known of a number for a class of works.

    Parameters
    ----------
    name : str
        The number, a key of `CLASS_FACTS`.
    kind : tuple of (fact, value)
        The class, for example (("frame", "D"),).
    value, low, high : float
        Middle, and two deviations of the logarithm to either side, of a work not measured yet.
    works : tuple of str
        The works it was measured of.
    prior : str
        Name of the museum whose summary it began with, "" for the table's range.
    """

    name: str
    kind: tuple[tuple[str, str], ...]
    value: float
    low: float
    high: float
    works: tuple[str, ...]
    prior: str = ""


def pooled(prior: Range, measured: Sequence[Override]) -> Range:
    """Return what is to be expected of a further work of a class.

    Parameters
    ----------
    prior : Range
        What is expected of a work while nothing was measured: low and high are two deviations of
        the logarithm from the middle.
    measured : sequence of Override
        The number of each measured work, with its range.

    Returns
    -------
    Range
        Of the same meaning. Without measurements it is the prior.

    Notes
    -----
    With m, s the prior's mean and deviation in logarithms: mu ~ N(m, (1 - a) s²), a work's number
    ~ N(mu, a s²), its measurement about that. How alike works are, a, is uncertain as well. A small
    share of works is odd: such a one says nothing of its class.

    Examples
    --------
    >>> found = pooled(Range(4.0, 18.0, 81.0), [])
    >>> [round(x, 1) for x in (found.low, found.mid, found.high)]
    [4.0, 18.0, 81.0]
    """
    if not measured:
        return prior
    mean, spread = _moments(prior)
    odd = parameter("measuring", "pooling", "odd_share").value
    at = mean + spread * CENTRES
    between = ALIKE * spread * spread
    log_p = _centre(at[:, None], mean, np.maximum(1.0 - ALIKE, 1e-3) * spread * spread)
    for one in measured:
        y, error = _moments(Range(one.low, one.value, one.high))
        usual = _normal(y, at[:, None], between + error * error)
        unusual = _normal(y, mean, 4.0 * spread * spread + error * error)
        log_p = log_p + np.log((1.0 - odd) * usual + odd * unusual)
    weights = np.exp(log_p - log_p.max())
    weights /= weights.sum()
    return _foreseen(weights, prior, odd)


def _foreseen(weights: Floats, prior: Range, odd: float) -> Range:
    """Return middle and both ends of what a further work may be, odd ones included."""
    mean, spread = _moments(prior)
    below = (1.0 - odd) * (_chance_below() @ weights.ravel()) + odd * ndtr(FURTHER)
    two = float(ndtr(TWO))
    ends = np.interp([1.0 - two, 0.5, two], below, FURTHER)
    low, mid, high = np.exp(mean + spread * ends)
    return Range(float(low), float(mid), float(high))


@cache
def _chance_below() -> Floats:
    """Return how likely a further work lies below each place, by centre and share alike (20 MB).

    All are counted in the prior's deviations from its mean, so that every class shares them.
    """
    away = FURTHER[:, None, None] - CENTRES[None, :, None]
    return np.asarray(ndtr(away / np.sqrt(ALIKE)).reshape(len(FURTHER), -1))


def elsewhere(summary: Range) -> Range:
    """Return another museum's summary as a prior: wider, for its works are others."""
    mean, spread = _moments(summary)
    spread *= parameter("measuring", "pooling", "elsewhere").value
    ends = np.exp(mean + TWO * spread * np.array([-1.0, 0.0, 1.0]))
    return Range(*(float(x) for x in ends))


def _moments(stated: Range) -> tuple[float, float]:
    """Return mean and deviation of the logarithm; low and high lie two deviations off."""
    spread = float(np.log(stated.high / stated.low)) / (2.0 * TWO)
    return float(np.log(stated.mid)), max(spread, 1e-3)


def _centre(x: Floats, mean: float, variance: Floats) -> Floats:
    return np.asarray(-0.5 * (x - mean) ** 2 / variance - 0.5 * np.log(variance))


def _normal(x: float, mean: Floats | float, variance: Floats | float) -> Floats:
    found = np.exp(-0.5 * (x - np.asarray(mean)) ** 2 / variance) / np.sqrt(2.0 * np.pi * variance)
    return np.asarray(np.maximum(found, 1e-300))
