"""What if: the plant off, a door open for the evening, another set point, on a room's next days.

None of the three is learned: no record says when a plant stood still. Each moves the band between
the ends of an assumed range of ``forecast.toml``, so its answer is wide and says so.
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

import numpy as np

from analysis.air.moist_air import rh_from_vapour_pressure, vapour_pressure_pa
from analysis.errors import OutOfRangeError
from analysis.forecast.room_ahead import RoomAhead
from analysis.parameters import parameter
from analysis.results import Floats

Moved = Callable[[Floats], Floats]


def plant_off(ahead: RoomAhead, outdoor_e_pa: Floats, from_utc: datetime) -> RoomAhead:
    """Return the days to come if plant stops: moisture and warmth go towards those outdoors.

    Parameters
    ----------
    ahead : RoomAhead
        As it would be with plant as usual.
    outdoor_e_pa : ndarray, shape (h,)
        Vapour pressure outdoors at its hours [Pa].
    """
    moisture, warmth = (parameter("forecast", "plant_off", n) for n in ("moisture_h", "warmth_h"))
    since_h = _since(ahead, from_utc)
    ends = [
        (
            _towards(outdoor_e_pa, since_h, moisture_h),
            _towards(ahead.outdoor_temp_c, since_h, warmth_h),
        )
        for moisture_h in (moisture.low, moisture.value, moisture.high)
        for warmth_h in (warmth.low, warmth.value, warmth.high)
    ]
    return _moved(ahead, ends)


def door_open(
    ahead: RoomAhead, outdoor_e_pa: Floats, from_utc: datetime, to_utc: datetime
) -> RoomAhead:
    """Return the days to come if an outer door stands open for a while.

    While it is open the room's air goes towards that outdoors; afterwards what it brought fades
    with the time constant of moisture of `plant_off`.

    Raises
    ------
    OutOfRangeError
        If the door would close before it opens.
    """
    if to_utc <= from_utc:
        raise OutOfRangeError(
            read="a door left open",
            where="its hours",
            found=f"{from_utc:%Y-%m-%d %H:%M} to {to_utc:%Y-%m-%d %H:%M}",
            expected="an end after its start",
            action="Correct the hours.",
        )
    changes = parameter("forecast", "door_open", "changes_per_h")
    fade_h = parameter("forecast", "plant_off", "moisture_h").value
    opened = np.clip(_since(ahead, from_utc), 0.0, None)
    closed = np.clip(_since(ahead, to_utc), 0.0, None)
    ends = []
    for rate in (changes.low, changes.value, changes.high):
        share = (1.0 - np.exp(-rate * (opened - closed))) * np.exp(-closed / fade_h)
        ends.append((_share(outdoor_e_pa, share), _share(ahead.outdoor_temp_c, share)))
    return _moved(ahead, ends)


def set_point(ahead: RoomAhead, rh_pct: float, from_utc: datetime) -> RoomAhead:
    """Return the days to come if plant is set to another humidity, and can hold it.

    Raises
    ------
    OutOfRangeError
        If the humidity is none.
    """
    if not 0.0 < rh_pct < 100.0:
        raise OutOfRangeError(
            read="set point",
            where="humidity",
            found=f"{rh_pct:g} %RH",
            expected="between 0 and 100 %RH",
            action="Correct it.",
        )
    reached = parameter("forecast", "set_point", "reached_h")
    within = parameter("forecast", "set_point", "held_within_pct").value
    since_h = np.clip(_since(ahead, from_utc), 0.0, None)
    slow, middle, fast = (
        1.0 - np.exp(-since_h / hours) for hours in (reached.high, reached.value, reached.low)
    )

    def gone(value: Floats, goal: float, share: Floats) -> Floats:
        return np.asarray(value + (goal - value) * share)

    ends = [
        gone(edge, rh_pct + side * within, share)
        for edge, side in ((ahead.rh_low_pct, -1.0), (ahead.rh_high_pct, 1.0))
        for share in (slow, fast)
    ]
    return replace(
        ahead,
        rh_pct=gone(ahead.rh_pct, rh_pct, middle),
        rh_low_pct=np.min(ends, axis=0),
        rh_high_pct=np.max(ends, axis=0),
    )


def _since(ahead: RoomAhead, when_utc: datetime) -> Floats:
    """Return hours since an instant, negative before it, shape (h,)."""
    instant = np.datetime64(int(when_utc.timestamp()), "s")
    return np.asarray((ahead.time_utc - instant) / np.timedelta64(1, "h"), dtype=float)


def _share(goal: Floats, share: Floats) -> Moved:
    return lambda value: np.asarray(value + (goal - value) * share)


def _towards(goal: Floats, since_h: Floats, hours: float) -> Moved:
    """Return what carries a quantity towards a goal from an instant on, hour by hour."""

    def moved(value: Floats) -> Floats:
        out, step = value.copy(), 1.0 - np.exp(-1.0 / hours)
        level = float("nan")
        for i in np.flatnonzero(since_h >= 0.0):
            level = float(value[i]) if np.isnan(level) else level + step * (goal[i] - level)
            out[i] = level
        return np.asarray(out)

    return moved


def _moved(
    ahead: RoomAhead,
    ends: list[tuple[Moved, Moved]],
) -> RoomAhead:
    """Return the band that holds every end of the assumed ranges, and its middle."""
    rh: list[Floats] = []
    rh_low: list[Floats] = []
    rh_high: list[Floats] = []
    temp: list[Floats] = []
    for moisture, warmth in ends:
        there = warmth(ahead.temp_c)
        temp.append(there)
        for edge, found in (
            (ahead.rh_pct, rh),
            (ahead.rh_low_pct, rh_low),
            (ahead.rh_high_pct, rh_high),
        ):
            held = moisture(vapour_pressure_pa(ahead.temp_c, edge))
            found.append(np.clip(rh_from_vapour_pressure(there, held), 0.0, 100.0))
    half = (ahead.temp_high_c - ahead.temp_low_c) / 2.0
    return replace(
        ahead,
        rh_pct=np.median(rh, axis=0),
        rh_low_pct=np.min(rh_low, axis=0),
        rh_high_pct=np.max(rh_high, axis=0),
        temp_c=np.median(temp, axis=0),
        temp_low_c=np.min(temp, axis=0) - half,
        temp_high_c=np.max(temp, axis=0) + half,
    )
