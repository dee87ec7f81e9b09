"""Mould index: closed forms and own Euler runs of Hukka and Viitanen, classes of 2010."""

import numpy as np
import numpy.typing as npt
import pandas as pd
import pytest
from hypothesis import given, settings, strategies as st
from hypothesis.extra.numpy import arrays
from scipy.integrate import solve_ivp

from analysis.harm.mould import (
    HEALTH_CAUTION,
    Sensitivity,
    hourly_mould_index,
    largest_index,
    mould_history,
    onset_rh_pct,
    weeks_to_begin,
)
from analysis.series import readings_frame

Floats = npt.NDArray[np.float64]
VERY, SENSITIVE = Sensitivity.VERY_SENSITIVE, Sensitivity.SENSITIVE
MEDIUM, RESISTANT = Sensitivity.MEDIUM_RESISTANT, Sensitivity.RESISTANT
DAY = 24


def constant(
    temp_c: float, rh_pct: float, days: float, *, start: float = 0.0, step_h: float = 1.0
) -> Floats:
    temps = np.full(round(days * DAY / step_h), temp_c)
    return hourly_mould_index(temps, np.full(len(temps), rh_pct), VERY, start=start, step_h=step_h)


# HukkaViitanen1999: RHcrit = −0.00267 T³ + 0.160 T² − 3.13 T + 100 up to 20 °C, at least RHmin
@pytest.mark.parametrize(
    ("temp_c", "expected"), [(5.0, 88.016), (10.0, 82.030), (20.0, 80.040), (25.0, 80.0)]
)
def test_humidity_of_onset(temp_c: float, expected: float) -> None:
    assert float(onset_rh_pct(temp_c, VERY)) == pytest.approx(expected, abs=0.001)


def test_least_humidity_of_a_class_holds_below_20_degrees_too() -> None:
    """Without it the resistant classes (85 %) would start growing from about 80 %."""
    assert float(onset_rh_pct(15.0, RESISTANT)) == 85.0
    assert hourly_mould_index(np.full(999, 15.0), np.full(999, 84.0), RESISTANT).max() == 0.0


# HukkaViitanen1999: tm = exp(−0.68 ln T − 13.9 ln RH + 66.02) weeks, pine, resawn
@pytest.mark.parametrize(
    ("temp_c", "rh_pct", "weeks"), [(20.0, 97.0, 1.484), (20.0, 90.0, 4.202), (25.0, 90.0, 3.610)]
)
def test_weeks_to_begin(temp_c: float, rh_pct: float, weeks: float) -> None:
    assert float(weeks_to_begin(temp_c, rh_pct)) == pytest.approx(weeks, abs=0.002)


def test_spruce_begins_later_than_pine() -> None:
    """HukkaViitanen1999: the wood term is +0.14 in the exponent."""
    ratio = float(weeks_to_begin(20.0, 90.0, wood=1.0) / weeks_to_begin(20.0, 90.0))
    assert ratio == pytest.approx(np.exp(0.14), abs=1e-9)


# OjanenEtAl2010: Mmax = A + B x − C x², x = (RHcrit − RH)/(RHcrit − 100)
@pytest.mark.parametrize(("rh_pct", "expected"), [(97.0, 5.504), (90.0, 3.995)])
def test_largest_index(rh_pct: float, expected: float) -> None:
    assert float(largest_index(20.0, rh_pct, VERY)) == pytest.approx(expected, abs=0.002)


# The next values are runs of the published equations by hourly explicit Euler, made independently
# of this program (no tabulated curve was found in print).
def test_very_sensitive_surface_at_20_degrees_97_percent() -> None:
    index = constant(20.0, 97.0, 84)
    assert index[[7 * DAY - 1, 28 * DAY - 1, 84 * DAY - 1]] == pytest.approx(
        [0.674, 4.358, 5.504], abs=0.01
    )
    assert np.argmax(index >= 1.0) / DAY == pytest.approx(10.4, abs=0.1)
    assert np.argmax(index >= 3.0) / DAY == pytest.approx(20.8, abs=0.1)


@pytest.mark.parametrize(
    ("sensitivity", "temp_c", "rh_pct", "days", "expected", "tolerance"),
    [
        (SENSITIVE, 20.0, 97.0, 28, 1.373, 0.01),
        (SENSITIVE, 20.0, 97.0, 84, 3.430, 0.01),
        (MEDIUM, 20.0, 97.0, 84, 0.581, 0.005),
        (RESISTANT, 20.0, 97.0, 84, 0.261, 0.005),
        (VERY, 22.0, 90.0, 28, 1.030, 0.01),
    ],
)
def test_index_by_class(
    sensitivity: Sensitivity,
    temp_c: float,
    rh_pct: float,
    days: int,
    expected: float,
    tolerance: float,
) -> None:
    steps = days * DAY
    index = hourly_mould_index(np.full(steps, temp_c), np.full(steps, rh_pct), sensitivity)
    assert index[-1] == pytest.approx(expected, abs=tolerance)


def test_decline_in_three_stages() -> None:
    """HukkaViitanen1999: −0.032/day for 6 h, nothing until 24 h, then −0.016/day."""
    index = constant(20.0, 50.0, 3, start=2.0)
    assert index[[5, 23, 47, 71]] == pytest.approx([1.992, 1.992, 1.976, 1.960], abs=1e-4)


def test_resistant_class_declines_by_its_factor() -> None:
    steps = np.full(72, 20.0)
    index = hourly_mould_index(steps, np.full(72, 50.0), RESISTANT, start=2.0)
    assert 2.0 - index[-1] == pytest.approx(0.1 * 0.040, abs=1e-9)


def test_alternating_wet_and_dry_half_days() -> None:
    rh = np.tile(np.repeat([97.0, 50.0], 12), 28)
    assert hourly_mould_index(np.full(len(rh), 20.0), rh, VERY)[-1] == pytest.approx(
        1.277, abs=0.01
    )


@pytest.mark.parametrize(("step_h", "expected"), [(0.25, 4.360), (1.0, 4.358), (24.0, 4.310)])
def test_step_size(step_h: float, expected: float) -> None:
    """A daily rate added at every hour would be 24 times too fast; here the step hardly matters."""
    assert constant(20.0, 97.0, 28, step_h=step_h)[-1] == pytest.approx(expected, abs=0.01)


def test_growth_agrees_with_an_adaptive_integrator() -> None:
    """Independent: scipy's Runge–Kutta on the same equation with the numbers typed out again."""
    weeks = np.exp(-0.68 * np.log(20.0) - 13.9 * np.log(97.0) + 66.02)
    x = (80.04 - 97.0) / (80.04 - 100.0)
    top = 1.0 + 7.0 * x - 2.0 * x**2

    def growth(_: float, m: Floats) -> Floats:
        k1 = np.where(m < 1.0, 1.0, 2.0)
        return np.asarray(k1 * np.maximum(1 - np.exp(2.3 * (m - top)), 0.0) / (7.0 * weeks))

    solved = solve_ivp(growth, (0.0, 28.0), [0.0], rtol=1e-8, atol=1e-10, max_step=0.5)
    assert constant(20.0, 97.0, 28)[-1] == pytest.approx(float(solved.y[0, -1]), abs=0.01)


@pytest.mark.parametrize("temp_c", [-5.0, 5.0, 20.0, 35.0, 50.0])
def test_nothing_grows_at_79_percent(temp_c: float) -> None:
    assert constant(temp_c, 79.0, 60).max() == 0.0


@pytest.mark.parametrize("temp_c", [-5.0, 0.0, 50.0, 55.0])
def test_nothing_grows_in_frost_or_heat(temp_c: float) -> None:
    assert constant(temp_c, 99.0, 60).max() == 0.0


def test_unknown_hours_hold_the_index_and_are_counted() -> None:
    hours = pd.date_range("2030-01-01", periods=300, freq="h", tz="UTC")
    rh = np.full(300, 97.0)
    rh[100:200] = np.nan
    found = mould_history(readings_frame(hours, temp_c=20.0, rh_pct=rh))
    assert found.index[199] == found.index[99]
    assert found.unknown_h == 100
    assert found.coverage_pct == pytest.approx(200 / 3)
    whole = mould_history(readings_frame(hours[:200], temp_c=20.0, rh_pct=97.0))
    assert found.at_end == pytest.approx(whole.at_end)


def test_no_reading_no_mould_and_no_coverage() -> None:
    nothing = mould_history(readings_frame(pd.DatetimeIndex([], tz="UTC")))
    assert (nothing.highest, nothing.coverage_pct, nothing.first_at_1_utc) == (0.0, 0.0, None)


def test_history_of_five_minute_readings_equals_that_of_hours() -> None:
    fine = pd.date_range("2030-01-01", periods=28 * DAY * 12, freq="5min", tz="UTC")
    found = mould_history(readings_frame(fine, temp_c=20.0, rh_pct=97.0))
    assert found.at_end == pytest.approx(4.358, abs=0.01)
    assert found.first_at_1_utc == pd.Timestamp("2030-01-11 09:00", tz="UTC")
    assert found.growing_h == 28 * DAY


def test_the_health_caution_puts_people_first() -> None:
    for words in ("people first", "asthma", "Do not sniff, brush or fan"):
        assert words in HEALTH_CAUTION


CLIMATE = arrays(np.float64, 200, elements=st.floats(-10.0, 45.0))
HUMIDITY = arrays(np.float64, 200, elements=st.floats(0.0, 100.0))


@settings(max_examples=30, deadline=None)
@given(CLIMATE, HUMIDITY, st.sampled_from(list(Sensitivity)))
def test_index_stays_between_nought_and_six(
    temp_c: Floats, rh_pct: Floats, sensitivity: Sensitivity
) -> None:
    index = hourly_mould_index(temp_c, rh_pct, sensitivity)
    assert index.min() >= 0.0
    assert index.max() <= 6.0


@settings(max_examples=20, deadline=None)
@given(st.floats(1.0, 40.0), st.floats(60.0, 97.0), st.floats(0.5, 3.0))
def test_damper_air_never_grows_less(temp_c: float, rh_pct: float, more: float) -> None:
    assert constant(temp_c, rh_pct + more, 30)[-1] >= constant(temp_c, rh_pct, 30)[-1]
