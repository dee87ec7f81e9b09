"""The split of a change of humidity, by hand."""

import math

import pytest
from hypothesis import given, strategies as st

from analysis.air.moist_air import rh_from_vapour_pressure, vapour_pressure_pa
from analysis.events.air_record import EventSettings
from analysis.events.event_cause import AirState, humidity_split, likely_cause, outdoors_then
from analysis.results import Cause

SETTINGS = EventSettings()
temps = st.floats(0, 35)
rhs = st.floats(5, 95)


@given(temps, rhs, temps, rhs)
def test_the_parts_make_up_the_change(t0: float, r0: float, t1: float, r1: float) -> None:
    split = humidity_split(AirState(t0, r0), AirState(t1, r1))
    assert split.temperature_rh_pct + split.moisture_rh_pct == pytest.approx(r1 - r0, abs=1e-6)


@given(temps, rhs, st.floats(-6, 6))
def test_at_the_same_moisture_it_is_all_temperature(t: float, r: float, by: float) -> None:
    after_rh = float(rh_from_vapour_pressure(t + by, vapour_pressure_pa(t, r)))
    split = humidity_split(AirState(t, r), AirState(t + by, after_rh))
    assert split.moisture_rh_pct == pytest.approx(0.0, abs=1e-6)


@given(temps, rhs, rhs)
def test_at_the_same_temperature_it_is_all_moisture(t: float, r0: float, r1: float) -> None:
    assert humidity_split(AirState(t, r0), AirState(t, r1)).temperature_rh_pct == 0.0


@pytest.mark.parametrize(
    ("before", "after", "cause"),
    [
        (AirState(21.0, 45.0), AirState(21.0, 60.0), Cause.MOISTURE_ADDED),
        (AirState(21.0, 45.0), AirState(25.0, 60.0), Cause.MOISTURE_ADDED),
        (AirState(21.0, 45.0), AirState(21.0, 30.0), Cause.MOISTURE_REMOVED),
        (AirState(21.0, 45.0), AirState(16.0, 61.0), Cause.COOLED),
        (AirState(21.0, 45.0), AirState(26.0, 33.5), Cause.WARMED),
        (AirState(21.0, 45.0), AirState(18.5, 60.0), Cause.MIXED),
        (AirState(math.nan, 45.0), AirState(18.5, 60.0), Cause.UNKNOWN),
        (AirState(21.0, 45.0), AirState(21.0, 45.0), Cause.UNKNOWN),
    ],
)
def test_likely_causes(before: AirState, after: AirState, cause: Cause) -> None:
    assert likely_cause(before, after, SETTINGS) == cause


@pytest.mark.parametrize(
    ("cause", "outdoor", "words"),
    [
        (Cause.MOISTURE_ADDED, AirState(25.0, 80.0), "outdoors was damper"),
        (Cause.MOISTURE_ADDED, AirState(0.0, 95.0), "outdoors was drier"),
        (Cause.MOISTURE_REMOVED, AirState(0.0, 95.0), "outdoors was drier"),
        (Cause.MOISTURE_REMOVED, AirState(25.0, 80.0), "outdoors was damper"),
        (Cause.MOISTURE_ADDED, AirState(20.0, 50.0), "outdoors held as much moisture"),
        (Cause.COOLED, AirState(0.0, 95.0), ""),
        (Cause.MOISTURE_ADDED, AirState(math.nan, 95.0), ""),
    ],
)
def test_outdoor_moisture_is_compared_not_humidity(
    cause: Cause, outdoor: AirState, words: str
) -> None:
    said = outdoors_then(cause, AirState(20.0, 50.0), outdoor, SETTINGS)
    assert said.endswith(words)
    assert bool(said) is bool(words)
