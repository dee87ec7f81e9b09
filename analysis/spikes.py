"""Spikes and steps: sudden changes of humidity, measured against the trailing day.

A spike goes up (or down) by the set amount within an hour, clears the upper (lower) quartile of
the day before it, and comes back; a step does the same and stays. Once half a day of record stands
before it, the slower form counts too: the same amount within four hours.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air_record import AirRecord
from analysis.event_settings import EventSettings

Floats = npt.NDArray[np.float64]
Marks = npt.NDArray[np.bool_]
HOUR_S = 3600.0
HALF_BACK = 0.5
REACHED = 0.9
ONE_SAMPLE = 1.2
LOOK_BACK_S = 7200.0
BEFORE_S = 600.0


@dataclass(frozen=True)
class SuddenChange:
    """A spike or a step, as places in the record.

    ``first`` is the last reading before it, ``last`` the first after it (or the reading at which a
    step has arrived); ``over`` is False while it still lasts.
    """

    kind: str
    first: int
    peak: int
    last: int
    from_rh_pct: float
    peak_rh_pct: float
    over: bool


def sudden_changes(record: AirRecord, settings: EventSettings) -> list[SuddenChange]:
    """Return the spikes and steps of a record, in order of time, none within another."""
    found: list[SuddenChange] = []
    done = -1
    for place, direction, rise_s in _candidates(record, settings):
        if place <= done:
            continue
        change = _change_at(record, place, direction, rise_s, settings)
        if change is not None:
            found.append(change)
            done = change.last
    return found


def _candidates(record: AirRecord, settings: EventSettings) -> list[tuple[int, int, float]]:
    """Return (place, +1 or −1, time within which it came) of every start of a fast change."""
    candidates: dict[tuple[int, int], float] = {}
    ripe = record.at_s - record.at_s[:1] >= settings.spike_slow_record_h * HOUR_S
    for hours, allowed in (
        (settings.spike_slow_rise_h, ripe),
        (settings.spike_rise_h, np.ones(len(record), dtype=bool)),
    ):
        rise_s = max(hours * HOUR_S, ONE_SAMPLE * record.interval_s)
        for direction in (1, -1):
            values = pd.Series(direction * record.rh_pct, index=record.index)
            lowest = values.rolling(pd.Timedelta(seconds=rise_s), closed="both").min()
            fast = ((values - lowest).to_numpy() >= settings.spike_rh_pct) & allowed
            begins = fast & ~np.append(False, fast[:-1])
            for place in np.flatnonzero(begins):
                candidates[int(place), direction] = rise_s
    return [(place, direction, rise) for (place, direction), rise in sorted(candidates.items())]


def _change_at(
    record: AirRecord, place: int, direction: int, rise_s: float, settings: EventSettings
) -> SuddenChange | None:
    signed = direction * record.rh_pct
    begin = record.place(record.at_s[place] - rise_s)
    lowest = float(signed[begin : place + 1].min())
    low = np.flatnonzero(signed[begin : place + 1] <= lowest + settings.spike_calm_rh_pct)
    base = begin + int(low[-1])
    if record.at_s[base] - record.at_s[0] < settings.spike_least_trailing_h * HOUR_S:
        return None
    end = record.place(record.at_s[base] + settings.spike_longest_h * HOUR_S)
    before = _level_before(record, base, signed, settings)
    height = signed[base : max(end, place + 1)] - before
    trailing = signed[record.place(record.at_s[base] - settings.spike_trailing_h * HOUR_S) : base]
    usual = float(np.quantile(trailing, 0.75)) if len(trailing) else before
    back = _first_back(record, base, height, settings)
    top = int(np.argmax(height[: back.place - base]))
    if height[top] + before - usual < settings.spike_rh_pct:
        return None
    if not back.half_way:
        return _step(record, base, height, before, direction, settings)
    return SuddenChange(
        kind="spike",
        first=base,
        peak=base + top,
        last=min(back.place, len(record) - 1),
        from_rh_pct=direction * before,
        peak_rh_pct=float(record.rh_pct[base + top]),
        over=back.place < len(record),
    )


def _level_before(record: AirRecord, base: int, signed: Floats, settings: EventSettings) -> float:
    """Return the level from which a change set out, before it had begun to creep up.

    The median of the ten minutes before the last reading that lay close to the usual level of two
    hours.
    """
    begin = record.place(record.at_s[base] - LOOK_BACK_S)
    window = signed[begin : base + 1]
    close = window <= np.median(window) + settings.spike_calm_rh_pct / 3.0
    last = begin + int(np.flatnonzero(close)[-1])
    return float(np.median(signed[record.place(record.at_s[last] - BEFORE_S) : last + 1]))


@dataclass(frozen=True)
class _Back:
    """Place of the first reading back; whether it came half way back at all."""

    place: int
    half_way: bool


def _first_back(record: AirRecord, base: int, height: Floats, settings: EventSettings) -> _Back:
    """Return where a change has come back: to calm, else half way, else not within the time."""
    top = np.maximum.accumulate(height)
    settle_s = settings.spike_settle_min * 60.0
    at_s = record.at_s[base : base + len(height)]
    calm = np.maximum(settings.spike_calm_rh_pct, settings.spike_calm_share * top)
    ends_record = base + len(height) >= len(record)
    for still_out in (height > calm, (height > HALF_BACK * top) & (height > calm)):
        out = np.flatnonzero(still_out)
        if len(out) == 0:
            continue
        pauses = np.flatnonzero(np.diff(at_s[out]) > settle_s + ONE_SAMPLE * record.interval_s)
        last = int(out[pauses[0]] if len(pauses) else out[-1])
        if last + 1 < len(height):
            return _Back(base + last + 1, half_way=True)
    return _Back(base + len(height), half_way=ends_record)


def _step(
    record: AirRecord,
    base: int,
    height: Floats,
    before: float,
    direction: int,
    settings: EventSettings,
) -> SuddenChange | None:
    later = record.at_s[base : base + len(height)] - record.at_s[base]
    level = float(np.median(height[later >= settings.spike_longest_h * HOUR_S / 2]))
    if level < settings.spike_rh_pct / 2:
        return None
    arrived = base + int(np.argmax(height >= REACHED * level))
    return SuddenChange(
        kind="step",
        first=base,
        peak=arrived,
        last=arrived,
        from_rh_pct=direction * before,
        peak_rh_pct=direction * (before + level),
        over=True,
    )
