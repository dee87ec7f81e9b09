"""Why humidity changed: its split into a part from temperature and a part from moisture.

RH = 100 e / e_s(T), so ln RH changes by d ln e − d ln e_s. Each part of that sum, times the
logarithmic mean of the two humidities, is the part of the change in %RH that it makes; the two add
up to the change exactly, in whatever order they happened.
"""

from dataclasses import dataclass

import numpy as np

from analysis.air.moist_air import saturation_pressure_pa, vapour_pressure_pa
from analysis.events.event_settings import EventSettings
from analysis.results import Cause


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


def outdoor_words(cause: Cause, room: AirState, outdoor: AirState, settings: EventSettings) -> str:
    """Return what outdoor air has to do with a change of moisture, or "".

    Moisture is compared, never relative humidity.

    Examples
    --------
    >>> outdoor_words(Cause.MOISTURE_ADDED, AirState(21.0, 45.0), AirState(4.0, 90.0),
    ...     EventSettings())
    'outdoor air held less moisture, so the source is indoors'
    """
    if cause not in (Cause.MOISTURE_ADDED, Cause.MOISTURE_REMOVED):
        return ""
    ratio = outdoor.vapour_pa / room.vapour_pa if room.vapour_pa > 0 else float("nan")
    if not np.isfinite(ratio):
        return ""
    if abs(ratio - 1.0) <= settings.cause_outdoor_margin:
        return "outdoor air held as much moisture"
    more, added = ratio > 1.0, cause == Cause.MOISTURE_ADDED
    held = f"outdoor air held {'more' if more else 'less'} moisture"
    inside = "the source is indoors" if added else "something indoors dries the air"
    return f"{held} and may have come in" if more == added else f"{held}, so {inside}"
