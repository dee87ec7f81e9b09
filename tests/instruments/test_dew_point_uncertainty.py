"""Propagated uncertainty of the dew point."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings, strategies as st

from analysis.air.moist_air import derived_air, dew_point_c
from analysis.instruments.dew_point_uncertainty import (
    dew_point_slopes,
    dew_point_uncertainty_k,
    magnus_dew_point_c,
    with_dew_point_uncertainty,
)
from analysis.series import readings_frame

# WMO8, annex 4.B, b = 17.62, c = 243.12 °C, propagated by its derivatives.
# (temperature, humidity, u(T), u(RH), dew point, dTd/dT, dTd/dRH, u(Td))
PROPAGATED = [
    (20.0, 50.0, 0.25, 1.5, 9.255, 0.920, 0.297, 0.502),
    (20.0, 50.0, 0.5, 3.0, 9.255, 0.920, 0.297, 1.004),
    (25.0, 30.0, 0.3, 2.0, 6.211, 0.865, 0.484, 1.002),
    (10.0, 80.0, 0.3, 2.0, 6.706, 0.974, 0.182, 0.467),
]


@pytest.mark.parametrize(
    ("temp_c", "rh_pct", "u_temp", "u_rh", "dew", "by_temp", "by_rh", "u_dew"), PROPAGATED
)
def test_propagation(
    temp_c: float,
    rh_pct: float,
    u_temp: float,
    u_rh: float,
    dew: float,
    by_temp: float,
    by_rh: float,
    u_dew: float,
) -> None:
    assert float(magnus_dew_point_c(temp_c, rh_pct)) == pytest.approx(dew, abs=0.002)
    slopes = dew_point_slopes(temp_c, rh_pct)
    assert [float(slope) for slope in slopes] == pytest.approx([by_temp, by_rh], abs=0.001)
    found = float(dew_point_uncertainty_k(temp_c, rh_pct, u_temp, u_rh))
    assert found == pytest.approx(u_dew, abs=0.002)


def test_against_a_thousand_draws_through_the_other_saturation_curve() -> None:
    """Independent: sampled errors through the Hyland–Wexler inversion of `moist_air`."""
    rng = np.random.default_rng(5)
    drawn = dew_point_c(20.0 + rng.normal(0, 0.25, 20_000), 50.0 + rng.normal(0, 1.5, 20_000))
    assert float(drawn.std()) == pytest.approx(0.502, rel=0.03)


@settings(deadline=None)
@given(st.floats(5.0, 30.0), st.floats(20.0, 95.0))
def test_slopes_agree_with_differences(temp_c: float, rh_pct: float) -> None:
    by_temp, by_rh = (float(slope) for slope in dew_point_slopes(temp_c, rh_pct))
    ends = [float(magnus_dew_point_c(temp_c + d, rh_pct)) for d in (-0.01, 0.01)]
    assert (ends[1] - ends[0]) / 0.02 == pytest.approx(by_temp, rel=1e-4)
    ends = [float(magnus_dew_point_c(temp_c, rh_pct + d)) for d in (-0.01, 0.01)]
    assert (ends[1] - ends[0]) / 0.02 == pytest.approx(by_rh, rel=1e-4)


def test_derived_air_carries_the_uncertainty_of_its_dew_point() -> None:
    hours = pd.date_range("2030-01-01", periods=3, freq="h", tz="UTC")
    air = derived_air(readings_frame(hours, temp_c=20.0, rh_pct=[50.0, np.nan, 0.0]))
    found = with_dew_point_uncertainty(air, 0.5, 3.0)["dew_point_uncertainty_k"].to_numpy()
    assert found[0] == pytest.approx(1.004, abs=0.002)
    assert np.isnan(found[1:]).all()
    as_new = with_dew_point_uncertainty(air)["dew_point_uncertainty_k"].iloc[0]
    assert as_new == pytest.approx(1.004, abs=0.002)


def test_no_dew_point_without_vapour() -> None:
    found = dew_point_uncertainty_k(np.array([20.0, np.nan]), np.array([0.0, 50.0]), 0.3, 2.0)
    assert np.isnan(found).all()
