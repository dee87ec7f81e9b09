"""Wave heights, measured from valley to peak, as likelihoods over the predicted height."""

import numpy as np
from scipy.special import ndtr

from analysis.parameters import table
from analysis.results import Floats
from analysis.simulation.drawer import log_moments

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
