"""Grades of flatness, 0 to 4, as likelihoods over the slope of the surface."""

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

from analysis.errors import OutOfRangeError
from analysis.parameters import parameter
from analysis.works import Finish

Floats = npt.NDArray[np.float64]

GRADE_WORDS = {
    0: "flat",
    1: "seen only in raking light",
    2: "seen in ordinary light from the side",
    3: "seen from the front at two metres",
    4: "contact, release, crack or stain suspected: call",
}
CALL = 4
FINISH_ROWS = {Finish.GLOSSY: "glossy", Finish.SEMI_MATT: "semi_matt", Finish.MATT: "matt"}


def require_grade(grade: int) -> None:
    """Raise unless ``grade`` is one of the five.

    Raises
    ------
    OutOfRangeError
        If it is not.
    """
    if grade not in GRADE_WORDS:
        raise OutOfRangeError(
            read="inspection",
            where="grade",
            found=repr(grade),
            expected="; ".join(f"{g} {words}" for g, words in GRADE_WORDS.items()),
            action="Choose the grade again.",
        )


def thresholds_mrad(finish: Finish) -> Floats:
    """Return the slopes at which half of the observers give grade 1, 2, 3 or more, shape (3,)."""
    row = FINISH_ROWS[finish]
    return np.array([parameter("grades", row, f"grade_{g}_mrad").value for g in (1, 2, 3)])


def grade_probabilities(
    slope_mrad: Floats, finish: Finish, visible_mrad: Floats | None = None
) -> Floats:
    """Return the probability that a print of this slope is given grade 0, 1, 2 or 3.

    An observer moves on to grade g at a slope that scatters log-normally about its threshold, so
    P(grade >= g) = Phi(ln(slope / threshold_g) / ln spread). A small share of grades says nothing.

    Parameters
    ----------
    slope_mrad : array, any shape
        Largest slope of the surface [mrad].
    finish : Finish
        Surface of the print.
    visible_mrad : array, broadcastable, optional
        Visible slope (the threshold of grade 2) of each draw; the others keep their ratio to it.

    Returns
    -------
    array, shape (..., 4)
        Rows sum to 1. Grade 4 is a call for a conservator, not a slope, and has no likelihood.

    Examples
    --------
    >>> grade_probabilities(np.array([0.0, 8.0]), Finish.GLOSSY).round(1).tolist()
    [[1.0, 0.0, 0.0, 0.0], [0.0, 0.5, 0.5, 0.0]]
    """
    table = thresholds_mrad(finish)
    spread = np.log(parameter("grades", "observer", "spread_factor").value)
    slip = parameter("grades", "observer", "slip").value
    scale = np.ones(()) if visible_mrad is None else visible_mrad / table[1]
    slope = np.maximum(slope_mrad, np.finfo(np.float64).tiny)
    reach = [ndtr(np.log(slope / (threshold * scale)) / spread) for threshold in table]
    above = np.stack([np.ones_like(reach[0]), *reach, np.zeros_like(reach[0])], axis=-1)
    clear: Floats = above[..., :-1] - above[..., 1:]
    return (1.0 - slip) * clear + slip / 4.0


def grade_log_likelihood(
    grade: int, slope_mrad: Floats, finish: Finish, visible_mrad: Floats | None = None
) -> Floats:
    """Return the log likelihood of one grade for each draw; 0 for a call, which is no slope.

    Raises
    ------
    OutOfRangeError
        If the grade is not 0 to 4.
    """
    require_grade(grade)
    if grade == CALL:
        return np.zeros_like(slope_mrad)
    likelihood: Floats = np.log(grade_probabilities(slope_mrad, finish, visible_mrad)[..., grade])
    return likelihood
