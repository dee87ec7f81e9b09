"""Loggers of one room, rooms, outdoors by moisture, month against month."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.stats import pearsonr

from analysis.air.moist_air import vapour_pressure_pa
from analysis.errors import NotEnoughError
from analysis.limits.comparison import (
    compare_rooms,
    moisture_against_outdoors,
    month_statistics,
    room_and_spread,
    same_month_last_year,
    spatial_spread,
)
from analysis.limits.published_limits import published_limit
from analysis.limits.verdict import judge
from analysis.series import readings_frame
from dashboards.text.limit_text import verdict_words

HOURS = pd.date_range("2030-01-01", periods=240, freq="h", tz="UTC")
RNG = np.random.default_rng(4)
WALK = 50.0 + np.cumsum(RNG.normal(0.0, 0.3, 240))


def test_spread_between_three_loggers() -> None:
    loggers = {
        "east": readings_frame(HOURS, rh_pct=WALK),
        "west": readings_frame(HOURS, rh_pct=WALK + 2.0),
        "door": readings_frame(HOURS, rh_pct=WALK + np.where(np.arange(240) == 77, 6.0, 1.0)),
    }
    found = spatial_spread(loggers)
    assert found.highest == pytest.approx(6.0)
    assert found.highest_utc == HOURS[77]
    assert found.pair_at_highest == ("east", "door")
    assert found.mean == pytest.approx((239 * 2.0 + 6.0) / 240)
    assert found.p95 == pytest.approx(2.0)


def test_spread_needs_two_at_the_same_time() -> None:
    one, later = readings_frame(HOURS[:100], rh_pct=50.0), readings_frame(HOURS[120:], rh_pct=52.0)
    with pytest.raises(NotEnoughError, match="no hour that two of them measured"):
        spatial_spread({"one": one, "later": later})


def test_an_hour_of_one_logger_alone_has_no_spread() -> None:
    part = np.where(np.arange(240) < 100, WALK + 3.0, np.nan)
    loggers = {
        "a": readings_frame(HOURS, rh_pct=WALK),
        "b": readings_frame(HOURS, rh_pct=part),
    }
    assert len(spatial_spread(loggers).spread) == 100


def test_a_room_is_judged_by_the_mean_and_the_spread_of_its_loggers() -> None:
    year = pd.date_range("2030-01-01", periods=400 * 24, freq="h", tz="UTC")
    swing = 50.0 + 4.0 * np.sin(2 * np.pi * np.arange(len(year)) / 24)
    words = []
    for apart in (0.0, 3.0):
        loggers = {
            "east": readings_frame(year, temp_c=20.0, rh_pct=swing - apart / 2),
            "west": readings_frame(year[:9000], temp_c=20.0, rh_pct=swing[:9000] + apart / 2),
        }
        room, how = room_and_spread(loggers)
        assert len(room) == len(year)
        found = judge(published_limit("class_a1"), room, "UTC", 0.0, 0.0, how)
        words.append(verdict_words(found))
    assert words == ["inside", "outside"]


def test_two_rooms() -> None:
    first = readings_frame(HOURS, temp_c=20.0, rh_pct=WALK)
    second = readings_frame(HOURS, temp_c=18.0, rh_pct=WALK + 4.0)
    found = compare_rooms(first, second)
    assert found.hours == 240
    assert (found.rh_pct, found.temp_c) == pytest.approx((4.0, -2.0))
    assert found.rh_correlation == pytest.approx(1.0)


def test_rooms_agree_with_scipy_on_correlation() -> None:
    other = WALK + RNG.normal(0, 2, 240)
    found = compare_rooms(
        readings_frame(HOURS, temp_c=20.0, rh_pct=WALK),
        readings_frame(HOURS, temp_c=20.0, rh_pct=other),
    )
    assert found.rh_correlation == pytest.approx(float(pearsonr(WALK, other)[0]))


def test_rooms_that_never_overlap_are_refused() -> None:
    with pytest.raises(NotEnoughError, match="no hour that both measured"):
        compare_rooms(
            readings_frame(HOURS[:50], temp_c=20.0, rh_pct=50.0),
            readings_frame(HOURS[60:], temp_c=20.0, rh_pct=50.0),
        )


def test_outdoors_by_moisture_and_not_by_relative_humidity() -> None:
    """90 %RH at 2 °C holds less water than 40 %RH at 20 °C."""
    room = readings_frame(HOURS, temp_c=20.0, rh_pct=40.0)
    winter = readings_frame(HOURS, temp_c=2.0, rh_pct=90.0)
    found = moisture_against_outdoors(room, winter)
    expected = float(vapour_pressure_pa(20.0, 40.0) - vapour_pressure_pa(2.0, 90.0))
    assert found.mean_pa == pytest.approx(expected)
    assert found.mean_pa > 250.0
    assert found.wetter_inside_pct == 100.0


def test_a_room_open_to_the_weather_follows_it() -> None:
    weather = readings_frame(HOURS, temp_c=10.0, rh_pct=WALK)
    found = moisture_against_outdoors(weather, weather)
    assert found.follows == pytest.approx(1.0)
    assert found.mean_pa == pytest.approx(0.0)
    few = moisture_against_outdoors(weather.iloc[:48], weather)
    assert few.follows is None


def test_a_coarse_outdoor_record_is_not_read_across_its_gaps() -> None:
    room = readings_frame(HOURS, temp_c=20.0, rh_pct=50.0)
    outdoors = readings_frame(HOURS[::24], temp_c=5.0, rh_pct=80.0).drop(HOURS[[96, 120, 144]])
    known = moisture_against_outdoors(room, outdoors).excess_pa.notna().to_numpy()
    assert known[:72].all()
    assert not known[73:167].any()


def test_months_of_the_site_and_the_year_before() -> None:
    two_years = pd.date_range("2030-01-01", periods=800 * 24, freq="h", tz="UTC")
    rh = np.where(two_years.year == 2030, 50.0, 55.0)
    air = readings_frame(two_years, temp_c=20.0, rh_pct=rh)
    now, before = same_month_last_year(air, 2031, 7, "Europe/Berlin")
    assert (now.rh_mean, before.rh_mean) == (55.0, 50.0)
    assert now.coverage_pct == pytest.approx(100.0)
    assert before.year == 2030


def test_a_month_with_a_clock_change_is_whole() -> None:
    spring = pd.date_range("2030-02-20", "2030-04-10", freq="h", tz="UTC")
    found = month_statistics(readings_frame(spring, rh_pct=50.0), 2030, 3, "Europe/Berlin")
    assert found.coverage_pct == pytest.approx(100.0)


def test_a_month_half_measured_says_so() -> None:
    part = pd.date_range("2030-03-01", periods=15 * 24, freq="h", tz="UTC")
    found = month_statistics(readings_frame(part, rh_pct=50.0), 2030, 3, "UTC")
    assert found.coverage_pct == pytest.approx(100 * 15 / 31)
    empty = month_statistics(readings_frame(part, rh_pct=50.0), 2031, 3, "UTC")
    assert empty.coverage_pct == 0.0
    assert np.isnan(empty.rh_mean)


def test_measured_house_is_wetter_inside_than_out_in_winter(shared_data: Path) -> None:
    """TRH-database and FMI open data, both CC BY 4.0: a lived-in house, February 2011."""
    folder = shared_data / "attic_paper_pair"
    frames = []
    for name, temp, rh in (("indoor1.csv", "T", "RH"), ("fmi.csv", "Te", "RHe")):
        raw = pd.read_csv(folder / name)
        local = pd.DatetimeIndex(pd.to_datetime(raw["t_UTC+2"])).tz_localize("Etc/GMT-2")
        frame = readings_frame(
            local.tz_convert("UTC"), temp_c=raw[temp].to_numpy(), rh_pct=raw[rh].to_numpy()
        )
        frames.append(frame[(frame.index >= "2011-02-01") & (frame.index < "2011-03-01")])
    found = moisture_against_outdoors(frames[0], frames[1])
    assert found.wetter_inside_pct > 99.0
    assert 100.0 < found.mean_pa < 800.0
