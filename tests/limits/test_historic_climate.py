"""EN 15757: closed forms for synthetic years, independent centred means, a measured house."""

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd
import pytest
from hypothesis import given, settings, strategies as st
from scipy.stats import norm
from statsmodels.tsa.seasonal import seasonal_decompose

from analysis.errors import NotEnoughError, OutOfRangeError
from analysis.limits.historic_climate import band_at, historic_climate, outside_band_pct
from analysis.series import readings_frame
from dashboards.text.limit_text import standing_words

Floats = npt.NDArray[np.float64]
DAY = 24
HOURS = pd.date_range("2030-01-01", periods=395 * DAY, freq="h", tz="UTC")
H = np.arange(len(HOURS), dtype=np.float64)
ANNUAL = 10.0 * np.sin(2 * np.pi * H / (365 * DAY))
DAILY = 3.0 * np.sin(2 * np.pi * H / DAY)


def room(rh_pct: Floats | float, index: pd.DatetimeIndex = HOURS) -> pd.DataFrame:
    return readings_frame(index, rh_pct=rh_pct)


# EN15757 on synthetic records: the expected values are closed forms of its own definitions.
def test_constant_climate_gets_the_floor() -> None:
    climate = historic_climate(room(50.0))
    assert climate.seasonal_rh_pct[climate.reference] == pytest.approx(50.0, abs=1e-9)
    assert np.abs(climate.fluctuation_pct[climate.reference]).max() < 1e-9
    assert (climate.lower_pct, climate.upper_pct) == (-10.0, 10.0)
    assert not climate.provisional


def test_centred_mean_damps_the_year_by_its_factor() -> None:
    """A 30-day mean passes sin(π·30/365)/(π·30/365) = 0.988925 of a yearly cycle."""
    climate = historic_climate(room(50.0 + ANNUAL))
    cycle = climate.seasonal_rh_pct[climate.reference] - 50.0
    assert (cycle.max() - cycle.min()) / 2 == pytest.approx(9.889, abs=0.01)


def test_daily_cycle_and_floor() -> None:
    climate = historic_climate(room(50.0 + ANNUAL + DAILY))
    assert climate.percentile_low_pct == pytest.approx(-2.91, abs=0.03)
    assert climate.percentile_high_pct == pytest.approx(2.91, abs=0.03)
    assert (climate.lower_pct, climate.upper_pct) == (-10.0, 10.0)


def test_percentile_of_a_densely_sampled_sine() -> None:
    """The 7th percentile of A sin is −A cos(0.07 π) = −0.97592 A; logged every 5 minutes."""
    fine = pd.date_range("2030-01-01", periods=395 * 288, freq="5min", tz="UTC")
    daily = 20.0 * np.sin(2 * np.pi * np.arange(len(fine)) / 288)
    climate = historic_climate(room(50.0 + daily, fine), hourly_means=False)
    assert climate.percentile_low_pct == pytest.approx(-0.97592 * 20.0, rel=0.005)
    assert climate.percentile_high_pct == pytest.approx(0.97592 * 20.0, rel=0.005)


@pytest.mark.parametrize(
    ("sigma", "expected", "floor_idle"), [(4.0, -5.90, False), (8.0, -11.81, True)]
)
def test_white_noise(sigma: float, expected: float, floor_idle: bool) -> None:
    """The 7th percentile of a normal distribution is −1.4758 σ."""
    noise = np.random.default_rng(7).normal(0.0, sigma, len(HOURS))
    climate = historic_climate(room(50.0 + noise))
    assert climate.percentile_low_pct == pytest.approx(expected, rel=0.03)
    assert expected == pytest.approx(float(norm.ppf(0.07)) * sigma, abs=0.01)
    assert (climate.lower_pct == climate.percentile_low_pct) == floor_idle


def test_a_day_short_is_provisional() -> None:
    climate = historic_climate(room((50.0 + ANNUAL)[: 394 * DAY], HOURS[: 394 * DAY]))
    assert climate.central_days == pytest.approx(364.0, abs=1e-6)
    assert climate.provisional
    assert standing_words(climate).startswith("provisional, 394 days of record of the 395 needed")


def test_time_counts_and_not_the_number_of_readings() -> None:
    """January every 10 minutes, hourly otherwise: a burst must not weigh more."""
    january = pd.date_range("2030-01-01", periods=31 * 144, freq="10min", tz="UTC")
    mixed = pd.DatetimeIndex(january.append(HOURS[31 * DAY :]))
    hours = np.asarray((mixed - HOURS[0]) / pd.Timedelta(hours=1), dtype=np.float64)
    rh = (
        50.0
        + 10.0 * np.sin(2 * np.pi * hours / (365 * DAY))
        + 3.0 * np.sin(2 * np.pi * hours / DAY)
    )
    climate = historic_climate(room(rh, mixed))
    assert climate.percentile_low_pct == pytest.approx(-2.91, abs=0.05)
    assert climate.percentile_high_pct == pytest.approx(2.91, abs=0.05)
    assert not climate.provisional


def rough(seed: int = 11) -> Floats:
    steps = np.random.default_rng(seed).normal(0.0, 1.0, len(HOURS))
    return 50.0 + ANNUAL + np.asarray(pd.Series(steps).ewm(span=12).mean()) * 3.0


def test_centred_mean_against_a_rolling_time_window_of_pandas() -> None:
    """Independent: 721 hourly readings, both end readings counted half (trapezoid)."""
    rh = pd.Series(rough(), index=HOURS)
    inclusive = rh.rolling(721, center=True).mean().to_numpy()
    inner = rh.rolling(719, center=True).mean().to_numpy()
    ours = historic_climate(room(rough())).seasonal_rh_pct
    trapezoid = (inclusive * 721 + inner * 719) / 1440
    both = np.isfinite(trapezoid) & np.isfinite(ours)
    assert both.sum() > 360 * DAY
    assert ours[both] == pytest.approx(trapezoid[both], abs=1e-9)
    timed = rh.rolling("30D", center=True, closed="both").mean().to_numpy()
    assert ours[both] == pytest.approx(timed[both], abs=0.05)


def test_centred_mean_against_the_trend_of_statsmodels() -> None:
    """Independent: the classical trend filter of even period is the same trapezoid."""
    rh = pd.Series(rough(), index=HOURS)
    trend = seasonal_decompose(rh, period=30 * DAY).trend.to_numpy()
    ours = historic_climate(room(rough())).seasonal_rh_pct
    both = np.isfinite(trend) & np.isfinite(ours)
    assert both.sum() > 360 * DAY
    assert ours[both] == pytest.approx(trend[both], abs=1e-9)


def test_no_window_is_shortened_at_the_ends() -> None:
    climate = historic_climate(room(rough()))
    known = np.flatnonzero(np.isfinite(climate.seasonal_rh_pct))
    first, last = climate.time_utc[known[[0, -1]]]
    assert first - HOURS[0] >= pd.Timedelta(days=14, hours=23)
    assert HOURS[-1] - last >= pd.Timedelta(days=14, hours=23)


def test_a_window_with_a_long_gap_has_no_cycle_and_leaves_the_percentiles() -> None:
    rh = rough()
    rh[100 * DAY : 112 * DAY] = np.nan
    climate = historic_climate(room(rh))
    in_the_gap = np.isnan(climate.seasonal_rh_pct) & (
        (climate.time_utc > HOURS[97 * DAY]) & (climate.time_utc < HOURS[115 * DAY])
    )
    assert in_the_gap.any()
    assert not climate.reference[in_the_gap].any()


def test_a_year_with_too_many_gaps_is_provisional() -> None:
    rh = rough()
    for month in range(12):
        rh[month * 30 * DAY : (month * 30 + 5) * DAY] = np.nan
    climate = historic_climate(room(rh))
    assert climate.coverage_pct < 90.0
    assert climate.provisional


def test_flagged_readings_do_not_count() -> None:
    rh, flags = rough(), np.zeros(len(HOURS), dtype=np.int32)
    rh[5000:5010], flags[5000:5010] = 99.0, 1
    found = historic_climate(readings_frame(HOURS, rh_pct=rh, flags=flags))
    assert found.rh_pct.max() < 90.0


def test_another_floor() -> None:
    climate = historic_climate(room(50.0 + ANNUAL + DAILY), floor_halfwidth_pct=0.0)
    assert climate.lower_pct == climate.percentile_low_pct


def test_less_than_a_window_is_refused() -> None:
    with pytest.raises(NotEnoughError, match=r"480 usable readings over 20\.0 days"):
        historic_climate(room(50.0, HOURS[: 20 * DAY]))


def test_a_reference_year_outside_the_record_is_refused() -> None:
    with pytest.raises(NotEnoughError, match="Choose a reference year that the record holds"):
        historic_climate(room(50.0), reference_start_utc=datetime(2040, 1, 1, tzinfo=UTC))


def test_a_reference_year_without_a_zone_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="without a zone"):
        historic_climate(room(50.0), reference_start_utc=datetime(2030, 2, 1))  # noqa: DTZ001


def test_a_band_of_one_year_is_applied_to_the_next_and_not_widened_by_it() -> None:
    two_years = pd.date_range("2030-01-01", periods=760 * DAY, freq="h", tz="UTC")
    hours = np.arange(len(two_years))
    rh = 50.0 + 10.0 * np.sin(2 * np.pi * hours / (365.2425 * DAY))
    rh[500 * DAY : 505 * DAY] += 25.0
    record = room(rh, two_years)
    climate = historic_climate(record)
    assert (climate.lower_pct, climate.upper_pct) == (-10.0, 10.0)
    outside = outside_band_pct(climate, record).to_numpy()
    assert (np.flatnonzero(outside > 0) == np.arange(500 * DAY, 505 * DAY)).all()
    assert outside.max() == pytest.approx(15.0, abs=0.5)
    low, high = band_at(climate, pd.DatetimeIndex(two_years[climate.reference[: len(two_years)]]))
    own = climate.seasonal_rh_pct[climate.reference]
    assert low == pytest.approx(own - 10.0)
    assert high == pytest.approx(own + 10.0)


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 1000), st.floats(9.0, 15.0))
def test_the_band_encloses_86_percent_of_its_own_year_when_the_floor_is_idle(
    seed: int, sigma: float
) -> None:
    noise = np.random.default_rng(seed).normal(0.0, sigma, len(HOURS))
    record = room(50.0 + noise)
    climate = historic_climate(record)
    assert climate.lower_pct > -99 and climate.percentile_low_pct == climate.lower_pct
    inside = outside_band_pct(climate, record).to_numpy()[climate.reference] <= 0
    assert inside.mean() == pytest.approx(0.86, abs=0.001)


# TRH-database, folder R5_omakotitalo/YP1, CC BY 4.0: a living room, hourly for 19 months.
def living_room(shared_data: Path) -> pd.DataFrame:
    raw = pd.read_csv(shared_data / "attic_paper_pair" / "indoor1.csv")
    local = pd.DatetimeIndex(pd.to_datetime(raw["t_UTC+2"])).tz_localize("Etc/GMT-2")
    return readings_frame(
        local.tz_convert("UTC"), temp_c=raw["T"].to_numpy(), rh_pct=raw["RH"].to_numpy()
    )


def test_measured_room_with_a_full_record(shared_data: Path) -> None:
    record = living_room(shared_data)
    climate = historic_climate(record)
    assert not climate.provisional
    assert climate.record_days == pytest.approx(588.0, abs=0.1)
    assert climate.reference.sum() == 365 * DAY
    # independent: pandas, 721 readings, first full year of windows
    rh = record["rh_pct"]
    fluctuation = (rh - rh.rolling(721, center=True).mean()).dropna().iloc[: 365 * DAY]
    expected = np.percentile(fluctuation, [7, 93])
    assert climate.percentile_low_pct == pytest.approx(expected[0], abs=0.05)
    assert climate.percentile_high_pct == pytest.approx(expected[1], abs=0.05)


def test_measured_room_cut_short_is_provisional(shared_data: Path) -> None:
    record = living_room(shared_data).iloc[: 300 * DAY]
    climate = historic_climate(record)
    assert climate.provisional
    assert standing_words(climate).startswith("provisional, 300 days")
