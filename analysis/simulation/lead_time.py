"""Lead time: the same step run forward from the present state, in two cases."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.air.room_air import RoomAir
from analysis.errors import NotEnoughError
from analysis.results import Floats, LeadTime
from analysis.simulation.checkpoints import Checkpoint
from analysis.simulation.estimator import hourly_ahead
from analysis.simulation.layout import Sum
from analysis.simulation.priors import Draws
from analysis.works import Work


@dataclass(frozen=True)
class LeadTimeLimits:
    """How far ahead to look, and how far a trend is believed.

    Parameters
    ----------
    horizon_h : int
        Hours looked ahead.
    trend_h : int
        Hours over which the trend is taken.
    cap_rh_pct, cap_temp_k : float
        Largest change a trend is carried to.
    passes : float
        Probability whose passing is waited for.
    """

    horizon_h: int = 14 * 24
    trend_h: int = 6
    cap_rh_pct: float = 15.0
    cap_temp_k: float = 5.0
    passes: float = 0.5


def lead_time(
    works: Sequence[Work],
    draws: Mapping[str, Draws],
    last: Checkpoint,
    air: RoomAir,
    *,
    weights: Mapping[str, Floats] | None = None,
    limits: LeadTimeLimits | None = None,
) -> dict[str, LeadTime]:
    """Return, for each work held by tension, how long until waves are more likely seen than not.

    Parameters
    ----------
    works, draws, weights
        As for `analysis.simulation.estimator.run`.
    last : Checkpoint
        The present state: `Run.last`, or any checkpoint.
    air : RoomAir
        The room's air up to that instant; its last hours give the present and the trend.

    Returns
    -------
    dict of str to LeadTime
        0 where it is so already, None where it does not happen within the horizon.
    """
    limit = limits or LeadTimeLimits()
    stays = _hours_until(works, draws, last, _ahead(air, last, limit, trend=False), weights, limit)
    goes = _hours_until(works, draws, last, _ahead(air, last, limit, trend=True), weights, limit)
    horizon = float(limit.horizon_h)
    return {key: LeadTime(stays[key], goes[key], horizon) for key in stays}


def _ahead(air: RoomAir, last: Checkpoint, limit: LeadTimeLimits, *, trend: bool) -> RoomAir:
    """Return the air from the present hour on: as it is, or changing as it lately did."""
    now = np.datetime64(last.time_utc.replace(tzinfo=None), "s")
    at = int(np.searchsorted(air.time_utc, now, side="right")) - 1
    if at < 0:
        raise NotEnoughError(
            read="lead time",
            where=f"{last.time_utc:%Y-%m-%d %H:%M} UTC",
            found="no air up to this hour",
            expected="the room's air up to the present state",
            action="Give the air from which the state was worked out.",
        )
    hours = np.arange(limit.horizon_h + 1, dtype=np.float64)
    low, high = float(air.rh_low_pct[at]), float(air.rh_high_pct[at])
    rh, temp = np.zeros_like(hours), np.zeros_like(hours)
    if trend:
        recent = slice(max(at - limit.trend_h, 0), at + 1)
        middle = 0.5 * (air.rh_low_pct[recent] + air.rh_high_pct[recent])
        rh = np.clip(_slope(middle) * hours, -limit.cap_rh_pct, limit.cap_rh_pct)
        temp = np.clip(_slope(air.temp_c[recent]) * hours, -limit.cap_temp_k, limit.cap_temp_k)
    return replace(
        air,
        time_utc=now + np.arange(limit.horizon_h + 1) * np.timedelta64(3600, "s"),
        temp_c=air.temp_c[at] + temp,
        rh_low_pct=np.clip(low + rh, 0.0, 100.0),
        rh_high_pct=np.clip(high + rh, 0.0, 100.0),
        outdoor_temp_c=np.full(len(hours), air.outdoor_temp_c[at]),
        measured=np.ones(len(hours), dtype=np.bool_),
    )


def _slope(values: Floats) -> float:
    """Return the change per hour of the straight line through some hours."""
    if len(values) < 2:
        return 0.0
    return float(np.polynomial.polynomial.polyfit(np.arange(len(values)), values, 1)[1])


def _hours_until(
    works: Sequence[Work],
    draws: Mapping[str, Draws],
    last: Checkpoint,
    ahead: RoomAir,
    weights: Mapping[str, Floats] | None,
    limit: LeadTimeLimits,
) -> dict[str, float | None]:
    until: dict[str, float | None] = {}
    for work_id, sums in hourly_ahead(works, draws, ahead, last, weights=weights).items():
        passed = np.flatnonzero(sums[Sum.VISIBLE] > limit.passes)
        # the hour after the present counts as the present: it is so already
        until[work_id] = float(passed[0]) if len(passed) else None
    return until
