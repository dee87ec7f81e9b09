"""A work's next days: the estimator carried through the band of its room's air."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.air.room_air import HOUR_BY_HOUR, RoomAir
from analysis.forecast.room_ahead import RoomAhead, air_ahead
from analysis.results import Floats, History
from analysis.simulation.checkpoints import Checkpoint, instant
from analysis.simulation.estimator import run
from analysis.simulation.priors import Draws
from analysis.works import Work


@dataclass(frozen=True)
class WorkAhead:
    """One work through the days to come; ``history`` holds every hour with its ranges.

    ``worst_utc`` is the hour at which waves are likeliest to be seen, with ``p_worst``; None where
    nothing can be told of any hour.
    """

    work_id: str
    history: History
    worst_utc: np.datetime64 | None
    p_worst: float


def works_ahead(
    works: Sequence[Work],
    draws: Mapping[str, Draws],
    last: Checkpoint,
    air: RoomAir,
    ahead: RoomAhead,
    *,
    weights: Mapping[str, Floats] | None = None,
) -> dict[str, WorkAhead]:
    """Return what the days to come would do to the works of a room.

    Each draw takes its own way between the low and the high end of the room's band, so that a
    work's ranges hold both what is not known of the work and what is not known of the days.

    Parameters
    ----------
    works, draws, weights
        As for `analysis.simulation.estimator.run`.
    last : Checkpoint
        The present state.
    air : RoomAir
        The room's air up to that instant.
    ahead : RoomAhead
        Its next days, beginning an hour after it.
    """
    future = _joined(air, air_ahead(ahead, air), last)
    found = run(
        works,
        draws,
        future,
        since=last,
        weights=weights,
        detail_from=instant(ahead.time_utc[0]),
        keep_weeks=0,
    )
    return {key: _work(key, history) for key, history in found.histories.items()}


def _joined(air: RoomAir, future: RoomAir, last: Checkpoint) -> RoomAir:
    """Return the hour of the state and the days to come as one stretch, hour on hour."""
    now = np.datetime64(last.time_utc.replace(tzinfo=None), "s")
    at = int(np.searchsorted(air.time_utc, now, side="right")) - 1
    later = future.time_utc > now
    joined: dict[str, Any] = {
        name: np.concatenate([getattr(air, name)[at : at + 1], getattr(future, name)[later]])
        for name in HOUR_BY_HOUR
    }
    return replace(air, **joined)


def _work(work_id: str, history: History) -> WorkAhead:
    judged: npt.NDArray[np.bool_] = history.refused == ""
    if not judged.any():
        return WorkAhead(work_id, history, None, float("nan"))
    at = int(np.argmax(np.where(judged, history.p_visible, -1.0)))
    return WorkAhead(work_id, history, history.time_utc[at], float(history.p_visible[at]))
