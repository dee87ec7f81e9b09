"""The time each reading stands for: shares and means by time, not by count."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings, strategies as st

from analysis.air.coverage import coverage
from analysis.air.time_weights import (
    cells,
    centred_mean,
    hourly_grid,
    hourly_thinned,
    time_mean,
    time_percentiles,
)
from analysis.series import readings_frame

START = pd.Timestamp("2030-01-01", tz="UTC")


def at(minutes: list[float]) -> pd.DatetimeIndex:
    return pd.DatetimeIndex([START + pd.Timedelta(minutes=m) for m in minutes])


def test_cells_of_a_regular_record_are_its_interval() -> None:
    grid = cells(pd.date_range(START, periods=12, freq="5min"))
    assert (grid.width_s == 300.0).all()
    assert grid.span_s == 3600.0
    assert grid.coverage_pct == 100.0


def test_nothing_belongs_to_a_gap() -> None:
    index = pd.DatetimeIndex(
        [
            *pd.date_range(START, periods=24, freq="h"),
            *pd.date_range("2030-01-03", periods=24, freq="h", tz="UTC"),
        ]
    )
    grid = cells(index)
    assert grid.width_s.sum() == 48 * 3600.0
    assert grid.coverage_pct == pytest.approx(100 * 48 / 72)


def test_the_time_of_one_missing_reading_was_not_measured() -> None:
    grid = cells(pd.date_range(START, periods=289, freq="5min").delete(100))
    assert (grid.width_s == 300.0).all()
    assert grid.coverage_pct == pytest.approx(100 * 288 / 289)


def test_a_last_reading_after_a_long_silence_does_not_stand_for_it() -> None:
    hours = pd.date_range(START, periods=48, freq="h")
    late = hours.append(pd.DatetimeIndex([hours[-1] + pd.Timedelta(days=2)]))
    assert cells(pd.DatetimeIndex(late)).width_s.sum() == 49 * 3600.0


@settings(deadline=None)
@given(st.sets(st.integers(1, 287), max_size=80))
def test_weights_and_coverage_agree_on_what_was_measured(missing: set[int]) -> None:
    index = pd.date_range(START, periods=289, freq="5min").delete(sorted(missing))
    frame = readings_frame(index, rh_pct=50.0)
    whole = START + pd.Timedelta(days=1, minutes=5)
    covered = coverage(frame, START.to_pydatetime(), whole.to_pydatetime()).valid_pct
    assert covered == pytest.approx(cells(index).coverage_pct, abs=1.0)


def test_mean_by_time_of_irregular_readings() -> None:
    values = pd.Series([40.0, 40.0, 40.0, 60.0], index=at([0, 10, 20, 60]))
    # cells: 5+5, 10, 5+20, 20+5 minutes, the outermost half a usual interval
    assert time_mean(values) == pytest.approx((40 * 45 + 60 * 25) / 70)


def test_no_reading_no_mean() -> None:
    assert np.isnan(time_mean(pd.Series([np.nan], index=at([0]))))
    assert time_mean(pd.Series([42.0], index=at([0]))) == 42.0


@settings(deadline=None)
@given(st.lists(st.floats(-50, 150), min_size=2, max_size=50))
def test_percentiles_with_equal_weights_are_those_of_numpy(values: list[float]) -> None:
    x = np.array(values)
    found = time_percentiles(x, np.ones(len(x)), (7.0, 50.0, 93.0))
    assert found == pytest.approx(np.percentile(x, [7, 50, 93]), abs=1e-9)


@settings(deadline=None)
@given(st.integers(1, 6))
def test_a_longer_cell_counts_like_several_readings(times: int) -> None:
    once = time_percentiles(np.arange(100.0), np.where(np.arange(100) == 50, times, 1.0), (50.0,))
    repeated = np.insert(np.arange(100.0), 50, [50.0] * (times - 1))
    assert once[0] == pytest.approx(np.percentile(repeated, 50), abs=1.0)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.floats(10.0, 300.0), min_size=30, max_size=60), st.integers(0, 99))
def test_centred_mean_against_a_plain_loop(steps_min: list[float], seed: int) -> None:
    """Independent: cell by cell overlap with each window, the slow way."""
    index = at(list(np.cumsum(steps_min)))
    values = pd.Series(np.random.default_rng(seed).uniform(20, 80, len(index)), index=index)
    grid, half = cells(index), 0.25 * 86400 / 2
    found = centred_mean(values, 0.25, 50.0)
    for i, middle in enumerate(grid.at_s):
        overlap = np.clip(
            np.minimum(grid.to_s, middle + half) - np.maximum(grid.from_s, middle - half), 0, None
        )
        whole = middle - half >= grid.from_s[0] - 1 and middle + half <= grid.to_s[-1] + 1
        if whole and overlap.sum() >= half + 1e-6:
            assert found[i] == pytest.approx(np.average(values, weights=overlap), abs=1e-6)
        elif not whole or overlap.sum() < half - 1e-6:
            assert np.isnan(found[i])


def test_thinning_averages_each_hour_and_leaves_slow_records_alone() -> None:
    fine = pd.Series(np.arange(24.0), index=pd.date_range(START, periods=24, freq="5min"))
    thin = hourly_thinned(fine)
    assert thin.tolist() == [5.5, 17.5]
    assert list(thin.index) == list(at([27.5, 87.5]))
    slow = pd.Series([1.0, np.nan, 3.0], index=pd.date_range(START, periods=3, freq="2h"))
    assert hourly_thinned(slow).tolist() == [1.0, 3.0]


def test_grid_of_hours_shows_what_is_missing() -> None:
    values = pd.Series([1.0, 3.0, 7.0, 7.0], index=at([0, 30, 360, 390]))
    grid = hourly_grid(values)
    assert grid.iloc[0] == 2.0
    assert grid.iloc[1:6].isna().all()
    assert grid.iloc[6] == 7.0


def test_grid_of_a_two_hourly_record_holds_but_never_across_a_gap() -> None:
    index = pd.DatetimeIndex(
        [*pd.date_range(START, periods=6, freq="2h"), START + pd.Timedelta(hours=40)]
    )
    grid = hourly_grid(pd.Series(np.arange(7.0), index=index))
    assert grid.iloc[:11].tolist() == [0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5]
    assert grid.iloc[11] == 5.0
    assert grid.iloc[12:40].isna().all()
