"""Dose model after Thelandersson and Isaksson 2013."""

import numpy as np
import pandas as pd
import pytest

from analysis.harm.mould import daily_dose, mould_dose
from analysis.series import readings_frame


# ThelanderssonIsaksson2013, coefficients as in a public code: a day at 20 °C, 90 %RH is one dose.
@pytest.mark.parametrize(
    ("temp_c", "rh_pct", "dose"),
    [
        (20.0, 90.0, 1.000),
        (20.0, 80.0, 0.1605),
        (25.0, 80.0, 0.1894),
        (20.0, 70.0, -0.1333),
        (20.0, 60.0, -0.5),
    ],
)
def test_daily_dose(temp_c: float, rh_pct: float, dose: float) -> None:
    assert float(daily_dose(temp_c, rh_pct)) == pytest.approx(dose, abs=1e-3)


def test_frost_dries_back_and_heat_counts_as_30_degrees() -> None:
    assert float(daily_dose(-3.0, 95.0)) == -0.5
    assert float(daily_dose(38.0, 90.0)) == float(daily_dose(30.0, 90.0))


def test_missing_climate_has_no_dose() -> None:
    assert np.isnan(daily_dose(np.array([np.nan, 20.0]), np.array([90.0, np.nan]))).all()


def damp(days: int, rh_pct: float = 90.0) -> pd.DataFrame:
    hours = pd.date_range("2030-01-01", periods=24 * days, freq="h", tz="UTC")
    return readings_frame(hours, temp_c=20.0, rh_pct=rh_pct)


def test_seventeen_such_days_are_the_onset() -> None:
    found = mould_dose(damp(17))
    assert found.highest == pytest.approx(17.0)
    assert found.share_of_onset == pytest.approx(1.0)
    assert found.share_of_onset_low < 1.0 < found.share_of_onset_high


def test_the_sum_never_falls_below_nought() -> None:
    dry_then_damp = pd.concat([damp(10, 40.0), damp(2).shift(freq="10D")])
    assert mould_dose(dry_then_damp).dose_days[-1] == pytest.approx(2.0)


def test_a_day_with_too_few_hours_holds_the_dose() -> None:
    air = damp(3)
    air["rh_pct"] = np.where((np.arange(72) >= 24) & (np.arange(72) < 34), np.nan, 90.0)
    found = mould_dose(air)
    assert found.unknown_days == 1
    assert found.dose_days.tolist() == pytest.approx([1.0, 1.0, 2.0])


def test_days_are_those_of_the_site() -> None:
    hours = pd.date_range("2030-06-01 22:00", periods=24, freq="h", tz="UTC")
    found = mould_dose(readings_frame(hours, temp_c=20.0, rh_pct=90.0), "Europe/Berlin")
    assert [day.isoformat() for day in found.days] == ["2030-06-02"]


def test_no_reading_no_dose() -> None:
    hours = pd.date_range("2030-01-01", periods=48, freq="h", tz="UTC")
    assert mould_dose(readings_frame(hours)).highest == 0.0


def test_between_60_and_75_percent_the_dose_is_a_straight_line() -> None:
    """ThelanderssonIsaksson2013: -2.7 + 1.1 RH/30 up to 75 %RH, the power law only above."""
    assert float(daily_dose(20.0, 74.0)) == pytest.approx(-2.7 + 1.1 * 74.0 / 30.0, abs=1e-3)
    assert float(daily_dose(20.0, 66.0)) == pytest.approx(-2.7 + 1.1 * 66.0 / 30.0, abs=1e-3)
