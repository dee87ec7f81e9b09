"""Moist air against independent packages, within the differences known between their formulas."""

import numpy as np
import pytest
import thermofeel
from fixtures.real_gas import humid_air
from iapws._iapws import _Sublimation_Pressure  # the package offers no public name
from iapws.iapws97 import _PSat_T  # the package offers no public name
from pythermalcomfort import psychrometrics

from analysis.air.moist_air import (
    dew_point_c,
    frost_point_c,
    humidity_ratio_kg_kg,
    saturation_pressure_over_ice_pa,
    saturation_pressure_pa,
    wet_bulb_c,
)

KELVIN = 273.15
TEMPS_C, RHS_PCT = (
    a.ravel() for a in np.meshgrid(np.arange(-10.0, 41.0, 5), np.arange(5.0, 101, 5))
)
GALLERY = (TEMPS_C >= 10) & (TEMPS_C <= 30) & (RHS_PCT >= 20) & (RHS_PCT <= 90)
WARM = TEMPS_C > 0


def _coolprop(quantity: str) -> np.ndarray:
    pairs = zip(TEMPS_C, RHS_PCT, strict=True)
    return np.array([humid_air(quantity, t + KELVIN, 101_325, r / 100) for t, r in pairs])


def test_dew_and_frost_point_of_coolprop() -> None:
    # IAPWS-95 and real gas: within 0.012 K of ASHRAE's equations. CoolProp takes humidity below
    # 0 °C to be over ice, so only air above 0 °C is compared.
    theirs = _coolprop("D") - KELVIN
    frost = frost_point_c(TEMPS_C, RHS_PCT)
    ours = np.where(np.isnan(frost), dew_point_c(TEMPS_C, RHS_PCT), frost)
    assert ours[WARM] == pytest.approx(theirs[WARM], abs=0.012)


def test_humidity_ratio_of_coolprop() -> None:
    # The enhancement factor makes real air hold 0.3 to 0.5 % more; up to 0.116 g/kg in galleries.
    theirs = _coolprop("W")
    ours = humidity_ratio_kg_kg(TEMPS_C, RHS_PCT)
    assert ours[GALLERY] == pytest.approx(theirs[GALLERY], abs=1.17e-4)
    assert np.all(theirs[WARM] / ours[WARM] - 1 < 0.0061)
    assert np.all(theirs[WARM] > ours[WARM])


def test_wet_bulb_of_coolprop() -> None:
    # Real gas; a tenth of a kelvin is what the two models differ by in galleries at most.
    theirs = _coolprop("B") - KELVIN
    assert wet_bulb_c(TEMPS_C, RHS_PCT)[GALLERY] == pytest.approx(theirs[GALLERY], abs=0.1)


def test_saturation_of_iapws() -> None:
    # IF97 within 0.018 % above freezing, the sublimation line within 0.04 % down to −40 °C.
    warm = np.arange(0.5, 41.0, 0.5)
    water = np.array([_PSat_T(t + KELVIN) * 1e6 for t in warm])
    assert saturation_pressure_pa(warm) == pytest.approx(water, rel=1.8e-4)
    cold = np.arange(-40.0, 0.0, 0.5)
    ice = np.array([_Sublimation_Pressure(t + KELVIN) * 1e6 for t in cold])
    assert saturation_pressure_over_ice_pa(cold) == pytest.approx(ice, rel=4e-4)


def test_saturation_and_dew_point_of_thermofeel() -> None:
    # Saturation after Hardy 1998, within 0.025 %, also over supercooled water; dew point after
    # Alduchov and Eskridge, within 0.065 K everywhere and 0.033 K in galleries.
    theirs = thermofeel.calculate_saturation_vapour_pressure(TEMPS_C + KELVIN) * 100.0
    assert saturation_pressure_pa(TEMPS_C) == pytest.approx(theirs, rel=2.6e-4)
    dew = thermofeel.calculate_dew_point_from_relative_humidity(RHS_PCT, TEMPS_C + KELVIN) - KELVIN
    ours = dew_point_c(TEMPS_C, RHS_PCT)
    assert ours == pytest.approx(dew, abs=0.066)
    assert ours[GALLERY] == pytest.approx(dew[GALLERY], abs=0.034)


def test_dew_point_of_pythermalcomfort() -> None:
    # WMO Magnus 17.62/243.12: within 0.064 K everywhere and 0.045 K in galleries.
    theirs = np.array(
        [psychrometrics.dew_point_tmp(t, r) for t, r in zip(TEMPS_C, RHS_PCT, strict=True)]
    )
    ours = dew_point_c(TEMPS_C, RHS_PCT)
    assert ours == pytest.approx(theirs, abs=0.066)
    assert ours[GALLERY] == pytest.approx(theirs[GALLERY], abs=0.05)


def test_saturation_of_pythermalcomfort() -> None:
    # Hyland and Wexler as well; the package takes ice below 0 °C.
    warm = np.arange(1.0, 41.0)
    theirs = np.array([float(psychrometrics.p_sat(t)) for t in warm])
    assert saturation_pressure_pa(warm) == pytest.approx(theirs, rel=1e-5)
