"""Shares of time, runs and exceedance, by hand."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, strategies as st

from analysis.air.time_weights import time_within


def at(*hours: float) -> pd.DatetimeIndex:
    return pd.DatetimeIndex(pd.Timestamp("2030-01-01", tz="UTC") + pd.to_timedelta(hours, unit="h"))


def test_six_hours_in_and_two_out_by_time_not_by_count() -> None:
    # Cells reach half way: 0–6 h inside (five readings), 6–8 h outside (two). By count 71 %.
    index = at(0.0, 0.5, 1.5, 3.0, 5.5, 6.5, 7.5)
    values = pd.Series([50.0] * 5 + [70.0] * 2, index=index)
    widths_h = np.array([0.75, 0.75, 1.25, 2.0, 1.75, 1.0, 1.0])
    expected = 100 * widths_h[:5].sum() / widths_h.sum()
    assert time_within(values, 40.0, 60.0).within_pct == pytest.approx(expected, abs=1e-9)


def test_three_quarters_of_the_time_with_irregular_stamps() -> None:
    # Usual step 1 h, so the first and last cell begin and end half an hour beyond their reading:
    # inside from 0 to 6 h, outside from 6 to 8 h.
    values = pd.Series([50.0, 50.0, 50.0, 50.0, 70.0, 70.0], index=at(0.5, 1.5, 3.0, 5.5, 6.5, 7.5))
    result = time_within(values, 40.0, 60.0)
    assert result.within_pct == pytest.approx(75.0, abs=1e-9)
    assert result.above_pct == pytest.approx(25.0, abs=1e-9)
    assert result.longest_run_outside_h == pytest.approx(2.0, abs=1e-9)
    assert result.exceedance_unit_h == pytest.approx(20.0, abs=1e-9)


@pytest.mark.parametrize(
    ("rh_pct", "inside"), [(39.9, False), (40.0, True), (60.0, True), (60.1, False)]
)
def test_the_limits_themselves_are_inside(rh_pct: float, inside: bool) -> None:
    # 40–60 %RH of the 2023 protocol, read as a closed interval.
    values = pd.Series([rh_pct, rh_pct], index=at(0.0, 1.0))
    assert (time_within(values, 40.0, 60.0).within_pct == 100.0) is inside


def test_a_gap_parts_two_runs() -> None:
    values = pd.Series([70.0] * 4, index=at(0.0, 1.0, 2.0, 30.0))
    assert time_within(values, 40.0, 60.0).longest_run_outside_h == pytest.approx(3.0)


def test_one_sided_limits_and_missing_readings() -> None:
    values = pd.Series([20.0, np.nan, 70.0, 50.0], index=at(0.0, 1.0, 2.0, 3.0))
    assert time_within(values, None, 60.0).below_pct == 0.0
    assert time_within(values, 30.0, None).above_pct == 0.0


def test_no_reading_no_share() -> None:
    assert np.isnan(time_within(pd.Series([], index=at(), dtype=float), 40.0, 60.0).within_pct)


@given(st.lists(st.floats(0, 100), min_size=2, max_size=60))
def test_the_shares_make_up_the_whole(values: list[float]) -> None:
    result = time_within(pd.Series(values, index=at(*range(len(values)))), 40.0, 60.0)
    total = result.within_pct + result.above_pct + result.below_pct
    assert total == pytest.approx(100.0)
    assert result.longest_run_outside_h <= len(values) + 1e-9
