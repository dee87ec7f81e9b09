"""Flags and hourly means kept by month: as those of the whole record, and found only where new."""

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings, strategies as st

from analysis.air import hour_means
from analysis.air.hour_means import RecordHours
from analysis.air.quality import flag_readings
from analysis.records.room_records import Placement
from analysis.series import readings_frame
from service.answers.museum import Museum
from service.climate import kept_months
from service.climate.kept_months import flagged_record, record_hours
from service.storage.results import Results
from service.storage.stores import Stores

START = pd.Timestamp("2025-01-20", tz="UTC")


def folder(path: str) -> Stores:
    """Return stores of which only the folder of results is asked for."""
    return cast(Stores, SimpleNamespace(results=Results(Path(path))))


@st.composite
def records(draw: st.DrawFn) -> pd.DataFrame:
    """Draw a record of some months with everything that flags look for, also at ends of months."""
    minutes = draw(st.sampled_from([20, 60, 180, 720, 2880]))
    dice = np.random.default_rng(draw(st.integers(0, 2**32)))
    days = draw(st.integers(1, 160))
    index = pd.date_range(START, periods=max(days * 1440 // minutes, 2), freq=f"{minutes}min")
    count = len(index)
    temp = np.round(20 + np.cumsum(dice.normal(0, 0.1, count)), 1)
    rh = np.round(50 + np.cumsum(dice.normal(0, 0.3, count)), draw(st.integers(0, 2)))
    for values in (temp, rh):
        for _ in range(draw(st.integers(0, 3))):  # stands still, also for weeks
            at, last = dice.integers(count), dice.integers(1, 20 * 1440 // minutes + 2)
            values[at : at + last] = values[at]
        some = dice.integers(0, count, draw(st.integers(0, 4)))
        values[some] += dice.choice([-30.0, 8.0, 500.0, np.nan], len(some))
        if draw(st.booleans()):
            at = dice.integers(count)
            values[at : at + dice.integers(count)] = np.nan
    kept = np.ones(count, dtype=bool)
    for _ in range(draw(st.integers(0, 2))):
        at = dice.integers(count)
        kept[at : at + dice.integers(1, 40 * 1440 // minutes + 2)] = False
    kept[:2] = True
    time_s = np.arange(count) * minutes * 60
    if draw(st.booleans()):
        time_s[dice.integers(count) :] += 37
    times = pd.DatetimeIndex(START + pd.to_timedelta(time_s, "s"))
    flags = np.where(dice.random(count) < 0.01, 1, 0).astype("int32")
    return readings_frame(times[kept], temp_c=temp[kept], rh_pct=rh[kept], flags=flags[kept])


def require_same(found: RecordHours, whole: RecordHours) -> None:
    assert (found.time_us == whole.time_us).all()
    for name in ("temp_c", "rh_pct"):
        one, other = getattr(found, name), getattr(whole, name)
        assert one.first_h == other.first_h
        np.testing.assert_array_equal(one.means, other.means)
        np.testing.assert_array_equal(one.values, other.values)
        np.testing.assert_array_equal(one.time_us, other.time_us)


@settings(deadline=None, max_examples=40)
@given(records(), st.data())
def test_whatever_was_kept_before_flags_and_means_are_those_of_the_whole_record(
    frame: pd.DataFrame, data: st.DataObject
) -> None:
    started = data.draw(st.sampled_from([None, START.to_pydatetime()]))
    place = Placement("n1", "north", from_utc=started)
    cut = data.draw(st.integers(1, len(frame)))
    changed = frame.copy()
    at = data.draw(st.integers(0, len(frame) - 1))
    changed.iloc[at : at + 5, 1] += 1.0
    with tempfile.TemporaryDirectory() as path:
        stores = folder(path)
        for record in (frame.iloc[:cut], frame, frame, changed, frame.iloc[cut - 1 :]):
            whole = flag_readings(record, started_utc=started)
            found, rests_on = flagged_record(stores, place, record)
            pd.testing.assert_frame_equal(found, whole)
            hours = record_hours(stores, "north", found, [rests_on])
            require_same(hours, RecordHours.of(whole))


@dataclass
class Counted:
    """How many readings were flagged, and how many went into means of hours."""

    flagged: list[int] = field(default_factory=list)
    averaged: list[int] = field(default_factory=list)


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> Iterator[Counted]:
    seen = Counted()

    def flagging(frame: pd.DataFrame, **named: Any) -> pd.DataFrame:
        seen.flagged.append(len(frame))
        return flag_readings(frame, **named)

    averaging = hour_means._means_of_hours

    def means(time_us: Any, values: Any) -> Any:
        seen.averaged.append(len(values))
        return averaging(time_us, values)

    monkeypatch.setattr(kept_months, "flag_readings", flagging)
    monkeypatch.setattr(hour_means, "_means_of_hours", means)
    yield seen


def test_the_next_process_finds_only_what_is_new(small: Any, counted: Counted) -> None:
    def asked() -> pd.DataFrame:
        return Museum(small.stores, small.settings).readings("north").frame

    small.bring("n1", 0, 200)
    whole = asked()
    assert (counted.flagged, counted.averaged) == ([4800], [4800, 4800])
    counted.flagged.clear()
    counted.averaged.clear()
    pd.testing.assert_frame_equal(asked(), whole)
    assert (counted.flagged, counted.averaged) == ([], [])
    small.bring("n1", 200, 207)
    asked()
    longest = 24 * 93  # the month of the new week and two before it, however long the record is
    assert max(counted.flagged) <= longest
    assert len(counted.flagged) == 1
    assert len(counted.averaged) == 2
    assert max(counted.averaged) <= longest


def test_a_changed_correction_or_a_move_of_the_logger_keeps_nothing_wrong(
    small: Any, counted: Counted
) -> None:
    small.bring("n1", 0, 100)
    museum = Museum(small.stores, small.settings)
    museum.readings("north")
    counted.flagged.clear()
    results = small.stores.results
    for file in results.folder.rglob("*.npz"):
        file.write_bytes(file.read_bytes()[:-30])
    frame = Museum(small.stores, small.settings).readings("north").frame
    assert counted.flagged == [2400]
    moved: datetime = small.day(50)
    place = Placement("n1", "north", from_utc=moved)
    after = frame.loc[moved:]
    found, _ = flagged_record(small.stores, place, after)
    pd.testing.assert_frame_equal(found, flag_readings(after, started_utc=moved))
