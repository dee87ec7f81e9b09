"""Spikes and steps: sudden changes of humidity, measured against the trailing day.

A spike goes up (or down) by the set amount within an hour, clears the upper (lower) quartile of
the day before it, and comes back; a step does the same and stays. Once half a day of record stands
before it, the slower form counts too: the same amount within four hours.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.events.air_record import AirRecord, EventSettings

Floats = npt.NDArray[np.float64]
Marks = npt.NDArray[np.bool_]
HOUR_S = 3600.0
HALF_BACK = 0.5
REACHED = 0.9
ONE_SAMPLE = 1.2
LOOK_BACK_H = 2.0
BEFORE_H = 1 / 6
UPPER_QUARTILE = 0.75


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


@dataclass(frozen=True)
class _Side:
    """A record looked at in one direction: upwards as it is, downwards turned over."""

    record: AirRecord
    settings: EventSettings
    direction: int
    signed: Floats

    def from_(self, place: int, hours: float) -> int:
        """Return the place of the first reading within so many hours before another."""
        return self.record.place(self.record.at_s[place] - hours * HOUR_S)


def sudden_changes(record: AirRecord, settings: EventSettings) -> list[SuddenChange]:
    """Return the spikes and steps of a record, in order of time, none within another."""
    sides = [_Side(record, settings, sign, sign * record.rh_pct) for sign in (1, -1)]
    starts = sorted(
        (place, -side.direction, rise_h)
        for side in sides
        for place, rise_h in _candidates(side).items()
    )
    found: list[SuddenChange] = []
    done = -1
    for place, turned, rise_h in starts:
        if place <= done:
            continue
        change = _change_at(sides[0] if turned < 0 else sides[1], place, rise_h)
        if change is not None:
            found.append(change)
            done = change.last
    return found


def _candidates(side: _Side) -> dict[int, float]:
    """Return every place at which a fast change is first seen, and the hours it took at most."""
    record, settings = side.record, side.settings
    candidates: dict[int, float] = {}
    ripe = record.at_s - record.at_s[:1] >= settings.spike_slow_record_h * HOUR_S
    values = pd.Series(side.signed, index=record.index)
    for hours, allowed in (
        (settings.spike_slow_rise_h, ripe),
        (settings.spike_rise_h, np.ones(len(record), dtype=bool)),
    ):
        rise_h = max(hours, ONE_SAMPLE * record.interval_s / HOUR_S)
        lowest = values.rolling(pd.Timedelta(hours=rise_h), closed="both").min()
        fast = ((values - lowest).to_numpy() >= settings.spike_rh_pct) & allowed
        begins = fast & ~np.append(False, fast[:-1])
        candidates |= dict.fromkeys(np.flatnonzero(begins).tolist(), rise_h)
    return candidates


def _change_at(side: _Side, place: int, rise_h: float) -> SuddenChange | None:
    """Return the spike or step that a fast change belongs to, if it clears the trailing day."""
    record, settings, signed = side.record, side.settings, side.signed
    base = _last_calm(side, place, rise_h)
    if record.at_s[base] - record.at_s[0] < settings.spike_least_trailing_h * HOUR_S:
        return None
    before = _level_before(side, base)
    height = signed[base : max(side.from_(base, -settings.spike_longest_h), place + 1)] - before
    trailing = signed[side.from_(base, settings.spike_trailing_h) : base]
    usual = float(np.quantile(trailing, UPPER_QUARTILE)) if len(trailing) else before
    back = _first_back(record, base, height, settings)
    top = int(np.argmax(height[: back.place - base]))
    if height[top] + before - usual < settings.spike_rh_pct:
        return None
    if not back.half_way:
        return _step(side, base, height, before)
    return SuddenChange(
        kind="spike",
        first=base,
        peak=base + top,
        last=min(back.place, len(record) - 1),
        from_rh_pct=side.direction * before,
        peak_rh_pct=float(record.rh_pct[base + top]),
        over=back.place < len(record),
    )


def _last_calm(side: _Side, place: int, rise_h: float) -> int:
    """Return the last reading before a change that still lay close to the lowest one."""
    begin = side.from_(place, rise_h)
    window = side.signed[begin : place + 1]
    low = np.flatnonzero(window <= float(window.min()) + side.settings.spike_calm_rh_pct)
    return begin + int(low[-1])


def _level_before(side: _Side, base: int) -> float:
    """Return the level from which a change set out, before it had begun to creep up.

    The median of the ten minutes before the last reading that lay close to the usual level of two
    hours.
    """
    begin = side.from_(base, LOOK_BACK_H)
    window = side.signed[begin : base + 1]
    close = window <= np.median(window) + side.settings.spike_calm_rh_pct / 3.0
    last = begin + int(np.flatnonzero(close)[-1])
    return float(np.median(side.signed[side.from_(last, BEFORE_H) : last + 1]))


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


def _step(side: _Side, base: int, height: Floats, before: float) -> SuddenChange | None:
    """Return a change that stayed: its level is that of the later half of the time allowed."""
    settings, at_s = side.settings, side.record.at_s
    later = at_s[base : base + len(height)] - at_s[base] >= settings.spike_longest_h * HOUR_S / 2
    level = float(np.median(height[later])) if later.any() else 0.0
    if level < settings.spike_rh_pct / 2:
        return None
    arrived = base + int(np.argmax(height >= REACHED * level))
    return SuddenChange(
        kind="step",
        first=base,
        peak=arrived,
        last=arrived,
        from_rh_pct=side.direction * before,
        peak_rh_pct=side.direction * (before + level),
        over=True,
    )
