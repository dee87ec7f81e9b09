"""How much warmer a frame is than its room's logger, from a logger left in it."""

from datetime import timedelta

import numpy as np
import pandas as pd

from analysis.learning.paired_loggers import Pair
from analysis.parameters import parameter
from analysis.results import Range
from analysis.works import Wall, Work

LEAST = timedelta(days=3)


def frame_warmth(pair: Pair, beside_k: float | None) -> Range | None:
    """Return how much warmer a frame was than its room's logger, as ``frame_minus_logger_k`` [K].

    Parameters
    ----------
    pair : Pair
        The room and the logger in the frame at the same times.
    beside_k : float, optional
        How much more the inner logger showed than the room's in the same air, from days side by
        side [K]; None where they never hung so: then the two sensors' own doubt stays.

    Returns
    -------
    Range or None
        The mean difference; its range holds the doubt between the sensors and two deviations of
        the days' means, since lamps are not lit alike on all of them. None for less than three
        days: the lag of the frame behind the room is still in the mean of one.
    """
    if timedelta(hours=pair.record_h) < LEAST:
        return None
    known = "temp_apart_k" if beside_k is None else "temp_beside_k"
    sensors = parameter("instruments", "pair", known).value
    warmer = pd.Series(pair.temp_c - pair.room_c, pair.time_utc) - (beside_k or 0.0)
    days = warmer.resample("D").mean().dropna()
    reach = float(np.hypot(sensors, 2.0 * days.std(ddof=1)))
    mean = float(days.mean())
    return Range(mean - reach, mean, mean + reach)


def warmth_is_of_the_frame(work: Work) -> bool:
    """Whether the difference is the frame's own: an outside wall's cold would be in it too."""
    return work.wall is Wall.INSIDE and "wall" not in work.unknown
