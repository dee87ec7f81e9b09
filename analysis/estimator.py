"""Draws and room air → histories, probabilities and checkpoints."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import numpy.typing as npt

from analysis.priors import Draws
from analysis.results import Floats, History
from analysis.room_air import RoomAir
from analysis.works import Work

Singles = npt.NDArray[np.float32]


@dataclass(frozen=True)
class Checkpoint:
    """The whole state of some works at one instant, from which a run goes on.

    Parameters
    ----------
    time_utc : datetime
        The hour the state belongs to.
    states : mapping of str to ndarray, shape (rows, n)
        Work → its state; rows in `analysis.layout.STATE`. Works not yet mounted are absent.
    """

    time_utc: datetime
    states: Mapping[str, Singles]


@dataclass(frozen=True)
class Run:
    """What a run found.

    Parameters
    ----------
    histories : mapping of str to History
        Hourly from ``detail_from`` on. Only works held by tension have one.
    time_utc : ndarray of datetime64[s], shape (h,)
        All hours of the run.
    hourly : mapping of str to ndarray, shape (5, h)
        Per work and hour of the whole run: p_slack, p_visible, p_clearance, p_hinges, width of
        the band between low and high copy [%RH].
    checkpoints : tuple of Checkpoint
        At the week starts that were kept, oldest first.
    last : Checkpoint
        At the last hour.
    probes : mapping of str to mapping of str to ndarray
        Work → name → array of shape (instants, n): ``slope_mrad``, ``slack``, ``print_rh_pct``,
        ``tension_n_m``, ``headroom_up_pct``; NaN before mounting.
    """

    histories: Mapping[str, History]
    time_utc: npt.NDArray[np.datetime64]
    hourly: Mapping[str, Singles]
    checkpoints: tuple[Checkpoint, ...]
    last: Checkpoint
    probes: Mapping[str, Mapping[str, Floats]]


def run(
    works: Sequence[Work],
    draws: Mapping[str, Draws],
    air: RoomAir,
    *,
    since: Checkpoint | None = None,
    weights: Mapping[str, Floats] | None = None,
    detail_from: datetime | None = None,
    probe: Mapping[str, Sequence[datetime]] | None = None,
    week_starts: Sequence[datetime] | None = None,
    keep_weeks: int | None = None,
) -> Run:
    """Carry works through the hours of a room's air."""
    raise NotImplementedError
