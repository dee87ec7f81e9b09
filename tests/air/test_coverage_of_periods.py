"""How much of a period was measured, by hand."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, strategies as st

from analysis.air.coverage import coverage
from analysis.errors import OutOfRangeError
from analysis.series import Flag, readings_frame
from dashboards.text.wording import scarce_words

START = datetime(2030, 1, 7, tzinfo=UTC)
WEEK = START + timedelta(days=7)


def week(step_min: int = 5) -> pd.DataFrame:
    index = pd.date_range(START, WEEK, freq=f"{step_min}min", inclusive="left")
    return readings_frame(index, temp_c=np.full(len(index), 20.0), rh_pct=np.full(len(index), 50.0))


@pytest.mark.parametrize("step_min", [5, 60])
def test_a_whole_week(step_min: int) -> None:
    found = coverage(week(step_min), START, WEEK)
    assert found.valid_pct == 100.0
    assert (found.missing, found.flagged, found.longest_gap_h, found.enough) == (0, 0, 0.0, True)
    assert found.interval_s == step_min * 60


def test_a_day_missing_from_a_week() -> None:
    frame = week().drop(week().index[288 : 2 * 288])
    found = coverage(frame, START, WEEK)
    assert found.valid_pct == pytest.approx(100 * 6 / 7, abs=0.1)
    assert found.missing == 288
    assert found.longest_gap_h == pytest.approx(24.0, abs=0.1)


def test_flagged_readings_are_not_measured_time_but_counted_by_their_words() -> None:
    frame = week()
    frame.iloc[: 4 * 288, 2] = int(Flag.STUCK)
    found = coverage(frame, START, WEEK)
    assert found.valid_pct == pytest.approx(100 * 3 / 7, abs=0.1)
    assert found.flagged == 4 * 288
    assert found.flags == {"stuck": 4 * 288}
    assert scarce_words(found) == ("Cannot tell: 43 % of the period was measured, 75 % is needed.")


def test_doubts_that_do_not_unfit_a_reading_leave_the_time_measured() -> None:
    frame = week()
    frame.iloc[10, 2] = int(Flag.AFTER_GAP)
    assert coverage(frame, START, WEEK).valid_pct == 100.0


def test_a_record_that_ends_early_shows_its_silence() -> None:
    found = coverage(week().iloc[:288], START, WEEK)
    assert found.longest_gap_h == pytest.approx(6 * 24, abs=0.1)
    assert found.valid_pct == pytest.approx(100 / 7, abs=0.1)


def test_no_reading_at_all() -> None:
    found = coverage(week().iloc[:0], START, WEEK)
    assert found.valid_pct == 0.0
    assert found.longest_gap_h == pytest.approx(7 * 24)
    assert not found.enough


def test_a_period_that_runs_backwards_is_refused() -> None:
    with pytest.raises(OutOfRangeError):
        coverage(week(), WEEK, START)


@given(st.sets(st.integers(0, 7 * 24 - 1)))
def test_coverage_goes_by_the_hours_that_are_there(hours: set[int]) -> None:
    frame = week(60)
    frame.iloc[[h for h in range(7 * 24) if h not in hours], :2] = np.nan
    found = coverage(frame, START, WEEK)
    assert 0.0 <= found.valid_pct <= 100.0
    assert found.missing == 7 * 24 - len(hours)
    if len(hours) == 7 * 24:
        assert found.valid_pct == 100.0
