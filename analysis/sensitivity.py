"""Which uncertain parameter matters most, from the draws alone.

Two measures, because each is blind where the other sees. The rank correlation tells the way, but
is near zero for a parameter that acts both ways. The share of the ranks' variance that goes with
the fifths of a parameter sees that too, but knows no way. Ranks keep an outcome that is zero for
most draws from being ruled by the few that are not.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.stats import rankdata

from analysis.weighted import weighted_range

Floats = npt.NDArray[np.float64]

CLEAR = 0.3  # a measure below this is not called a cause
PARTS = 5
ROUNDING = 1e-9
BY_CHANCE = 3.0  # standard errors that unrelated draws are allowed


@dataclass(frozen=True)
class Influence:
    """How strongly a parameter goes along with an outcome, over the draws.

    Parameters
    ----------
    correlation : float
        Spearman's; positive: more of the parameter, more of the outcome.
    share : float
        Share of the variance of the outcome's ranks between fifths of the parameter, less what
        chance alone gives.
    chance : float
        What unrelated draws, as few as these, may reach.
    """

    name: str
    correlation: float
    share: float = 0.0
    chance: float = 0.0

    @property
    def strength(self) -> float:
        """The larger of the two measures, on the scale of a correlation, 0 to 1."""
        return max(abs(self.correlation), float(np.sqrt(max(self.share, 0.0))))

    @property
    def clear(self) -> bool:
        """Whether it is strong enough, and surer than chance, to be called a cause."""
        return self.strength >= max(CLEAR, self.chance)

    @property
    def both_ways(self) -> bool:
        """Whether it matters, but neither more nor less of it by itself."""
        return self.clear and abs(self.correlation) < 0.5 * self.strength


@dataclass(frozen=True)
class Ends:
    """What an outcome is where a parameter is low, middling and high, each a fifth of the draws.

    Parameters
    ----------
    below, above : float
        Values of the parameter that bound its lowest and its highest fifth.
    low, middle, high : float
        Median of the outcome in the lowest, middle and highest fifth.
    low_some, high_some : float
        Share of the draws there in which the outcome is above zero.
    """

    below: float
    above: float
    low: float
    middle: float
    high: float
    low_some: float
    high_some: float


def influences(
    parameters: Mapping[str, Floats], outcome: Floats, weights: Floats | None = None
) -> list[Influence]:
    """Return the parameters by how strongly an outcome goes along with them, strongest first.

    Parameters
    ----------
    parameters : mapping of str to array, shape (n,)
        The draws. Those that do not vary are left out.
    outcome : array, shape (n,)
        What became of each draw, for example its slope at one hour.
    weights : array, shape (n,), optional
        Weights of the draws after learning.

    Returns
    -------
    list of Influence
        Empty where the outcome is the same for every draw.

    Notes
    -----
    Parameters that were drawn together go along with an outcome together: which of them acts
    cannot be told from the draws.

    Examples
    --------
    >>> found = influences({"half_time_h": np.array([1.0, 2.0, 3.0])}, np.array([9.0, 4.0, 1.0]))
    >>> found[0].name, round(found[0].correlation, 6)
    ('half_time_h', -1.0)
    """
    share = _shares(outcome, weights)
    chance = BY_CHANCE * float(np.sqrt(np.sum(share**2)))
    if not _varies(outcome, share):
        return []
    target = _centred_ranks(outcome, share)
    found = []
    for name, values in parameters.items():
        if _varies(values, share):
            ranks = _centred_ranks(values, share)
            sizes = float(np.sqrt((share @ ranks**2) * (share @ target**2)))
            together = float(share @ (ranks * target)) / sizes
            found.append(Influence(name, together, variance_share(values, target, share), chance))
    return sorted(found, key=lambda one: -one.strength)


def variance_share(
    values: Floats, outcome: Floats, weights: Floats | None = None, parts: int = PARTS
) -> float:
    """Return the share of an outcome's variance that lies between equal parts of a parameter.

    With many draws and parts this is the first-order index of SOBOL1993. What unrelated draws
    would show between the parts is taken off, so it may fall a little below zero.

    Parameters
    ----------
    values, outcome : array, shape (n,)
    weights : array, shape (n,), optional
    parts : int
        Into how many parts of equal weight the parameter is cut; equal values stay together.
    """
    share = _shares(outcome, weights)
    within = np.searchsorted(_cuts(values, share, parts), values)
    weight = np.bincount(within, share)
    told = weight > 0.0
    means = np.bincount(within, share * outcome)[told] / weight[told]
    middle = float(share @ outcome)
    total = float(share @ (outcome - middle) ** 2)
    between = float(weight[told] @ (means - middle) ** 2)
    effective = 1.0 / float(np.sum(share**2))
    spare = effective - float(np.count_nonzero(told))
    if total <= 0.0 or spare <= 0.0:
        return 0.0
    return 1.0 - (1.0 - between / total) * (effective - 1.0) / spare


def ends(values: Floats, outcome: Floats, weights: Floats | None = None) -> Ends:
    """Return what an outcome is in the lowest, the middle and the highest fifth of a parameter.

    Examples
    --------
    >>> found = ends(np.arange(10.0), np.maximum(np.arange(10.0) - 7.0, 0.0))
    >>> found.low, found.high, found.low_some, found.high_some
    (0.0, 1.5, 0.0, 1.0)
    """
    share = _shares(outcome, weights)
    counted = share > 0.0
    values, outcome, share = values[counted], outcome[counted], share[counted]
    cuts = _cuts(values, share, PARTS)
    most = values.max()
    lowest, highest = values <= cuts[0], values > cuts[-1] if cuts[-1] < most else values == most
    middling = (values >= cuts[1]) & (values <= cuts[2])
    parts = [(outcome[p], share[p] / share[p].sum()) for p in (lowest, middling, highest)]
    low, middle, high = (weighted_range(*part).mid for part in parts)
    low_some, _, high_some = (float(weight @ (found > 0.0)) for found, weight in parts)
    above = float(values[highest].min())
    return Ends(float(cuts[0]), above, low, middle, high, low_some, high_some)


def matters_most(
    found: Sequence[Influence],
    outcome: str,
    words: Mapping[str, str],
    larger: Mapping[str, str] | None = None,
) -> str:
    """Return a sentence on the parameter that matters most.

    Parameters
    ----------
    found : sequence of Influence
        Sorted, from `influences`.
    outcome : str
        The outcome in words.
    words : mapping of str to str
        Names of the parameters in words, without an article; the name itself where one is missing.
    larger : mapping of str to str, optional
        What "more of it" is called where it is not "the larger".

    Examples
    --------
    >>> matters_most([Influence("prestrain", -0.8)], "the slope", {"prestrain": "pre-strain"})
    'What decides the slope most is the pre-strain: the larger, the less (rank correlation −0.8).'
    """
    if not found:
        return f"All draws agree on {outcome}: no parameter decides."
    first = found[0]
    name = words.get(first.name, first.name)
    if not first.clear:
        return f"No single parameter decides {outcome}; the nearest is the {name}."
    way = way_words(first, larger or {})
    return f"What decides {outcome} most is the {name}: {way} ({strength_words(first)})."


def way_words(one: Influence, larger: Mapping[str, str]) -> str:
    """Return which way a parameter acts.

    Examples
    --------
    >>> way_words(Influence("prestrain", -0.8), {}), way_words(Influence("x", 0.1, 0.4), {})
    ('the larger, the less', 'it acts both ways')
    """
    if one.both_ways:
        return "it acts both ways"
    way = "more" if one.correlation > 0.0 else "less"
    return f"{larger.get(one.name, 'the larger')}, the {way}"


def strength_words(one: Influence) -> str:
    """Return the measure that a statement rests on.

    Examples
    --------
    >>> strength_words(Influence("prestrain", -0.8)), strength_words(Influence("x", 0.1, 0.4))
    ('rank correlation −0.8', '40 % of the spread')
    """
    if one.both_ways:
        return f"{100.0 * one.share:.0f} % of the spread"
    return f"rank correlation {one.correlation:.1f}".replace("-", "\N{MINUS SIGN}")


def _shares(outcome: Floats, weights: Floats | None) -> Floats:
    if weights is None:
        return np.full(len(outcome), 1.0 / len(outcome))
    return np.asarray(weights / weights.sum(), dtype=np.float64)


def _varies(values: Floats, share: Floats) -> bool:
    """Return whether draws that count differ by more than rounding."""
    counted = values[share > 0.0]
    return bool(np.ptp(counted) > ROUNDING * np.abs(counted).max())


def _cuts(values: Floats, share: Floats, parts: int) -> Floats:
    """Return the values at which equal parts of the weight end."""
    order = np.argsort(values, kind="stable")
    reached = np.cumsum(share[order])
    # a hair below, so that the rounding of equal weights does not tip a cut to the next draw
    at = np.searchsorted(reached, np.arange(1, parts) / parts - 1e-9)
    return np.asarray(values[order][np.minimum(at, len(values) - 1)])


def _centred_ranks(values: Floats, share: Floats) -> Floats:
    ranks = np.asarray(rankdata(values), dtype=np.float64)
    return ranks - float(share @ ranks)
