"""What must hold for any air."""

import numpy as np
import pytest
from hypothesis import given, strategies as st

from analysis.air.moist_air import (
    dew_point_c,
    frost_point_c,
    humidity_ratio_kg_kg,
    rh_from_vapour_pressure,
    saturation_pressure_pa,
    surface_rh_pct,
    vapour_pressure_pa,
    wet_bulb_c,
)

temps = st.floats(-40.0, 60.0)
rhs = st.floats(0.5, 100.0)


@given(temps, rhs)
def test_humidity_comes_back_from_its_dew_point(temp_c: float, rh_pct: float) -> None:
    dew = dew_point_c(temp_c, rh_pct)
    assert rh_from_vapour_pressure(temp_c, saturation_pressure_pa(dew)) == pytest.approx(
        rh_pct, abs=1e-6
    )


@given(temps, rhs)
def test_humidity_comes_back_from_its_vapour_pressure(temp_c: float, rh_pct: float) -> None:
    vapour = vapour_pressure_pa(temp_c, rh_pct)
    assert rh_from_vapour_pressure(temp_c, vapour) == pytest.approx(rh_pct, abs=1e-9)


@given(temps, st.floats(0.5, 99.0), st.floats(0.1, 1.0))
def test_more_moisture_means_a_higher_dew_point(temp_c: float, rh_pct: float, more: float) -> None:
    assert dew_point_c(temp_c, rh_pct + more) > dew_point_c(temp_c, rh_pct)
    assert humidity_ratio_kg_kg(temp_c, rh_pct + more) > humidity_ratio_kg_kg(temp_c, rh_pct)


@given(temps, rhs)
def test_dew_point_wet_bulb_and_temperature_stand_in_order(temp_c: float, rh_pct: float) -> None:
    # Below 0 °C a wick is iced and saturation over ice is less than over water: no such order.
    if temp_c > 0.0 and rh_pct < 100.0:
        dew, bulb = dew_point_c(temp_c, rh_pct), wet_bulb_c(temp_c, rh_pct)
        assert bulb <= temp_c + 1e-6
        assert bulb >= dew - 1e-6


@given(temps, rhs)
def test_frost_forms_before_dew_would(temp_c: float, rh_pct: float) -> None:
    frost = frost_point_c(temp_c, rh_pct)
    if not np.isnan(frost):
        assert frost >= dew_point_c(temp_c, rh_pct) - 1e-6


@given(st.floats(0.0, 35.0), st.floats(5.0, 95.0), st.floats(0.1, 20.0))
def test_a_colder_surface_is_damper(temp_c: float, rh_pct: float, colder: float) -> None:
    assert surface_rh_pct(temp_c, rh_pct, temp_c - colder) > rh_pct


@given(
    st.lists(
        st.tuples(st.one_of(temps, st.just(float("nan"))), st.one_of(rhs, st.just(float("nan")))),
        min_size=1,
        max_size=20,
    )
)
def test_nan_stays_nan_and_spoils_nothing_beside_it(pairs: list[tuple[float, float]]) -> None:
    temp, rh = (np.array(column) for column in zip(*pairs, strict=True))
    missing = np.isnan(temp) | np.isnan(rh)
    for quantity in (dew_point_c, vapour_pressure_pa, wet_bulb_c, humidity_ratio_kg_kg):
        assert (np.isnan(quantity(temp, rh)) == missing).all()
