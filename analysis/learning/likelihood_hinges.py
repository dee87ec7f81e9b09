"""Hinges that were seen to hold, or to have let go, as likelihoods over their greatest load."""

from collections.abc import Sequence

import numpy as np
from scipy.special import betaln, ndtr

from analysis.learning.grades import CALL
from analysis.learning.inspections import Inspection
from analysis.parameters import table
from analysis.results import Floats


def released_probability(overload: Floats) -> Floats:
    """Return the probability that hinges have let go under the greatest load so far.

    Parameters
    ----------
    overload : ndarray
        Greatest load since mounting over short-term capacity; NaN (not mounted) counts as none.

    Returns
    -------
    ndarray
        Phi(ln(overload) / ln spread), since the capacity differs along the line of hinges.

    Examples
    --------
    >>> released_probability(np.array([0.0, 1.0, 3.0, np.nan])).round(2).tolist()
    [0.0, 0.5, 1.0, 0.0]
    """
    spread = np.log(table("grades")["release"]["spread_factor"].value)
    load = np.where(np.isfinite(overload), overload, 0.0)
    return np.asarray(ndtr(np.log(np.maximum(load, np.finfo(np.float64).tiny)) / spread))


def missed_probability(inspections: float) -> float:
    """Return the probability that a release is missed at so many looks, one after the other.

    Looks at the same release are alike: one that lies well hidden is missed again and again. Each
    release has a chance of its own to be missed, beta-distributed about the mean of the table, with
    the correlation of the table between any two looks.

    Examples
    --------
    >>> [round(missed_probability(inspections), 3) for inspections in (0, 1, 2, 12)]
    [1.0, 0.3, 0.153, 0.014]
    """
    rows = table("grades")["release"]
    missed, alike = rows["missed"].value, rows["alike"].value
    total = 1.0 / alike - 1.0
    a, b = missed * total, (1.0 - missed) * total
    return float(np.exp(betaln(a + inspections, b) - betaln(a, b)))


def hinges_log_likelihood(inspections: Sequence[Inspection], overload: Floats) -> Floats:
    """Return the log likelihood of all that looks at one line of hinges found, for each draw.

    A release happens between two looks as the greatest load grows. If it was never reported, it has
    not happened, or it was missed at every look since. If it was, it had happened by then and was
    missed before; later looks say nothing, for the line has been seen to.

    Parameters
    ----------
    inspections : sequence of Inspection
        In order, since the line was stuck. A call (grade 4) that does not speak of hinges says
        nothing of them.
    overload : ndarray, shape (looks, n)
        Greatest load so far over short-term capacity at each look.

    Returns
    -------
    ndarray, shape (n,)
    """
    held, gone = _joint(inspections, overload)
    return np.asarray(np.log(held + gone))


def released_by_then(inspections: Sequence[Inspection], overload: Floats) -> Floats:
    """Return the probability that a line of hinges had let go by the last look, given all looks.

    Parameters and shape as for `hinges_log_likelihood`.

    Examples
    --------
    >>> from datetime import UTC, datetime
    >>> flat = [Inspection(datetime(2026, 2, day, tzinfo=UTC), 0) for day in (1, 8, 15)]
    >>> released_by_then(flat, np.array([[0.1, 1.0, 4.0]] * 3)).round(2).tolist()
    [0.0, 0.09, 1.0]
    """
    held, gone = _joint(inspections, overload)
    return np.asarray(gone / (held + gone))


def _joint(inspections: Sequence[Inspection], overload: Floats) -> tuple[Floats, Floats]:
    """Return the probabilities of what was found together with "holds" and with "has let go"."""
    last = next((i for i, one in enumerate(inspections) if one.released), len(inspections) - 1)
    counts = np.array([_counts(one) for one in inspections[: last + 1]])
    gone = released_probability(overload[: last + 1])
    happened = np.diff(gone, axis=0, prepend=0.0)
    before = [missed_probability(float(counts[i:last].sum())) for i in range(last + 1)]
    missed = [missed_probability(float(counts[i:].sum())) for i in range(last + 1)]
    reported = bool(inspections[last].released)
    found = np.subtract(before, missed) if reported else np.array(missed)
    slip = table("grades")["observer"]["slip"].value
    holds = (1.0 - slip) * (0.0 if reported else 1.0) + slip / 2.0
    released = (1.0 - slip) * np.tensordot(found, happened, axes=1) + slip / 2.0 * gone[-1]
    return holds * (1.0 - gone[-1]), released


def _counts(one: Inspection) -> float:
    """Return how many looks at the hinges one inspection is worth."""
    if one.released is False:
        return table("grades")["release"]["edge_look"].value
    return 0.0 if one.grade == CALL and one.released is None else 1.0
