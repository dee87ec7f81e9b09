"""The likelihood of a work's inspections: what its draws show at each look, and what was seen."""

from collections.abc import Mapping, Sequence
from itertools import groupby

import numpy as np
from scipy.special import betaln, ndtr

from analysis.learning.grades import CALL, grade_log_likelihood
from analysis.learning.inspections import Inspection
from analysis.parameters import parameter, table
from analysis.results import Floats
from analysis.simulation.drawer import log_moments
from analysis.works import Finish

# What has to be known of each draw at the hour of a look, by the names of
# `analysis.simulation.chain_state`.
LOOKED_AT = (
    "slope_mrad",
    "wave_mm",
    "overload",
    "reserve_md",
    "reserve_cd",
    "beta_md",
    "beta_cd",
    "buckle",
    "play_lag_pct",
)


def log_likelihood(
    inspections: Sequence[Inspection],
    shown: Mapping[str, Floats],
    finish: Finish,
    visible_mrad: Floats,
    mountings: Sequence[int],
) -> Floats:
    """Return the log likelihood of all inspections of one work, for each of its draws.

    Parameters
    ----------
    inspections : sequence of Inspection
        Those that count, in order, as from `analysis.learning.inspections.standing`.
    shown : mapping of str to ndarray, shape (looks, n)
        What the draws show at each look, by the names in `LOOKED_AT`; NaN where the work was not
        mounted: such a look says nothing.
    finish : Finish
        Surface of the print.
    visible_mrad : ndarray, shape (n,)
        Slope at which each draw's observer sees a wave.
    mountings : sequence of int
        Under which mounting each look fell: every mounting has hinges of its own.

    Returns
    -------
    ndarray, shape (n,)
    """
    total = np.zeros(len(visible_mrad))
    for i, one in enumerate(inspections):
        slope, wave = shown["slope_mrad"][i], shown["wave_mm"][i]
        known = np.isfinite(slope)
        found = _surface(
            one, np.where(known, slope, 0.0), np.where(known, wave, 0.0), finish, visible_mrad
        )
        total += np.where(known, found, 0.0)
    for _, group in groupby(range(len(inspections)), key=lambda i: mountings[i]):
        rows = list(group)
        total += hinges_log_likelihood([inspections[i] for i in rows], shown["overload"][rows])
    return total


def _surface(
    one: Inspection, slope_mrad: Floats, wave_mm: Floats, finish: Finish, visible_mrad: Floats
) -> Floats:
    """Return the log likelihood of one look's grade and wave height for each draw.

    It is tempered: what is seen of a surface is believed to a power below 1, since the chain
    through which it is read is not quite right.
    """
    total = np.zeros_like(slope_mrad)
    if one.grade is not None and one.grade != CALL:
        total += grade_log_likelihood(one.grade, slope_mrad, finish, visible_mrad)
    if one.wave_mm is not None:
        total += wave_log_likelihood(one.wave_mm, wave_mm)
    return np.asarray(parameter("discrepancy", "learning", "tempering").value * total)


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


ROOT_TWO_PI = np.sqrt(2.0 * np.pi)


def wave_log_likelihood(measured_mm: float, wave_mm: Floats) -> Floats:
    """Return the log likelihood of one measured wave height for each draw.

    A measured height scatters log-normally about the true one. What is below the least height that
    can be measured, 0 mm included, says just that. A small share of heights says nothing: it is
    taken for any height that a person may write down.

    Parameters
    ----------
    measured_mm : float
        As written down [mm].
    wave_mm : ndarray
        Predicted height of each draw [mm]; 0 where it is taut.

    Returns
    -------
    ndarray
        Of the same shape; a density over ln(height) where a height was measured, a probability
        where none could be.

    Examples
    --------
    >>> likely = np.exp(wave_log_likelihood(2.0, np.array([0.0, 1.0, 2.0, 4.0])))
    >>> int(likely.argmax())
    2
    """
    rows = table("grades")["wave"]
    least, slip = np.log(rows["least_mm"].value), table("grades")["observer"]["slip"].value
    spread = np.log(rows["spread_factor"].value)
    true = np.log(np.maximum(wave_mm, np.finfo(np.float64).tiny))
    middle, width = log_moments(rows["any_mm"])
    if measured_mm < rows["least_mm"].value:
        if_true, if_middle = ndtr((least - true) / spread), ndtr((least - middle) / width)
    else:
        measured = np.log(measured_mm)
        if_true, if_middle = _normal(measured, true, spread), _normal(measured, middle, width)
    return np.asarray(np.log((1.0 - slip) * if_true + slip * if_middle))


def _normal(x: float, mean: Floats | float, sd: float) -> Floats:
    """Return the density of a normal."""
    return np.asarray(np.exp(-0.5 * ((x - mean) / sd) ** 2) / (ROOT_TWO_PI * sd))
