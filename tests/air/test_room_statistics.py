"""The figures of a report against closed forms and plain pandas."""

import numpy as np
import pandas as pd
import pytest

from analysis.air.room_statistics import room_statistics
from analysis.errors import NotEnoughError
from analysis.results import Band
from analysis.series import Flag, readings_frame
from dashboards.text.wording import scarce_words

YEAR_H = 365 * 24


@pytest.fixture(scope="module")
def year() -> pd.DataFrame:
    hours = np.arange(YEAR_H)
    index = pd.date_range("2029-12-31 23:00", periods=YEAR_H, freq="h", tz="UTC")
    annual, daily = 10 * np.sin(2 * np.pi * hours / YEAR_H), 3 * np.sin(2 * np.pi * hours / 24)
    return readings_frame(index, temp_c=20 + daily / 3, rh_pct=50 + annual + daily)


def test_levels_of_a_year(year: pd.DataFrame) -> None:
    s = room_statistics(year, "Europe/Amsterdam")
    assert s.coverage.valid_pct == 100.0
    assert s.coverage.enough
    assert s.rh_pct.mean == pytest.approx(50.0, abs=0.01)
    plain = np.percentile(year["rh_pct"], [1, 5, 50, 95, 99])
    assert list(s.rh_pct.percentiles.values()) == pytest.approx(plain.tolist(), abs=1e-6)
    assert s.temp_c.highest == pytest.approx(21.0)
    assert s.dew_point_c.lowest < s.dew_point_c.mean < s.temp_c.mean


def test_swings_side_by_side(year: pd.DataFrame) -> None:
    s = room_statistics(year, "Europe/Amsterdam")
    by_name = {swing.name: swing for swing in s.swings_rh_pct}
    assert list(by_name) == ["range24", "lag24", "dev24", "dayspan", "rate1h"]
    # A daily sine of amplitude 3 on a slow one of at most 0.172 %RH a day.
    assert by_name["range24"].median == pytest.approx(6.0, abs=0.2)
    assert by_name["lag24"].highest == pytest.approx(0.172, abs=0.002)
    assert by_name["dev24"].highest == pytest.approx(3.0, abs=0.15)
    assert by_name["rate1h"].highest == pytest.approx(6 * np.sin(np.pi / 24), abs=0.02)
    assert by_name["range24"].share_above_pct[5.0] == pytest.approx(100.0, abs=0.5)
    assert by_name["range24"].share_above_pct[10.0] == 0.0
    assert all(swing.definition for swing in s.swings_rh_pct + s.swings_temp_c)


def test_season_months_and_cycles(year: pd.DataFrame) -> None:
    s = room_statistics(year, "Europe/Amsterdam")
    assert s.drift30_rh_pct == pytest.approx(20 * 0.988925, abs=0.1)
    assert [m.month for m in s.months] == [f"2030-{m:02d}" for m in range(1, 13)]
    march = year[(year.index >= "2030-02-28 23:00") & (year.index < "2030-03-31 22:00")]
    assert s.months[2].rh_pct == pytest.approx(march["rh_pct"].mean(), abs=1e-6)
    daily = {c.low: c.cycles for c in s.cycles_rh_pct}
    assert daily[5.0] == pytest.approx(365, abs=2)


def test_time_within_a_band(year: pd.DataFrame) -> None:
    s = room_statistics(year, "UTC", Band("agreed", 45.0, 55.0, low_temp_c=19.5, high_temp_c=25.0))
    inside = year["rh_pct"].between(45.0, 55.0).mean()
    assert s.rh_within is not None
    assert s.rh_within.within_pct == pytest.approx(100 * inside, abs=1e-6)
    assert s.temp_within is not None
    assert s.temp_within.above_pct == 0.0
    assert room_statistics(year, "UTC").rh_within is None


def test_a_burst_of_fast_logging_does_not_skew_the_figures(year: pd.DataFrame) -> None:
    january = year[year.index < "2030-02-01"]
    fine = january.resample("10min").interpolate()
    burst = pd.concat([fine.astype({"flags": "int32"}), year[year.index >= "2030-02-01"]])
    assert burst["rh_pct"].mean() > 50.5
    assert room_statistics(burst, "UTC").rh_pct.mean == pytest.approx(50.0, abs=0.01)


def test_unfit_readings_are_left_out_and_counted(year: pd.DataFrame) -> None:
    doubtful = year.copy()
    doubtful.iloc[:3000, 2] = int(Flag.STUCK)
    s = room_statistics(doubtful, "UTC")
    assert s.coverage.flagged == 3000
    assert scarce_words(s.coverage) == (
        "Cannot tell: 66 % of the period was measured, 75 % is needed."
    )
    assert s.rh_pct.mean < 49.0


def test_too_little_to_say_anything(year: pd.DataFrame) -> None:
    with pytest.raises(NotEnoughError, match="at least two"):
        room_statistics(year.iloc[:1], "UTC")


def test_humidity_alone(year: pd.DataFrame) -> None:
    s = room_statistics(year.assign(temp_c=np.nan), "UTC")
    assert np.isnan(s.temp_c.mean)
    assert np.isnan(s.dew_point_c.mean)
    assert s.rh_pct.mean == pytest.approx(50.0, abs=0.01)
