"""Spikes and steps: sudden changes of humidity, measured against the trailing day.

A spike goes up (or down) by the set amount within an hour, clears the upper (lower) quartile of
the day before it, and comes back; a step does the same and stays. Once half a day of record stands
before it, the slower form counts too: the same amount within four hours.

It begins at the knee, where the fast change leaves what was before it, be that a level or a slow
creep; it ends where the air has come back for an hour, read between the readings, so that neither
depends on how often the logger looked. What rises anew before the air has come back is part of it.
"""

from dataclasses import dataclass, replace

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
STEADY_MIN = 15
SHARP = 0.8
CLEAR = 2 / 3
TINY = 1e-9
STILL_OUT = 0.4
UPPER_QUARTILE = 0.75


@dataclass(frozen=True)
class SuddenChange:
    """A spike or a step, as places in the record.

    ``first`` is the last reading before it, ``last`` the first after it (or the reading at which a
    step has arrived); ``end_s`` is when it ended [s since 1970], which may lie before that reading;
    ``over`` is False while it still lasts.
    """

    kind: str
    first: int
    peak: int
    last: int
    end_s: float
    from_rh_pct: float
    peak_rh_pct: float
    over: bool

    @property
    def size(self) -> float:
        """Peak less what it set out from [%RH]."""
        return self.peak_rh_pct - self.from_rh_pct


@dataclass(frozen=True)
class _Side:
    """A record looked at in one direction: upwards as it is, downwards turned over.

    ``steady`` is the same without the jitter of a fast logger.
    """

    record: AirRecord
    settings: EventSettings
    direction: int
    signed: Floats
    steady: Floats

    def from_(self, place: int, hours: float) -> int:
        """Return the place of the first reading within so many hours before another."""
        return self.record.place(self.record.at_s[place] - hours * HOUR_S)


def sudden_changes(record: AirRecord, settings: EventSettings) -> list[SuddenChange]:
    """Return the spikes and steps of a record, in order of time, none within another."""
    steady = _steady(record)
    sides = [_Side(record, settings, sign, sign * record.rh_pct, sign * steady) for sign in (1, -1)]
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
        if change is None or (found and _coming_back(found[-1], change, settings)):
            continue
        if found and _nested(record, found[-1], change, settings):
            change = _joined(found.pop(), change)
        found.append(change)
        done = change.last
    return found


def _steady(record: AirRecord) -> Floats:
    """Return medians over a quarter of an hour, where readings come faster than that."""
    if record.interval_s * 3 > STEADY_MIN * 60:
        return record.rh_pct
    window = pd.Timedelta(minutes=STEADY_MIN)
    middle = record.humidity.rolling(window, center=True, closed="both").median()
    return np.asarray(middle.to_numpy(), dtype=np.float64)


def _nested(
    record: AirRecord, before: SuddenChange, change: SuddenChange, settings: EventSettings
) -> bool:
    """Whether a change begins on the spike before it, of which little more than half is gone."""
    base, size = before.from_rh_pct, before.size
    if before.kind != "spike" or change.kind != "spike" or size * change.size <= 0.0:
        return False
    if record.at_s[change.first] - record.at_s[before.first] > settings.spike_longest_h * HOUR_S:
        return False
    between = np.sign(size) * (record.rh_pct[before.last : change.first + 1] - base)
    return bool(min(np.median(between), between[-1]) > STILL_OUT * abs(size))


def _coming_back(before: SuddenChange, change: SuddenChange, settings: EventSettings) -> bool:
    """Whether a change is only the way back of the spike before it, to where that had begun."""
    if before.kind != "spike" or change.first >= before.last or before.size * change.size >= 0.0:
        return False
    beyond = np.sign(change.size) * (change.peak_rh_pct - before.from_rh_pct)
    return bool(beyond < settings.spike_rh_pct)


def _joined(first: SuddenChange, second: SuddenChange) -> SuddenChange:
    """Return two spikes of one rise as one, with the higher peak."""
    higher = max(first, second, key=lambda change: abs(change.peak_rh_pct - first.from_rh_pct))
    return replace(
        second,
        first=first.first,
        from_rh_pct=first.from_rh_pct,
        peak=higher.peak,
        peak_rh_pct=higher.peak_rh_pct,
    )


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
    base = _onset(side, place, rise_h)
    if record.at_s[base] - record.at_s[0] < settings.spike_least_trailing_h * HOUR_S:
        return None
    before = _level_at(side, base)
    reach = slice(base, max(side.from_(base, -settings.spike_longest_h), place + 1))
    height = signed[reach] - before
    trailing = signed[side.from_(base, settings.spike_trailing_h) : base]
    usual = float(np.quantile(trailing, UPPER_QUARTILE)) if len(trailing) else before
    steady = side.steady[reach] - before
    brief = float(steady.max()) < HALF_BACK * float(height.max())
    back = _first_back(record, base, height if brief else steady, settings)
    top = int(np.argmax(height[: max(back.place - base, 1)]))
    if height[top] + before - usual < settings.spike_rh_pct:
        return None
    if not back.half_way:
        return _step(side, base, height, before)
    last = min(back.place, len(record) - 1)
    return SuddenChange(
        kind="spike",
        first=base,
        peak=base + top,
        last=last,
        end_s=max(min(back.at_s, float(record.at_s[last])), float(record.at_s[base + top])),
        from_rh_pct=side.direction * before,
        peak_rh_pct=float(record.rh_pct[base + top]),
        over=back.place < len(record),
    )


def _onset(side: _Side, place: int, rise_h: float) -> int:
    """Return the last reading before a change: the knee of its rise, else its last calm reading.

    The knee is the reading that lies furthest below the straight line from two hours before the
    change to half its height; after a creep, furthest below the line from where that began. Where
    less than four fifths of a change are left above it, the rise has no knee worth the name and
    began where the air was last calm.
    """
    calm = _last_calm(side, place, rise_h)
    end = max(side.from_(place, -rise_h), place + 1)
    highest = float(side.signed[calm:end].max())
    risen = side.signed[calm:end] >= (side.signed[calm] + highest) / 2.0
    half = calm + int(np.argmax(risen))
    knee, clear = side.from_(calm, LOOK_BACK_H), side.settings.spike_calm_rh_pct * CLEAR
    while half - knee >= 2:
        at_s, values = side.record.at_s[knee : half + 1], side.signed[knee : half + 1]
        below = np.interp(at_s, at_s[[0, -1]], values[[0, -1]]) - values
        if below.max() < clear:
            break
        knee += int(np.argmax(below))
    sharp = highest - _level_at(side, knee) >= SHARP * side.settings.spike_rh_pct
    return knee if sharp else calm


def _last_calm(side: _Side, place: int, rise_h: float) -> int:
    """Return the last reading before a change that still lay close to the lowest one."""
    begin = side.from_(place, rise_h)
    window = side.signed[begin : place + 1]
    low = np.flatnonzero(window <= float(window.min()) + side.settings.spike_calm_rh_pct)
    return begin + int(low[-1])


def _level_at(side: _Side, base: int) -> float:
    """Return the level from which a change set out: the median of the ten minutes before it."""
    return float(np.median(side.signed[side.from_(base, BEFORE_H) : base + 1]))


@dataclass(frozen=True)
class _Back:
    """Place of the first reading back and the time it was back; whether it came half way at all."""

    place: int
    at_s: float
    half_way: bool


def _first_back(record: AirRecord, base: int, height: Floats, settings: EventSettings) -> _Back:
    """Return where a change has come back: to calm, else half way, else not within the time."""
    settle_s = settings.spike_settle_min * 60.0
    at_s = record.at_s[base : base + len(height)]
    top = np.maximum.accumulate(height)
    calm = np.maximum(settings.spike_calm_rh_pct, settings.spike_calm_share * top)
    ends_record = base + len(height) >= len(record)
    for limit in (calm, np.maximum(calm, HALF_BACK * top)):
        out = np.flatnonzero(height > limit)
        if len(out) == 0:
            continue
        pauses = np.flatnonzero(np.diff(at_s[out]) > settle_s + ONE_SAMPLE * record.interval_s)
        last = int(out[pauses[0]] if len(pauses) else out[-1])
        if last + 1 < len(height):
            crossed = (height[last] - limit[last]) / max(height[last] - height[last + 1], TINY)
            when = at_s[last] + min(crossed, 1.0) * (at_s[last + 1] - at_s[last])
            return _Back(base + last + 1, float(when), half_way=True)
    return _Back(base + len(height), float(at_s[-1]), half_way=ends_record)


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
        end_s=float(side.record.at_s[arrived]),
        from_rh_pct=side.direction * before,
        peak_rh_pct=side.direction * (before + level),
        over=True,
    )
