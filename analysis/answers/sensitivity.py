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

from analysis.learning.weighted import weighted_range

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


class Doubts:
    """The draws of some parameters, ranked once, to be set against several outcomes.

    Parameters
    ----------
    parameters : mapping of str to array, shape (n,)
        The draws. Those that do not vary are left out.
    weights : array, shape (n,), optional
        Weights of the draws after learning.
    """

    def __init__(self, parameters: Mapping[str, Floats], weights: Floats | None = None) -> None:
        n = len(next(iter(parameters.values()), ()))
        self.share = _shares(n, weights)
        self.values = {k: v for k, v in parameters.items() if _varies(v, self.share)}
        self.rows = {name: row for row, name in enumerate(self.values)}
        drawn = list(self.values.values())
        self.ranks = np.array([_centred_ranks(v, self.share) for v in drawn]).reshape(-1, n)
        parts = [_members(v, self.share, PARTS) for v in drawn]
        self.members = np.array(parts).reshape(-1, PARTS, n)
        count = [_effective(v, self.share) for v in drawn]
        self.effective = float(np.median(count)) if count else 1.0

    def influences(self, outcome: Floats, names: Sequence[str] | None = None) -> list[Influence]:
        """Return the parameters by how strongly an outcome goes along with them, strongest first.

        Parameters
        ----------
        outcome : array, shape (n,)
            What became of each draw, for example its slope at one hour.
        names : sequence of str, optional
            Those that may act on it; default all.

        Returns
        -------
        list of Influence
            Empty where the outcome is the same for every draw.

        Notes
        -----
        Parameters that were drawn together go along with an outcome together: which of them acts
        cannot be told from the draws.
        """
        asked = [n for n in (self.rows if names is None else names) if n in self.rows]
        if not asked or not _varies(outcome, self.share):
            return []
        at = [self.rows[name] for name in asked]
        target = _centred_ranks(outcome, self.share)
        ranks = self.ranks[at]
        sizes = np.sqrt((ranks**2 @ self.share) * (self.share @ target**2))
        together = ranks @ (self.share * target) / sizes
        shares = _variance_shares(self.members[at], target, self.share, self.effective)
        chance = BY_CHANCE / float(np.sqrt(self.effective))
        found = [
            Influence(name, float(correlation), float(share), chance)
            for name, correlation, share in zip(asked, together, shares, strict=True)
        ]
        return sorted(found, key=lambda one: -one.strength)


def influences(
    parameters: Mapping[str, Floats], outcome: Floats, weights: Floats | None = None
) -> list[Influence]:
    """Return what an outcome goes along with, as `Doubts.influences` for one outcome.

    Examples
    --------
    >>> found = influences({"half_time_h": np.array([1.0, 2.0, 3.0])}, np.array([9.0, 4.0, 1.0]))
    >>> found[0].name, round(found[0].correlation, 6)
    ('half_time_h', -1.0)
    """
    return Doubts(parameters, weights).influences(outcome)


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
    share = _shares(len(outcome), weights)
    members, effective = _members(values, share, parts), 1.0 / float(np.sum(share**2))
    return float(_variance_shares(members[None], outcome, share, effective)[0])


def _variance_shares(members: Floats, outcome: Floats, share: Floats, effective: float) -> Floats:
    """Return the same for many parameters at once: shape (parameters, parts, n)."""
    centred = outcome - float(share @ outcome)
    weight = members.sum(axis=2)
    sums = members @ centred
    between = np.divide(sums**2, weight, out=np.zeros_like(sums), where=weight > 0.0).sum(axis=1)
    spare = effective - np.count_nonzero(weight > 0.0, axis=1)
    apart = 1.0 - between / float(share @ centred**2)
    chance = (effective - 1.0) / np.maximum(spare, 1e-9)
    return np.where(spare > 0.0, 1.0 - apart * chance, 0.0)


def ends(values: Floats, outcome: Floats, weights: Floats | None = None) -> Ends:
    """Return what an outcome is in the lowest, the middle and the highest fifth of a parameter.

    Examples
    --------
    >>> found = ends(np.arange(10.0), np.maximum(np.arange(10.0) - 7.0, 0.0))
    >>> found.low, found.high, found.low_some, found.high_some
    (0.0, 1.5, 0.0, 1.0)
    """
    share = _shares(len(outcome), weights)
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


def _shares(n: int, weights: Floats | None) -> Floats:
    if weights is None:
        return np.full(n, 1.0 / max(n, 1))
    return np.asarray(weights / weights.sum(), dtype=np.float64)


def _effective(values: Floats, share: Floats) -> float:
    """Return how many draws count: those drawn twice count once, light ones little."""
    _, which = np.unique(values, return_inverse=True)
    return 1.0 / float(np.sum(np.bincount(which, share) ** 2))


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


def _members(values: Floats, share: Floats, parts: int) -> Floats:
    """Return the weight of each draw in each part of a parameter, shape (parts, n)."""
    within = np.searchsorted(_cuts(values, share, parts), values)
    return np.where(within == np.arange(parts)[:, None], share, 0.0)


def _centred_ranks(values: Floats, share: Floats) -> Floats:
    """Return each draw's place among all, by weight, about the middle; equal values share one."""
    _, which = np.unique(values, return_inverse=True)
    mass = np.bincount(which, share)
    return np.asarray((np.cumsum(mass) - 0.5 * mass)[which] - 0.5)
