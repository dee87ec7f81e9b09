"""Why humidity changed, how fast, and which sensor confirms it.

A change is split into a part from temperature and a part from moisture. RH = 100 e / e_s(T), so
ln RH changes by d ln e − d ln e_s. Each part of that sum, times the logarithmic mean of the two
humidities, is the part of the change in %RH that it makes; the two add up to the change exactly,
in whatever order they happened.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from analysis.air.moist_air import saturation_pressure_pa, vapour_pressure_pa
from analysis.air.time_weights import DAY_S, HOUR_S
from analysis.events.air_record import SUDDEN, AirRecord, EventSettings, instant
from analysis.results import Cause, Event


@dataclass(frozen=True)
class AirState:
    """Air at one moment, or the mean of a stretch."""

    temp_c: float
    rh_pct: float

    @property
    def vapour_pa(self) -> float:
        """Vapour pressure [Pa]."""
        return float(vapour_pressure_pa(self.temp_c, self.rh_pct))


@dataclass(frozen=True)
class HumiditySplit:
    """The parts of a change of humidity [%RH]; their sum is the change."""

    temperature_rh_pct: float
    moisture_rh_pct: float


def humidity_split(before: AirState, after: AirState) -> HumiditySplit:
    """Return how much of a change of humidity temperature made, and how much moisture.

    NaN where temperature is missing or the air holds no moisture.

    Examples
    --------
    >>> wetter_and_cooler = humidity_split(AirState(22.0, 45.0), AirState(18.0, 65.0))
    >>> round(wetter_and_cooler.temperature_rh_pct, 1), round(wetter_and_cooler.moisture_rh_pct, 1)
    (13.5, 6.5)
    """
    if min(before.rh_pct, after.rh_pct) <= 0:
        return HumiditySplit(float("nan"), float("nan"))
    change = float(np.log(after.rh_pct / before.rh_pct))
    flat = abs(change) < 1e-9
    mean = before.rh_pct if flat else (after.rh_pct - before.rh_pct) / change
    from_temperature = float(
        np.log(saturation_pressure_pa(before.temp_c) / saturation_pressure_pa(after.temp_c))
    )
    return HumiditySplit(mean * from_temperature, mean * (change - from_temperature))


def likely_cause(before: AirState, after: AirState, settings: EventSettings) -> Cause:
    """Return the cause that makes up at least ``settings.cause_share`` of the change."""
    split = humidity_split(before, after)
    change = after.rh_pct - before.rh_pct
    if not np.isfinite(split.moisture_rh_pct) or change == 0.0:
        return Cause.UNKNOWN
    if split.moisture_rh_pct / change >= settings.cause_share:
        return Cause.MOISTURE_ADDED if change > 0 else Cause.MOISTURE_REMOVED
    if split.temperature_rh_pct / change >= settings.cause_share:
        return Cause.COOLED if change > 0 else Cause.WARMED
    return Cause.MIXED


OUTDOORS_DRIER, OUTDOORS_DAMPER = "outdoors was drier", "outdoors was damper"
OUTDOORS_ALIKE = "outdoors held as much moisture"


def outdoors_then(cause: Cause, room: AirState, outdoor: AirState, settings: EventSettings) -> str:
    """Return how moist outdoor air was at a change of moisture, or "".

    Moisture is compared, never relative humidity.

    Examples
    --------
    >>> outdoors_then(Cause.MOISTURE_ADDED, AirState(21.0, 45.0), AirState(4.0, 90.0),
    ...     EventSettings())
    'outdoors was drier'
    """
    if cause not in (Cause.MOISTURE_ADDED, Cause.MOISTURE_REMOVED):
        return ""
    ratio = outdoor.vapour_pa / room.vapour_pa if room.vapour_pa > 0 else float("nan")
    if not np.isfinite(ratio):
        return ""
    if abs(ratio - 1.0) <= settings.cause_outdoor_margin:
        return OUTDOORS_ALIKE
    return OUTDOORS_DAMPER if ratio > 1.0 else OUTDOORS_DRIER


@dataclass(frozen=True)
class RoomRecord:
    """What every kind of event needs: the record, the record without spikes, and its company."""

    channel: str
    zone: str
    settings: EventSettings
    record: AirRecord
    calm: AirRecord
    outdoor: AirRecord | None = None
    neighbours: Mapping[str, AirRecord] = field(default_factory=dict)


@dataclass(frozen=True)
class Found:
    """An event as places in a record, before it is dressed with cause, rate and coverage.

    ``end_s`` is when it ended, where that is known better than the place ``last`` [s since 1970].
    """

    kind: str
    first: int
    peak: int
    last: int
    from_value: float
    peak_value: float
    area: float
    over: bool
    before: AirState
    after: AirState
    end_s: float | None = None


def event_of(room: RoomRecord, record: AirRecord, found: Found) -> Event:
    """Return the event with its rate, cause, coverage and confirmation."""
    size = found.peak_value - found.from_value
    confirmed = _confirmed_by(room, record, found)
    return Event(
        kind=found.kind,
        channel=room.channel,
        start_utc=record.when(found.first),
        peak_utc=record.when(found.peak),
        end_utc=record.when(found.last) if found.end_s is None else instant(found.end_s),
        from_value=round(found.from_value, 3),
        peak_value=round(found.peak_value, 3),
        size=round(size, 3),
        rate_per_h=_fastest(record, found, np.sign(size)),
        area=round(found.area, 3),
        cause=_cause(room, record, found, confirmed),
        coverage_pct=round(record.coverage_pct(found.first, found.last), 1),
        confirmed_by=confirmed,
        over=found.over,
        quantity="temp_c" if found.kind.endswith("than band") else "rh_pct",
    )


def _fastest(record: AirRecord, found: Found, sign: float) -> float:
    """Return the fastest change in one hour towards the peak, of smoothed values [per hour]."""
    begin = found.first
    if found.kind == "24-hour swing":
        begin = record.place(record.at_s[found.peak] - DAY_S)
    end = record.place(record.at_s[found.peak] + HOUR_S) + 1
    rates = sign * record.rate_rh_per_h[begin:end]
    known = rates[np.isfinite(rates)]
    return round(float(sign * known.max()), 3) if len(known) else float("nan")


def _cause(room: RoomRecord, record: AirRecord, found: Found, confirmed: str) -> str:
    if found.kind.endswith("than band"):
        return str(Cause.UNKNOWN)
    if found.kind in ("spike", "step") and _lonely(room, record, found, confirmed):
        return str(Cause.SENSOR)
    cause = likely_cause(found.before, found.after, room.settings)
    if room.outdoor is None or len(room.outdoor) == 0:
        return str(cause)
    begin, end = record.at_s[found.first] - HOUR_S, record.at_s[found.peak]
    outdoor = mean_state(room.outdoor, begin, end)
    words = outdoors_then(cause, found.before, outdoor, room.settings)
    return f"{cause}; {words}" if words else str(cause)


def _lonely(room: RoomRecord, record: AirRecord, found: Found, confirmed: str) -> bool:
    """Return whether an odd reading is one that no neighbour, though present, saw."""
    odd = bool((record.flags[found.first : found.last + 1] & int(SUDDEN)).any())
    start_s, end_s = record.at_s[found.first], record.at_s[found.last]
    present = any(n.place(end_s) > n.place(start_s) for n in room.neighbours.values())
    return odd and present and not confirmed


def _confirmed_by(room: RoomRecord, record: AirRecord, found: Found) -> str:
    start_s, end_s = record.at_s[found.first], record.at_s[found.last]
    size = found.peak_value - found.from_value
    names = []
    for name, other in room.neighbours.items():
        begin, end = other.place(start_s), other.place(end_s + HOUR_S / 2)
        if end <= begin:
            continue
        before = mean_state(other, start_s - HOUR_S, start_s).rh_pct
        start = found.from_value if _from_a_limit(found.kind) else before
        reached = np.sign(size) * (other.rh_pct[begin:end] - start)
        needed = 0.0 if _from_a_limit(found.kind) else room.settings.confirm_share * abs(size)
        if float(reached.max()) > needed:
            names.append(name)
    return ", ".join(names)


def _from_a_limit(kind: str) -> bool:
    return kind.endswith("band") or kind.startswith("sustained")


def mean_state(record: AirRecord, begin_s: float, end_s: float) -> AirState:
    """Return the mean air between two times, or the reading nearest after the first of them."""
    begin, end = record.place(begin_s), record.place(end_s + 1.0)
    if begin >= len(record):
        return AirState(float("nan"), float("nan"))
    places = slice(begin, max(end, begin + 1))
    temp, vapour = record.temp_c[places], record.vapour_pa[places]
    known = np.isfinite(vapour)
    if not known.any():
        return AirState(float("nan"), float(record.rh_pct[places].mean()))
    # Moisture and temperature are averaged, not humidity: it is these that the split compares.
    mean_temp = float(temp[known].mean())
    saturation = float(saturation_pressure_pa(mean_temp))
    return AirState(mean_temp, 100.0 * float(vapour[known].mean()) / saturation)
