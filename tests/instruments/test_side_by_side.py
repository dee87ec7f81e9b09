"""Two loggers side by side, and the offset of their clocks."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings, strategies as st

from analysis.errors import NotEnoughError
from analysis.instruments.side_by_side import agreement, clock_offset
from analysis.series import readings_frame

MINUTES = pd.date_range("2030-01-01", periods=12 * 24 * 5, freq="5min", tz="UTC")


def air(seed: int = 1) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    steps = np.random.default_rng(seed).normal(0.0, 0.2, len(MINUTES))
    return 50.0 + 3.0 * np.sin(np.arange(len(MINUTES)) * 2 * np.pi / 288) + np.cumsum(steps) * 0.3


def test_bias_and_spread() -> None:
    noise = np.random.default_rng(2).normal(0.0, 0.3, len(MINUTES))
    found = agreement(
        readings_frame(MINUTES, rh_pct=air()), readings_frame(MINUTES, rh_pct=air() - 1.5 + noise)
    )
    assert found.bias == pytest.approx(-1.5, abs=0.03)
    assert found.spread == pytest.approx(0.3, rel=0.1)
    assert found.high - found.low == pytest.approx(2 * 1.96 * found.spread)


def test_loggers_of_different_intervals_are_compared_at_the_first_ones_times() -> None:
    slow = readings_frame(MINUTES[::3], rh_pct=air()[::3] + 2.0)
    found = agreement(slow, readings_frame(MINUTES, rh_pct=air()))
    assert found.pairs == len(MINUTES[::3])
    assert found.bias == pytest.approx(-2.0)
    assert found.spread == pytest.approx(0.0, abs=1e-9)


def test_too_few_shared_readings_are_refused() -> None:
    first = readings_frame(MINUTES[:100], rh_pct=air()[:100])
    later = readings_frame(MINUTES[90:], rh_pct=air()[90:])
    with pytest.raises(NotEnoughError, match="found 10 readings at the same time"):
        agreement(first, later)


@settings(max_examples=20, deadline=None)
@given(st.integers(-120, 120))
def test_a_clock_that_runs_off_is_found(steps: int) -> None:
    """A whole number of intervals, up to ten hours either way: exact but for the parabola."""
    first = pd.Series(air(), index=MINUTES)
    second = pd.Series(air() + 1.0, index=MINUTES + pd.Timedelta(minutes=5 * steps))
    found = clock_offset(first, second, max_lag_h=12.0)
    assert found.offset_s is not None
    assert found.offset_s == pytest.approx(300.0 * steps, abs=60.0)
    assert found.correlation > 0.95


def test_an_hour_of_summer_time_is_found_through_noise_and_rounding() -> None:
    noise = np.random.default_rng(3).normal(0.0, 0.02, len(MINUTES))
    first = pd.Series(np.round(air(), 2), index=MINUTES)
    second = pd.Series(np.round(air() + noise, 2), index=MINUTES + pd.Timedelta(hours=1))
    found = clock_offset(first, second)
    assert found.offset_s == pytest.approx(3600.0, abs=120.0)


def test_a_part_of_the_interval_is_resolved() -> None:
    fine = pd.date_range("2030-01-01", periods=5 * len(MINUTES), freq="1min", tz="UTC")
    minutes = np.interp(np.arange(len(fine)) / 5.0, np.arange(len(MINUTES)), air())
    smooth = pd.Series(minutes, index=fine).rolling(31, center=True, min_periods=1).mean()
    late = pd.Series(smooth.to_numpy(), index=fine + pd.Timedelta(minutes=7))
    found = clock_offset(smooth.iloc[::5], late.iloc[::5])
    assert found.offset_s == pytest.approx(420.0, abs=90.0)


def test_unrelated_air_does_not_tell() -> None:
    found = clock_offset(pd.Series(air(1), index=MINUTES), pd.Series(air(9), index=MINUTES))
    assert found.offset_s is None
    assert found.correlation < 0.5


def test_a_flat_record_does_not_tell() -> None:
    flat = pd.Series(50.0, index=MINUTES)
    assert clock_offset(flat, pd.Series(air(), index=MINUTES)).offset_s is None


def test_two_measured_rooms_of_one_house_agree_within_an_hour(shared_data: Path) -> None:
    """TRH-database (CC BY 4.0), two living rooms on one clock: never hours apart."""
    folder = shared_data / "attic_paper_pair"
    rooms = []
    for name in ("indoor1.csv", "indoor2.csv"):
        raw = pd.read_csv(folder / name)
        index = pd.DatetimeIndex(pd.to_datetime(raw["t_UTC+2"])).tz_localize("Etc/GMT-2")
        rooms.append(pd.Series(raw["T"].to_numpy(), index=index.tz_convert("UTC")))
    found = clock_offset(rooms[0], rooms[1])
    assert found.offset_s is None or abs(found.offset_s) <= 3600.0
