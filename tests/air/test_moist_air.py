"""Moist air against published values.

"ASHRAE" values were read as constants in the public MIT test suite of psychrolib
(github.com/psychrometrics/psychrolib, tests/test_psychrolib_si.py), which cites the tables and
examples of the ASHRAE Handbook Fundamentals 2017, chapter 1. Values named "computed" were worked
out once from the equations of that chapter by other programs than this one.
"""

import math
import subprocess
import sys

import numpy as np
import pandas as pd
import pytest

from analysis.air import moist_air
from analysis.air.moist_air import (
    absolute_humidity_g_m3,
    air_pressure_pa,
    derived_air,
    dew_point_c,
    dew_point_from_vapour_pressure_c,
    frost_point_c,
    humidity_ratio_kg_kg,
    ratio_from_wet_bulb,
    ratio_of_pressures,
    rh_from_vapour_pressure,
    saturation_pressure_over_ice_pa,
    saturation_pressure_pa,
    surface_rh_pct,
    vapour_pressure_pa,
    wet_bulb_c,
)
from analysis.errors import OutOfRangeError
from analysis.series import Flag, readings_frame

SEA_LEVEL_PA = 101_325.0


@pytest.mark.parametrize(
    ("temp_c", "pressure_pa"),
    [(5.0, 872.6), (25.0, 3169.7), (50.0, 12351.3)],
)
def test_saturation_over_water_of_the_handbook_table(temp_c: float, pressure_pa: float) -> None:
    # ASHRAE 2017, ch. 1, table 3; the equation lies within 300 ppm of the table.
    assert saturation_pressure_pa(temp_c) == pytest.approx(pressure_pa, rel=3e-4)


@pytest.mark.parametrize(("temp_c", "pressure_pa"), [(-5.0, 401.74), (-20.0, 103.24)])
def test_saturation_over_ice_of_the_handbook_table(temp_c: float, pressure_pa: float) -> None:
    # ASHRAE 2017, ch. 1, table 3.
    assert saturation_pressure_over_ice_pa(temp_c) == pytest.approx(pressure_pa, rel=3e-4)


def test_saturation_at_the_triple_point() -> None:
    # 611.657 Pa: Hyland and Wexler and IAPWS-IF97 alike (computed).
    assert saturation_pressure_pa(0.01) == pytest.approx(611.657, rel=1e-4)
    assert saturation_pressure_over_ice_pa(0.01) == pytest.approx(611.657, rel=1e-4)


@pytest.mark.parametrize(
    ("temp_c", "pressure_pa"),
    [(10.0, 1228.18), (20.0, 2339.22), (30.0, 4246.69), (40.0, 7384.43)],
)
def test_saturation_of_the_industrial_formulation(temp_c: float, pressure_pa: float) -> None:
    # IAPWS-IF97 (computed).
    assert saturation_pressure_pa(temp_c) == pytest.approx(pressure_pa, rel=3e-4)


@pytest.mark.parametrize(("temp_c", "ratio"), [(5.0, 0.005425), (25.0, 0.020173)])
def test_humidity_ratio_of_saturated_air(temp_c: float, ratio: float) -> None:
    # ASHRAE 2017, ch. 1, table 2: real gas, so the ideal gas may differ by 0.5 %.
    assert humidity_ratio_kg_kg(temp_c, 100.0) == pytest.approx(ratio, rel=5e-3)


def test_humidity_ratio_from_vapour_pressure() -> None:
    # psychrolib test suite: W(e = 3169.7 Pa, P = 95461 Pa).
    assert ratio_of_pressures(3169.7, 95_461.0) == pytest.approx(0.0213603998, rel=1e-6)


@pytest.mark.parametrize(
    ("temp_c", "wet_bulb", "ratio"), [(30.0, 25.0, 0.0192281274), (-1.0, -5.0, 0.0012039982)]
)
def test_humidity_ratio_from_wet_bulb(temp_c: float, wet_bulb: float, ratio: float) -> None:
    # psychrolib test suite, at 95461 Pa, wet and iced wick.
    assert ratio_from_wet_bulb(temp_c, wet_bulb, 95_461.0) == pytest.approx(ratio, rel=3e-4)


@pytest.mark.parametrize(
    ("altitude_m", "pressure_pa"), [(0.0, 101_325.0), (500.0, 95_461.0), (1000.0, 89_875.0)]
)
def test_pressure_of_the_standard_atmosphere(altitude_m: float, pressure_pa: float) -> None:
    # ASHRAE 2017, ch. 1, table 1.
    assert air_pressure_pa(altitude_m) == pytest.approx(pressure_pa, abs=1.0)


def test_handbook_example_one_read_from_the_chart() -> None:
    # ASHRAE 2017, ch. 1, example 1: 40 °C, wet bulb 20 °C, read from the chart to W 0.0065,
    # dew point 7 °C, 14 %RH.
    ratio = float(ratio_from_wet_bulb(40.0, 20.0, SEA_LEVEL_PA))
    vapour = ratio * SEA_LEVEL_PA / (0.621945 + ratio)
    assert ratio == pytest.approx(0.0065, abs=1e-4)
    assert dew_point_from_vapour_pressure_c(vapour) == pytest.approx(7.0, abs=0.5)
    assert rh_from_vapour_pressure(40.0, vapour) == pytest.approx(14.0, abs=1.0)


def test_handbook_example_one_from_the_equations() -> None:
    # The same example worked with psychrolib (computed).
    ratio = float(ratio_from_wet_bulb(40.0, 20.0, SEA_LEVEL_PA))
    vapour = ratio * SEA_LEVEL_PA / (0.621945 + ratio)
    assert ratio == pytest.approx(0.0064008, abs=1e-6)
    assert dew_point_from_vapour_pressure_c(vapour) == pytest.approx(7.4336, abs=0.002)
    assert rh_from_vapour_pressure(40.0, vapour) == pytest.approx(13.979, abs=0.005)


@pytest.mark.parametrize(
    ("temp_c", "rh_pct", "expected_c"),
    [
        (20.0, 50.0, 9.272),
        (20.0, 40.0, 6.004),
        (20.0, 60.0, 12.008),
        (25.0, 50.0, 13.864),
        (22.0, 45.0, 9.534),
        (18.0, 55.0, 8.835),
        (15.0, 65.0, 8.482),
        (10.0, 50.0, 0.0626),
    ],
)
def test_dew_point_of_gallery_air(temp_c: float, rh_pct: float, expected_c: float) -> None:
    # Inversion of Hyland and Wexler by psychrolib (computed).
    assert dew_point_c(temp_c, rh_pct) == pytest.approx(expected_c, abs=0.002)


@pytest.mark.parametrize("other_c", [9.274, 9.255, 9.261, 9.256])
def test_dew_point_against_other_formulas(other_c: float) -> None:
    # 20 °C, 50 %RH: CoolProp, WMO Magnus, Alduchov and Eskridge 1996, Bolton 1980 (computed).
    assert dew_point_c(20.0, 50.0) == pytest.approx(other_c, abs=0.05)


def test_dew_point_printed_in_another_documentation() -> None:
    # MetPy documentation prints 0.0479 °C for 10 °C, 50 %RH.
    assert dew_point_c(10.0, 50.0) == pytest.approx(0.0479, abs=0.02)


@pytest.mark.parametrize(
    ("temp_c", "rh_pct", "frost_c", "water_c"),
    [(10.0, 30.0, -6.010, -6.81), (16.0, 25.0, -3.546, -4.04)],
)
def test_frost_point_and_dew_point_below_zero(
    temp_c: float, rh_pct: float, frost_c: float, water_c: float
) -> None:
    # Frost point: psychrolib and CoolProp. Dew point over water: WMO and Alduchov–Eskridge Magnus
    # forms, which differ from Hyland and Wexler by up to 0.064 K (all computed).
    assert frost_point_c(temp_c, rh_pct) == pytest.approx(frost_c, abs=0.01)
    assert dew_point_c(temp_c, rh_pct) == pytest.approx(water_c, abs=0.065)


@pytest.mark.parametrize(
    ("temp_c", "ideal", "real"), [(20.0, 7.2617, 7.2937), (25.0, 9.8810, 9.9257)]
)
def test_humidity_ratio_of_gallery_air(temp_c: float, ideal: float, real: float) -> None:
    # g/kg at 50 %RH: psychrolib (ideal gas) and CoolProp (real gas), computed.
    ratio_g_kg = 1000.0 * float(humidity_ratio_kg_kg(temp_c, 50.0))
    assert ratio_g_kg == pytest.approx(ideal, abs=0.001)
    assert ratio_g_kg == pytest.approx(real, rel=5e-3)


@pytest.mark.parametrize(
    ("temp_c", "rh_pct", "expected_c"),
    [(20.0, 50.0, 13.783), (25.0, 50.0, 17.889), (20.0, 40.0, 12.355)],
)
def test_wet_bulb(temp_c: float, rh_pct: float, expected_c: float) -> None:
    # psychrolib (computed).
    assert wet_bulb_c(temp_c, rh_pct) == pytest.approx(expected_c, abs=0.01)


def test_absolute_humidity() -> None:
    assert absolute_humidity_g_m3(20.0, 50.0) == pytest.approx(8.643, abs=0.005)  # computed


def test_saturated_air_is_at_its_dew_point() -> None:
    temp_c = np.linspace(-30.0, 50.0, 161)
    assert dew_point_c(temp_c, np.full(161, 100.0)) == pytest.approx(temp_c, abs=1e-6)


def test_what_cannot_be_worked_out_is_nan_and_never_zero() -> None:
    rh_pct = np.array([math.nan, 0.0, -1.0, 106.0, math.inf])
    assert np.isnan(dew_point_c(np.full(5, 20.0), rh_pct)).all()
    assert np.isnan(dew_point_c(math.nan, 50.0))
    assert np.isnan(wet_bulb_c(20.0, math.nan))


def test_readings_a_little_above_saturation_are_saturated_air() -> None:
    assert dew_point_c(20.0, 101.0) == pytest.approx(20.0, abs=1e-6)


def test_readings_no_air_can_have_are_flagged_in_the_derived_air() -> None:
    times = pd.date_range("2030-01-01", periods=4, freq="h", tz="UTC")
    frame = readings_frame(times, temp_c=[20.0] * 4, rh_pct=[50.0, 0.0, 101.0, 130.0])
    air = derived_air(frame)
    assert (air["flags"] & int(Flag.OUT_OF_RANGE) != 0).tolist() == [False, True, False, True]
    assert air["rh_pct"].tolist() == [50.0, 0.0, 101.0, 130.0]
    assert air["dew_point_c"].isna().tolist() == [False, True, False, True]


def test_humidity_of_the_rooms_air_at_a_cold_wall() -> None:
    # 50 × 2338.80 / 1705.45 (computed).
    assert surface_rh_pct(20.0, 50.0, 15.0) == pytest.approx(68.57, abs=0.05)


def test_altitude_and_pressure_say_the_same() -> None:
    by_altitude = humidity_ratio_kg_kg(20.0, 50.0, altitude_m=500.0)
    by_pressure = humidity_ratio_kg_kg(20.0, 50.0, pressure_pa=air_pressure_pa(500.0))
    assert by_altitude == by_pressure
    assert by_altitude > humidity_ratio_kg_kg(20.0, 50.0)


@pytest.mark.parametrize("pressure_pa", [1013.25, 0.0, -1.0, math.nan])
def test_a_pressure_in_the_wrong_unit_is_refused(pressure_pa: float) -> None:
    with pytest.raises(OutOfRangeError, match="pascals"):
        humidity_ratio_kg_kg(20.0, 50.0, pressure_pa=pressure_pa)


def test_an_altitude_above_all_museums_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="metres"):
        air_pressure_pa(30_000.0)


def test_the_spline_keeps_to_psychrolib() -> None:
    temp_c = np.linspace(0.02, 60.0, 997)
    library = np.array([moist_air.psychrolib.GetSatVapPres(float(t)) for t in temp_c])
    # Relative error times the temperature in which pressure grows by its own size, above 14 K.
    assert saturation_pressure_pa(temp_c) == pytest.approx(library, rel=1e-8 / 20.0)
    assert dew_point_from_vapour_pressure_c(library) == pytest.approx(temp_c, abs=1e-8)


def test_the_frost_spline_keeps_to_psychrolib() -> None:
    temp_c = np.linspace(-60.0, 0.01, 997)
    library = np.array([moist_air.psychrolib.GetSatVapPres(float(t)) for t in temp_c])
    vapour = vapour_pressure_pa(20.0, rh_from_vapour_pressure(20.0, library))
    assert frost_point_c(20.0, 100.0 * vapour / saturation_pressure_pa(20.0)) == pytest.approx(
        temp_c, abs=1e-8
    )


def test_psychrolib_is_plain_python_and_numba_is_left_as_it_was() -> None:
    code = (
        "import sys, numba; from analysis.air import moist_air;"
        "assert moist_air.psychrolib.has_numba is False;"
        "assert sys.modules['numba'] is numba"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
