"""Which uncertain parameter matters most: rank correlations of the draws with an outcome."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.stats import rankdata

Floats = npt.NDArray[np.float64]

CLEAR = 0.3  # a rank correlation below this is not called a cause


@dataclass(frozen=True)
class Influence:
    """How strongly a parameter goes along with an outcome, over the draws.

    ``correlation`` is Spearman's; positive: more of the parameter, more of the outcome.
    """

    name: str
    correlation: float


def influences(
    parameters: Mapping[str, Floats], outcome: Floats, weights: Floats | None = None
) -> list[Influence]:
    """Return the parameters by the size of their rank correlation with an outcome, largest first.

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

    Examples
    --------
    >>> found = influences({"half_time_h": np.array([1.0, 2.0, 3.0])}, np.array([9.0, 4.0, 1.0]))
    >>> found[0].name, round(found[0].correlation, 6)
    ('half_time_h', -1.0)
    """
    share = np.full(len(outcome), 1.0 / len(outcome)) if weights is None else weights
    target = _centred_ranks(outcome, share)
    power = float(share @ target**2)
    found = []
    for name, values in parameters.items():
        ranks = _centred_ranks(values, share)
        spread = float(share @ ranks**2)
        if spread > 0.0 and power > 0.0:
            together = float(share @ (ranks * target))
            found.append(Influence(name, together / float(np.sqrt(spread * power))))
    return sorted(found, key=lambda one: -abs(one.correlation))


def matters_most(found: Sequence[Influence], outcome: str, words: Mapping[str, str]) -> str:
    """Return a sentence on the parameter that matters most.

    Parameters
    ----------
    found : sequence of Influence
        Sorted, from `influences`.
    outcome : str
        The outcome in words.
    words : mapping of str to str
        Names of the parameters in words; the name itself where one is missing.

    Examples
    --------
    >>> matters_most([Influence("prestrain", -0.8)], "the slope", {"prestrain": "the pre-strain"})
    'What decides the slope most is the pre-strain: the larger, the less (rank correlation -0.8).'
    """
    if not found:
        return f"All draws agree on {outcome}: no parameter decides."
    first = found[0]
    name = words.get(first.name, first.name)
    if abs(first.correlation) < CLEAR:
        return f"No single parameter decides {outcome}; the nearest is {name}."
    way = "more" if first.correlation > 0.0 else "less"
    return (
        f"What decides {outcome} most is {name}: the larger, the {way} "
        f"(rank correlation {first.correlation:.1f})."
    )


def _centred_ranks(values: Floats, share: Floats) -> Floats:
    ranks = np.asarray(rankdata(values), dtype=np.float64)
    return ranks - float(share @ ranks)
