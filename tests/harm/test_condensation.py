"""Cold surfaces: surface factors, humidity at a surface, margin to the dew point."""

import numpy as np
import pandas as pd
import pytest
from fixtures.real_gas import humid_air
from hypothesis import given, settings, strategies as st

from analysis.errors import OutOfRangeError
from analysis.harm.condensation import (
    BACK_OF_FRAME,
    BARE_WALL,
    WALL_BEHIND_FRAME,
    at_surface,
    at_times,
    cold_surface,
    glazing_margin_k,
    required_factor,
    surface_factor,
    surface_temperature_c,
    wall_surface,
)
from analysis.harm.mould import mould_history
from analysis.series import readings_frame
from analysis.works import Wall
from dashboards.text.air_report import surface_name

HOURS = pd.date_range("2030-01-01", periods=100, freq="h", tz="UTC")
GALLERY = readings_frame(HOURS, temp_c=20.0, rh_pct=50.0)


def flat(value: float, index: pd.DatetimeIndex = HOURS) -> pd.Series:
    return pd.Series(value, index=index)


def test_surface_factor_is_the_definition_of_iso_13788() -> None:
    """ISO13788: fRsi = (surface − outdoors) / (room − outdoors)."""
    surface = float(surface_temperature_c(20.0, -5.0, 0.7))
    assert (surface + 5.0) / 25.0 == pytest.approx(0.7)


# Derived for 20 °C, 50 %RH from the saturation curve and printed to two decimals; 0.705 was cut
# to 0.70 there, so one unit of the last decimal is allowed.
@pytest.mark.parametrize(
    ("outdoor_temp_c", "surface_limit", "factor"),
    [
        (-5.0, 100.0, 0.57),
        (-5.0, 80.0, 0.70),
        (-5.0, 65.0, 0.83),
        (0.0, 100.0, 0.46),
        (0.0, 80.0, 0.63),
        (0.0, 65.0, 0.79),
    ],
)
def test_required_factor(outdoor_temp_c: float, surface_limit: float, factor: float) -> None:
    found = required_factor(20.0, 50.0, outdoor_temp_c, surface_limit)
    assert found == pytest.approx(factor, abs=0.0075)


# Derived for a package at 20 °C, printed to a tenth of a kelvin.
@pytest.mark.parametrize(
    ("rh_pct", "margin_k"),
    [
        (50.0, 10.7),
        (60.0, 8.0),
        (65.0, 6.8),
        (70.0, 5.6),
        (75.0, 4.6),
        (80.0, 3.6),
        (85.0, 2.6),
        (90.0, 1.7),
    ],
)
def test_glazing_may_be_this_much_colder(rh_pct: float, margin_k: float) -> None:
    assert float(glazing_margin_k(20.0, rh_pct)) == pytest.approx(margin_k, abs=0.06)


def test_humidity_at_a_wall_of_15_degrees() -> None:
    """ASHRAE2017 saturation: 50 · 2338.80 / 1705.45 = 68.57 %RH."""
    surface = cold_surface(GALLERY, flat(15.0))
    assert surface.surface_rh_pct == pytest.approx(np.full(100, 68.57), abs=0.05)


# Derived at 20 °C and fixed vapour pressure: 1, 2, 3, 5 K colder.
@pytest.mark.parametrize(
    ("colder_k", "rh_pct"), [(1.0, 53.2), (2.0, 56.6), (3.0, 60.3), (5.0, 68.5)]
)
def test_humidity_grows_as_a_surface_cools(colder_k: float, rh_pct: float) -> None:
    surface = cold_surface(GALLERY, flat(20.0 - colder_k))
    assert surface.surface_rh_pct[0] == pytest.approx(rh_pct, abs=0.1)


@pytest.mark.parametrize(("temp_c", "rh_pct"), [(20.0, 50.0), (16.0, 70.0), (24.0, 35.0)])
def test_margin_agrees_with_real_gas_physics(temp_c: float, rh_pct: float) -> None:
    """Independent: CoolProp's humid air (IAPWS-95, real gas), within 0.012 K."""
    dew = humid_air("D", temp_c + 273.15, 101325.0, rh_pct / 100.0) - 273.15
    surface = cold_surface(readings_frame(HOURS, temp_c=temp_c, rh_pct=rh_pct), flat(12.0))
    assert surface.margin_k[0] == pytest.approx(12.0 - dew, abs=0.015)


def test_hours_of_condensation_go_by_time() -> None:
    fine = pd.date_range("2030-01-01", periods=24 * 12, freq="5min", tz="UTC")
    air = readings_frame(fine, temp_c=20.0, rh_pct=50.0)
    cold = pd.Series(np.where(np.arange(288) < 72, 8.0, 15.0), index=fine)
    found = cold_surface(air, cold)
    assert found.condensation_h == pytest.approx(6.0)
    assert found.look_h == pytest.approx(6.0)
    assert found.measured_h == pytest.approx(24.0)
    assert found.least_margin_k == pytest.approx(8.0 - 9.272, abs=0.01)


def test_masonry_is_colder_than_an_insulated_wall_and_colder_still_behind_a_frame() -> None:
    order = [
        surface_factor(Wall.OUTSIDE_MASONRY, WALL_BEHIND_FRAME).value,
        surface_factor(Wall.OUTSIDE_MASONRY, BARE_WALL).value,
        surface_factor(Wall.OUTSIDE_INSULATED, BARE_WALL).value,
        surface_factor(Wall.INSIDE, BARE_WALL).value,
    ]
    assert order == sorted(order)


def test_back_of_a_frame_on_an_outside_wall() -> None:
    """Solid masonry, −5 °C outside: 30 % of 25 K colder than the room, 12.5 °C."""
    cold, mid, warm = wall_surface(GALLERY, flat(-5.0), Wall.OUTSIDE_MASONRY, BACK_OF_FRAME)
    assert mid.surface_temp_c[0] == pytest.approx(12.5)
    # 50 · es(20)/es(12.5) with es(12.5) = 1449.9 Pa, Hyland and Wexler
    assert mid.surface_rh_pct[0] == pytest.approx(80.65, abs=0.2)
    assert cold.surface_rh_pct[0] > mid.surface_rh_pct[0] > warm.surface_rh_pct[0]
    assert mid.reckoned is not None
    assert "surface factor 0.7" in surface_name(mid)


def test_mould_counts_at_the_surface_and_not_in_the_room() -> None:
    hours = pd.date_range("2030-01-01", periods=24 * 60, freq="h", tz="UTC")
    air = readings_frame(hours, temp_c=20.0, rh_pct=65.0)
    surface = cold_surface(air, flat(13.5, hours))
    assert mould_history(air).highest == 0.0
    assert mould_history(at_surface(air, surface)).highest > 1.0


def test_outdoor_record_is_never_read_across_a_gap() -> None:
    sparse = pd.Series([0.0, 0.0, 6.0, 6.0], index=HOURS[[0, 1, 50, 51]])
    found = at_times(sparse, HOURS)
    assert np.isfinite(found[[0, 1, 50, 51]]).all()
    assert np.isnan(found[2:50]).all()
    assert np.isnan(found[52:]).all()


def test_surface_without_a_temperature_cannot_be_told() -> None:
    found = cold_surface(GALLERY, pd.Series(dtype="float64", index=HOURS[:0]))
    assert found.measured_h == 0.0
    assert found.least_margin_utc is None


def test_a_factor_outside_its_range_is_refused() -> None:
    with pytest.raises(
        OutOfRangeError, match=r"surface factor: found 1\.2, expected a number from"
    ):
        surface_temperature_c(20.0, 0.0, 1.2)


@settings(deadline=None)
@given(st.floats(-15.0, 15.0), st.floats(20.0, 80.0), st.floats(0.3, 0.95))
def test_a_better_wall_never_has_more_condensation(
    outdoor_temp_c: float, rh_pct: float, factor: float
) -> None:
    air = readings_frame(HOURS, temp_c=20.0, rh_pct=rh_pct)
    hours = [
        cold_surface(
            air, flat(float(surface_temperature_c(20.0, outdoor_temp_c, f)))
        ).condensation_h
        for f in (factor, factor + 0.05)
    ]
    assert hours[1] <= hours[0]
