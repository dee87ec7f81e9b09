"""What the chain may be off by: a yearly wave, and expansion that follows the path of damp and dry.

No chain is right, and inspections that are believed through a wrong one teach the wrong thing. So
each draw has a term of its own, a humidity at the print, by which its reserve differs as it is
*read*; nothing of it is fed back into relaxation or creep:

    reserve + beta delta,  delta = season_cos cos(w t) + season_sin sin(w t) - share (play - psi)

Half the draws have a share of 0. The heights were set on invented works that obeyed other laws
(`dashboards/guides/validation.md`).
"""

from collections.abc import Mapping
from datetime import datetime

import numpy as np
import numpy.typing as npt

from analysis.results import Floats

YEAR_S = 8766.0 * 3600.0
EPOCH = np.datetime64("2000-01-01T00", "s")


def year_angle(time_utc: npt.NDArray[np.datetime64]) -> Floats:
    """Return the angle of the year, 0 at the turn of a year [rad].

    Examples
    --------
    >>> year_angle(np.array(["2000-01-01T00", "2000-07-01T15"], dtype="datetime64[s]")).round(2)
    array([0.  , 3.14])
    """
    since = (time_utc - EPOCH).astype("timedelta64[s]").astype(np.float64)
    return np.asarray(2.0 * np.pi * np.mod(since / YEAR_S, 1.0))


def angle_at(at_utc: datetime) -> float:
    """Return the angle of the year at an instant [rad]."""
    return float(year_angle(np.array([int(at_utc.timestamp())], dtype="datetime64[s]"))[0])


def delta_psi(at: Mapping[str, Floats], row: Mapping[str, Floats], angle: float | Floats) -> Floats:
    """Return the humidity by which the chain may be off [psi].

    Parameters
    ----------
    at, row : mapping of str to ndarray
        What stays constant through a run, and the state, by the names of `layout`.
    angle : float or ndarray
        Angle of the year [rad].
    """
    season = at["season_cos"] * np.cos(angle) + at["season_sin"] * np.sin(angle)
    return np.asarray(season - at["path_share"] * play_lag(at, row))


def play_lag(at: Mapping[str, Floats], row: Mapping[str, Floats]) -> Floats:
    """Return the print's humidity as seen through the deadband, over that humidity [psi]."""
    share = at["image_share"]
    psi = share * row["psi_image"] + (1.0 - share) * row["psi_core"]
    return np.asarray(row["play"] - psi)
