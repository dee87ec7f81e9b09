"""Until when works can be left: as far as the band of their room's air still says so."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from analysis.air.ahead import carried_on, ends_at
from analysis.air.room_air import RoomAir
from analysis.answers.judgement import JudgementLimits
from analysis.results import Floats
from analysis.simulation import layout
from analysis.simulation.checkpoints import Checkpoint
from analysis.simulation.estimator import hourly_ahead
from analysis.simulation.phases import DrawnPhase
from analysis.simulation.priors import Draws
from analysis.works import Work


def left_until(
    works: Sequence[Work],
    draws: Mapping[str, Draws],
    last: Checkpoint,
    air: RoomAir,
    limits: JudgementLimits,
    *,
    weights: Mapping[str, Floats] | None = None,
    earlier: Mapping[str, Sequence[DrawnPhase]] | None = None,
    ahead: RoomAir | None = None,
) -> dict[str, datetime]:
    """Return the hour from which each work would be watched, by what its room may do till then.

    Parameters
    ----------
    works, draws, weights, earlier
        As for `analysis.simulation.estimator.run`.
    last : Checkpoint
        The state at the present.
    air : RoomAir
        The room's record; from its last hour on it is carried as a widening band
        (`analysis.air.ahead.carried_on`).
    ahead : RoomAir, optional
        The same air carried on so far or further, where that is at hand.
    limits : JudgementLimits
        Of the four lists; nothing is looked at beyond their ``latest_days``.

    Returns
    -------
    dict of str to datetime
        Works that stay within the limits for all that time are left out.
    """
    if not works:
        return {}
    until = last.time_utc + timedelta(days=limits.latest_days)
    ahead = carried_on(air, until) if ahead is None else ends_at(ahead, until)
    if len(ahead.time_utc) == 1:  # nothing to look at after the record
        return {}
    found = hourly_ahead(works, draws, ahead, last, weights=weights, earlier=earlier)
    hours = {key: _first_watched(sums, limits) for key, sums in found.items()}
    # the first of these hours is the one after the present
    return {
        key: last.time_utc + timedelta(hours=at + 1) for key, at in hours.items() if at is not None
    }


def _first_watched(sums: npt.NDArray[np.float32], limits: JudgementLimits) -> int | None:
    """Return the first hour in which a chance reaches what puts a work on the second list."""
    row = layout.indices(layout.SUMS)
    most = {
        "visible": limits.watch_visible,
        "clearance": limits.first_clearance,
        "hinges": limits.first_hinges,
    }
    beyond = np.any([sums[row[name]] >= level for name, level in most.items()], axis=0)
    return int(np.argmax(beyond)) if beyond.any() else None
