"""Ageing against the closed forms of Michalski 2002 and Sebera 1994."""

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings, strategies as st

from analysis.harm.ageing import Reaction, ageing, isoperm_permanence, lifetime_multiplier
from analysis.series import Flag, readings_frame

HYDROLYSIS, YELLOWING = 100.0, 70.0

# Michalski2002: LM(T, RH) = (50/RH)^1.3 exp[(Ea/R)(1/T − 1/293.15)], R = 8.314 J/(mol K); the
# values follow from that equation. The tolerance is that of the printed digits.
# (temperature, humidity, activation energy, lifetime multiplier, tolerance)
LIFETIMES = [
    (20.0, 50.0, HYDROLYSIS, 1.0, 1e-12),
    (20.0, 50.0, YELLOWING, 1.0, 1e-12),
    (25.0, 50.0, HYDROLYSIS, 0.5025, 1e-4),
    (25.0, 50.0, YELLOWING, 0.6178, 1e-4),
    (15.0, 50.0, HYDROLYSIS, 2.0380, 1e-4),
    (15.0, 50.0, YELLOWING, 1.6460, 1e-4),
    (10.0, 50.0, HYDROLYSIS, 4.2591, 1e-3),
    (0.0, 50.0, HYDROLYSIS, 20.170, 1e-3),
    (20.0, 25.0, HYDROLYSIS, 2.4623, 1e-4),
    (20.0, 40.0, HYDROLYSIS, 1.3365, 1e-4),
    (20.0, 60.0, HYDROLYSIS, 0.7890, 1e-4),
    (18.0, 40.0, HYDROLYSIS, 1.7717, 1e-4),
]


@pytest.mark.parametrize(("temp_c", "rh_pct", "energy", "expected", "tolerance"), LIFETIMES)
def test_lifetime_multiplier(
    temp_c: float, rh_pct: float, energy: float, expected: float, tolerance: float
) -> None:
    found = float(lifetime_multiplier(temp_c, rh_pct, energy))
    assert found == pytest.approx(expected, abs=tolerance)


def test_published_benchmark_of_twenty_lifetimes_at_freezing() -> None:
    """A secondary review of Michalski2002 prints "20 times at 0 °C": two figures."""
    assert float(lifetime_multiplier(0.0, 50.0, HYDROLYSIS)) == pytest.approx(20.0, rel=0.025)


def halves(**columns: list[float] | float) -> pd.DataFrame:
    hours = pd.date_range("2030-01-01", periods=2000, freq="h", tz="UTC")
    spread = {
        name: np.repeat(values, 1000) if isinstance(values, list) else values
        for name, values in columns.items()
    }
    return readings_frame(hours, **spread)


# Time-weighted harmonic mean of the multiplier; beside it what a mean of lifetimes would say.
@pytest.mark.parametrize(
    ("air", "expected", "mean_of_lifetimes"),
    [
        (halves(temp_c=[15.0, 25.0], rh_pct=50.0), 0.8063, 1.2703),
        (halves(temp_c=20.0, rh_pct=[30.0, 70.0]), 0.9693, 1.2942),
    ],
)
def test_rates_are_averaged_not_lifetimes(
    air: pd.DataFrame, expected: float, mean_of_lifetimes: float
) -> None:
    assert ageing(air).lifetime.mid == pytest.approx(expected, abs=1e-4)
    multipliers = lifetime_multiplier(air["temp_c"].to_numpy(), air["rh_pct"].to_numpy())
    assert multipliers.mean() == pytest.approx(mean_of_lifetimes, abs=1e-4)


def test_isoperm_doubles_permanence_for_half_the_humidity() -> None:
    """Sebera1994: rate in proportion to humidity."""
    assert isoperm_permanence(20.0, 50.0, 20.0, 25.0) == pytest.approx(2.0, abs=1e-12)


def test_isoperm_agrees_with_the_eyring_form_of_the_original() -> None:
    """Sebera1994 (recalled): P2/P1 = (RH1/RH2)(T1/T2) 10^[394 ΔH (1/T2 − 1/T1)], T in °F + 460.

    ΔH in kcal/mol; Ea = ΔH + RT makes it the Arrhenius form, within a per cent over 10 K.
    """
    enthalpy_kcal = 24.0
    t1, t2 = 20.0 * 1.8 + 32.0 + 460.0, 10.0 * 1.8 + 32.0 + 460.0
    original = (50.0 / 40.0) * (t1 / t2) * 10.0 ** (394.0 * enthalpy_kcal * (1 / t2 - 1 / t1))
    energy = enthalpy_kcal * 4.184 + 8.314e-3 * 288.15
    assert isoperm_permanence(20.0, 50.0, 10.0, 40.0, energy) == pytest.approx(original, rel=0.03)


def test_time_counts_and_not_the_number_of_readings() -> None:
    warm = pd.date_range("2030-01-01", periods=24, freq="h", tz="UTC")
    cool = pd.date_range("2030-01-02", periods=24 * 12, freq="5min", tz="UTC")
    temps = np.concatenate([np.full(24, 25.0), np.full(288, 15.0)])
    air = readings_frame(pd.DatetimeIndex(warm.append(cool)), temp_c=temps, rh_pct=50.0)
    assert ageing(air).lifetime.mid == pytest.approx(0.8063, rel=0.02)


def test_range_comes_from_the_exponent_of_humidity() -> None:
    damp = ageing(halves(temp_c=20.0, rh_pct=70.0)).rate
    assert damp.low == pytest.approx(1.4**1.0)
    assert damp.high == pytest.approx(1.4**1.6)
    at_reference = ageing(halves(temp_c=20.0, rh_pct=50.0)).rate
    assert at_reference.low == at_reference.high == pytest.approx(1.0)


def test_very_dry_air_is_reckoned_as_five_per_cent_and_reported() -> None:
    assert float(lifetime_multiplier(20.0, 0.0)) == float(lifetime_multiplier(20.0, 5.0))
    assert ageing(halves(temp_c=20.0, rh_pct=[3.0, 50.0])).too_dry_pct == pytest.approx(50.0)


def test_impossible_or_missing_humidity_has_no_answer() -> None:
    for rh_pct in (-1.0, 101.0, math.nan):
        assert math.isnan(float(lifetime_multiplier(20.0, rh_pct)))


def test_flagged_readings_and_gaps_are_left_out() -> None:
    hours = pd.date_range("2030-01-01", periods=100, freq="h", tz="UTC")
    flags = np.where(np.arange(100) < 50, int(Flag.STUCK), 0)
    temps = np.where(np.arange(100) < 50, 60.0, 20.0)
    result = ageing(readings_frame(hours, temp_c=temps, rh_pct=50.0, flags=flags))
    assert result.lifetime.mid == pytest.approx(1.0)


def test_no_reading_at_all_cannot_tell() -> None:
    hours = pd.date_range("2030-01-01", periods=3, freq="h", tz="UTC")
    assert math.isnan(ageing(readings_frame(hours)).rate.mid)


@settings(deadline=None)
@given(st.floats(-20.0, 45.0), st.floats(6.0, 99.0), st.sampled_from(list(Reaction)))
def test_cooler_or_drier_air_never_shortens_life(
    temp_c: float, rh_pct: float, reaction: Reaction
) -> None:
    energy = reaction.activation_kj_mol
    here = float(lifetime_multiplier(temp_c, rh_pct, energy))
    assert float(lifetime_multiplier(temp_c - 1.0, rh_pct, energy)) > here
    assert float(lifetime_multiplier(temp_c, rh_pct - 1.0, energy)) > here
