"""Readings → hours: nothing filled silently, gaps between two copies."""

from datetime import UTC, datetime
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings, strategies as st

from analysis.air.hour_means import RecordHours
from analysis.air.room_air import air_between, hourly_air
from analysis.errors import NotEnoughError, OutOfRangeError
from analysis.series import Flag, readings_frame

START = pd.Timestamp("2025-03-01", tz="UTC")


def readings(freq: str, periods: int, **columns: object) -> pd.DataFrame:
    index = pd.date_range(START, periods=periods, freq=freq, tz="UTC")
    given = {"temp_c": np.full(periods, 20.0), "rh_pct": np.full(periods, 50.0), **columns}
    return readings_frame(index, **given)


def span(frame: pd.DataFrame) -> dict[str, Any]:
    return {
        "start_utc": frame.index[0].to_pydatetime(),
        "end_utc": frame.index[-1].to_pydatetime(),
    }


def test_hour_is_the_mean_around_it() -> None:
    rh = 50 + np.sin(np.arange(24 * 60))
    frame = readings("10min", 24 * 60, rh_pct=rh)
    air = hourly_air(frame, **span(frame))
    assert air.measured.all()
    assert air.rh_low_pct[5] == pytest.approx(rh[27:33].mean(), abs=0.4)
    assert np.array_equal(air.rh_low_pct, air.rh_high_pct)
    assert air.interval_s == 600.0


def test_sparse_readings_are_bridged_up_to_three_hours() -> None:
    frame = readings("2h", 200, rh_pct=np.linspace(40, 60, 200))
    air = hourly_air(frame, **span(frame))
    assert air.measured.all()
    assert air.rh_low_pct[1] == pytest.approx((40 + frame["rh_pct"].iloc[1]) / 2)
    sparse = readings("6h", 100)
    air = hourly_air(sparse, **span(sparse))
    assert air.measured.mean() == pytest.approx(1 / 6, abs=0.01)


def test_a_gap_has_two_copies() -> None:
    rng = np.random.default_rng(0)
    rh = rng.uniform(40, 60, 24 * 40)
    frame = readings("h", 24 * 40, rh_pct=rh)
    frame = frame.drop(frame.index[24 * 35 : 24 * 36])
    air = hourly_air(frame, **span(frame))
    gap = slice(24 * 35, 24 * 36)
    assert not air.measured[gap].any()
    before = rh[24 * 5 : 24 * 35]
    assert air.rh_low_pct[24 * 35] == pytest.approx(np.quantile(before, 0.01), abs=0.15)
    assert air.rh_high_pct[24 * 35] == pytest.approx(np.quantile(before, 0.99), abs=0.15)
    assert np.all(air.rh_low_pct[gap] < air.rh_high_pct[gap])
    assert air.measured.sum() == 24 * 39


@pytest.mark.parametrize("flag", [Flag.STUCK, Flag.ONE_SAMPLE_SPIKE, Flag.OUT_OF_RANGE])
def test_unfit_readings_are_not_used(flag: Flag) -> None:
    flags = np.zeros(24 * 10, dtype=int)
    flags[100:110] = int(flag)
    rh = np.full(24 * 10, 50.0)
    rh[100:110] = 99.0
    frame = readings("h", 24 * 10, rh_pct=rh, flags=flags)
    air = hourly_air(frame, **span(frame))
    assert not air.measured[100:110].any()
    assert air.rh_high_pct.max() == 50.0
    doubtful = readings("h", 24 * 10, rh_pct=rh, flags=np.where(flags, int(Flag.CONFLICT), 0))
    assert hourly_air(doubtful, **span(doubtful)).measured.all()


def test_earlier_readings_serve_the_percentiles_only() -> None:
    rh = np.concatenate([np.full(24 * 30, 40.0), np.full(24 * 10, 55.0)])
    frame = readings("h", 24 * 40, rh_pct=rh)
    frame = frame.drop(frame.index[24 * 30 + 2 : 24 * 30 + 12])
    start = (START + pd.Timedelta(days=30)).to_pydatetime()
    air = hourly_air(frame, start_utc=start, end_utc=frame.index[-1].to_pydatetime())
    assert air.hours == 24 * 10
    assert air.rh_low_pct[5] == pytest.approx(40.0)


def test_outdoor_temperature() -> None:
    frame = readings("h", 72)
    outdoor = pd.Series(np.arange(48.0), index=frame.index[:48])
    air = hourly_air(frame, **span(frame), outdoor_temp_c=outdoor)
    assert air.outdoor_temp_c[10] == 10.0
    assert np.isnan(air.outdoor_temp_c[60])


def test_nothing_to_work_with() -> None:
    frame = readings("h", 48, rh_pct=np.full(48, np.nan))
    with pytest.raises(NotEnoughError, match="no usable pair"):
        hourly_air(frame, **span(frame))
    with pytest.raises(NotEnoughError, match="two or more"):
        hourly_air(
            frame,
            start_utc=datetime(2025, 3, 1, tzinfo=UTC),
            end_utc=datetime(2025, 3, 1, tzinfo=UTC),
        )
    with pytest.raises(OutOfRangeError, match="start_utc"):
        hourly_air(frame, start_utc=datetime(2025, 3, 1), end_utc=datetime(2025, 3, 2, tzinfo=UTC))  # noqa: DTZ001


@given(
    minutes=st.sampled_from([1.0, 5.0, 7.3, 30.0, 61.0, 120.0, 400.0]),
    ends=st.tuples(st.floats(0.0, 1.0), st.floats(0.0, 1.0)),
    seed=st.integers(0, 2**32 - 1),
    lost=st.floats(0.0, 0.9),
)
@settings(deadline=None, max_examples=60)
def test_a_part_of_a_record_whose_hours_are_at_hand_has_the_air_of_that_part_alone(
    minutes: float, ends: tuple[float, float], seed: int, lost: float
) -> None:
    rng = np.random.default_rng(seed)
    index = START + pd.to_timedelta(
        np.cumsum(rng.uniform(0.7, 1.3, 600)).round(4) * minutes, unit="min"
    )
    hole = (np.arange(600) > 200) & (np.arange(600) < 200 + 300 * lost)
    index = pd.DatetimeIndex(index[~hole]).as_unit("us")
    n = len(index)
    flags = np.where(rng.random(n) < 0.2 * lost, int(Flag.STUCK), 0)
    temp = np.where(rng.random(n) < 0.1 * lost, np.nan, rng.normal(20.0, 1.0, n))
    frame = readings_frame(index, temp_c=temp, rh_pct=rng.uniform(30, 70, n), flags=flags)
    first, last = sorted(int(at * (n - 1)) for at in ends)
    part = frame.iloc[first : last + 1]
    given_ends = {"start_utc": part.index[0].to_pydatetime(), "end_utc": part.index[-1]}
    try:
        alone = hourly_air(part, **given_ends)
    except NotEnoughError:
        with pytest.raises(NotEnoughError):
            air_between(RecordHours.of(frame), part.index[0], part.index[-1], **given_ends)
        return
    within = air_between(RecordHours.of(frame), part.index[0], part.index[-1], **given_ends)
    for name in ("time_utc", "temp_c", "rh_low_pct", "rh_high_pct", "measured", "interval_s"):
        ours, theirs = getattr(within, name), getattr(alone, name)
        assert np.array_equal(ours, theirs, equal_nan=name != "time_utc" and name != "measured")
