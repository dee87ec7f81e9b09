"""Swings in closed form. Nobody publishes worked values; each expectation follows by hand."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, strategies as st

from analysis.air.swings import (
    DEFINITIONS,
    dayspan,
    dev24,
    lag24,
    range24,
    rate1h,
    rate_per_h,
    response_weighted,
    seasonal_drift,
)


def record(values: np.ndarray, step: str, start: str = "2030-01-01") -> pd.Series:
    index = pd.date_range(start, periods=len(values), freq=step, tz="UTC")
    return pd.Series(np.asarray(values, dtype=float), index=index)


def daily_sine(amplitude: float, step_min: int, days: int) -> pd.Series:
    minutes = np.arange(0, days * 1440, step_min)
    return record(50 + amplitude * np.sin(2 * np.pi * minutes / 1440), f"{step_min}min")


@pytest.mark.parametrize("step_min", [1, 5, 60])
def test_a_daily_sine(step_min: int) -> None:
    x = daily_sine(4.0, step_min, 5)
    assert range24(x).max() == pytest.approx(8.0, abs=0.02)
    assert lag24(x).max() == pytest.approx(0.0, abs=1e-9)
    assert dev24(x).max() == pytest.approx(4.0, abs=0.02)
    assert dayspan(x, "UTC").max() == pytest.approx(8.0, abs=0.02)


@pytest.mark.parametrize("step_min", [1, 5, 60])
def test_a_ramp_that_stops(step_min: int) -> None:
    hours = np.arange(0, 72, step_min / 60)
    x = record(40 + np.minimum(hours, 12.0), f"{step_min}min")
    assert range24(x).max() == pytest.approx(12.0, abs=1e-9)
    assert lag24(x).max() == pytest.approx(12.0, abs=1e-9)
    assert rate1h(x).max() == pytest.approx(1.0, abs=1e-9)


def test_the_rate_keeps_its_sign() -> None:
    x = record(np.concatenate([np.linspace(60, 50, 11), np.full(5, 50.0)]), "1h")
    assert rate_per_h(x).min() == pytest.approx(-1.0)
    assert rate1h(x).min() == pytest.approx(0.0)


def test_the_rate_of_fast_logging_is_that_of_its_half_hour_means() -> None:
    noise = np.tile([0.5, -0.5], 720)
    x = record(50 + noise, "5s")
    assert rate1h(x).max() < 0.01


def test_uneven_logging_gives_the_same_mean_as_even_logging() -> None:
    fine = daily_sine(4.0, 5, 4)
    times = pd.DatetimeIndex(fine.index)
    burst = fine[(times.hour < 12) | (times.minute == 0)]
    assert dev24(burst).max() == pytest.approx(dev24(fine).max(), abs=0.02)


def test_nothing_is_read_across_a_gap() -> None:
    x = record(np.arange(96.0), "1h")
    holed = x.drop(x.index[20:40])
    at = x.index[50]
    assert np.isnan(lag24(holed)[at])
    assert lag24(holed)[x.index[70]] == pytest.approx(24.0)
    assert np.isnan(dev24(holed)[x.index[45]])


def test_the_day_of_the_clock_change_is_one_day() -> None:
    # 31 March 2030, Amsterdam: 23 hours.
    hours = pd.date_range("2030-03-29 23:00", "2030-04-01 21:00", freq="h", tz="UTC")
    spans = dayspan(pd.Series(np.arange(len(hours), dtype=float), index=hours), "Europe/Amsterdam")
    assert spans.tolist() == [23.0, 22.0, 23.0]


def test_seasonal_drift_of_a_slow_sine() -> None:
    # A 30-day mean passes 0.988925 of an annual sine (sinc of 30/365).
    hours = np.arange(0, 2 * 365 * 24, 6)
    x = record(50 + 10 * np.sin(2 * np.pi * hours / (365 * 24)), "6h")
    assert seasonal_drift(x, 30.0) == pytest.approx(20 * 0.988925, abs=0.02)
    assert seasonal_drift(x, 90.0) < seasonal_drift(x, 30.0)


def test_no_seasonal_drift_without_a_whole_window() -> None:
    assert np.isnan(seasonal_drift(record(np.full(24 * 20, 50.0), "1h")))


def test_an_object_that_lags_a_day_feels_a_daily_swing_damped() -> None:
    # 1/√(1 + (2π τ/P)²) = 0.1572 for τ = P = 24 h.
    felt = response_weighted(daily_sine(10.0, 5, 20), 24.0)
    last = felt[felt.index >= felt.index[-1] - pd.Timedelta("2D")]
    assert (last.max() - last.min()) / 20.0 == pytest.approx(0.1572, rel=5e-3)


def test_an_object_that_lags_a_day_a_day_after_a_step() -> None:
    x = record(np.concatenate([[50.0], np.full(25 * 12, 60.0)]), "5min")
    felt = response_weighted(pd.concat([x[:1], x[1:]]), 24.0)
    # The step is felt from the second reading on: 60 − 10 e⁻¹ a day later.
    assert felt.iloc[1 + 24 * 12] == pytest.approx(56.321, abs=1e-3)


def test_every_definition_has_its_words() -> None:
    assert set(DEFINITIONS) >= {"range24", "lag24", "dev24", "dayspan", "rate1h"}


@pytest.mark.parametrize("function", [range24, lag24, dev24, rate1h])
def test_short_and_empty_records_give_no_figure(function) -> None:  # type: ignore[no-untyped-def]
    for n in (0, 1):
        assert not (function(record(np.full(n, 50.0), "1h")) > 0).any()


@given(st.lists(st.floats(10, 90), min_size=30, max_size=120))
def test_swings_do_not_depend_on_the_level(values: list[float]) -> None:
    x = record(np.array(values), "1h")
    for function in (range24, lag24, dev24, rate1h):
        moved, plain = function(x + 7.0), function(x)
        assert moved.to_numpy() == pytest.approx(plain.to_numpy(), abs=1e-6, nan_ok=True)
