"""The likelihood of a work's inspections: what its draws show at each look, and what was seen."""

from collections.abc import Mapping, Sequence
from itertools import groupby

import numpy as np

from analysis.learning.grades import CALL, grade_log_likelihood
from analysis.learning.inspections import Inspection
from analysis.learning.likelihood_hinges import hinges_log_likelihood
from analysis.learning.likelihood_waves import wave_log_likelihood
from analysis.parameters import parameter
from analysis.results import Floats
from analysis.works import Finish

# What has to be known of each draw at the hour of a look, by the names of
# `analysis.simulation.probes`.
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
