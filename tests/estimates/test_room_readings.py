"""A room's readings: layers laid on while reading, loggers that stand in, move, or are doubted."""

from datetime import UTC, datetime
from typing import Any

import numpy as np
import pandas as pd
import pytest

from analysis.errors import UnknownNameError
from analysis.records.room_records import Calibration
from analysis.series import Flag, readings_frame, usable
from service.answers.museum import BEFORE, MARGIN
from service.climate.room_readings import outdoor_readings, room_readings
from service.storage.loggers import put_calibration


def test_a_calibration_is_laid_on_while_reading_and_stored_readings_stay(
    small: Any,
) -> None:
    small.bring("n1", 0, 4)
    stored = small.stores.readings.load("n1")
    put_calibration(
        small.stores.register, Calibration("n1", "rh_pct", 35.0, 33.0, from_utc=small.day(2))
    )
    read = room_readings(small.stores, "north").frame
    moved = read["rh_pct"] - stored["rh_pct"]
    assert moved[: 2 * 24].tolist() == [0.0] * 48
    assert moved[2 * 24 :].tolist() == pytest.approx([-2.0] * 48)
    pd.testing.assert_frame_equal(small.stores.readings.load("n1"), stored)


def test_another_logger_stands_in_for_a_silence_and_says_for_how_long(small: Any) -> None:
    small.place("n2", "north", from_utc=small.day(-1))
    small.bring("n1", 0, 3)
    small.bring("n1", 5, 8)
    small.bring("n2", 0, 8, wet=1.0)
    found = room_readings(small.stores, "north")
    assert list(found.by_logger) == ["n1", "n2"]
    assert found.frame.index.is_unique
    assert found.frame.index.is_monotonic_increasing
    assert len(found.frame) == pytest.approx(8 * 24, abs=4)
    assert found.stood_in_h()["n2"] == pytest.approx(48.0, abs=3.0)
    inside = found.frame.loc[small.day(3.2) : small.day(4.8)]
    own = small.calm(pd.DatetimeIndex(inside.index))
    assert inside["rh_pct"].to_numpy() - own == pytest.approx(np.ones(len(inside)), abs=0.006)
    assert found.stood_in_h(small.day(0), small.day(3)) == {}
    assert found.stood_in_h(small.day(3), small.day(4))["n2"] == pytest.approx(24.0, abs=2.0)


def test_one_missing_reading_is_not_stood_in_for(small: Any) -> None:
    small.place("n2", "north", from_utc=small.day(-1))
    small.bring("n1", 0, 1)
    small.bring("n1", 1 + 1 / 24, 2)
    small.bring("n2", 0, 2)
    assert room_readings(small.stores, "north").stood_in_h() == {}


def test_a_logger_that_moved_counts_where_it_hung(small: Any) -> None:
    small.place("m1", "north", from_utc=small.day(0), to_utc=small.day(2))
    small.place("m1", "south", from_utc=small.day(2))
    small.bring("m1", 0, 4)
    north, south = (room_readings(small.stores, room).frame for room in ("north", "south"))
    assert len(north) == len(south) == 48
    assert north.index[-1] < pd.Timestamp(small.day(2)) <= south.index[0]
    warm_up = (south["flags"].to_numpy() & int(Flag.WARM_UP)) != 0
    assert warm_up[0]
    assert not warm_up[12:].any()


def test_doubted_readings_are_stood_in_for(small: Any) -> None:
    small.place("n2", "north", from_utc=small.day(-1))
    hours = pd.date_range(small.day(0), periods=96, freq="h")
    rh = small.calm(hours)
    rh[40:60] = 130.0  # no air holds that
    temp = 20.0 + 0.3 * np.sin(np.arange(96.0))
    small.stores.readings.merge("n1", readings_frame(hours, temp_c=temp, rh_pct=rh))
    small.bring("n2", 0, 4)
    found = room_readings(small.stores, "north")
    assert found.stood_in_h()["n2"] == pytest.approx(20.0, abs=3.0)
    assert usable(found.frame, "rh_pct").max() < 100.0
    assert found.by_logger["n1"]["rh_pct"].max() == 130.0


def test_outdoor_air_is_nobodys_room(small: Any) -> None:
    small.bring("out", 0, 2, wet=25.0)
    assert room_readings(small.stores, "yard").frame.empty
    outdoor = outdoor_readings(small.stores, "main")
    assert outdoor is not None
    assert len(outdoor) == 48
    assert outdoor_readings(small.stores, "elsewhere") is None


def test_a_room_nobody_knows_is_named(small: Any) -> None:
    with pytest.raises(UnknownNameError, match="north"):
        room_readings(small.stores, "east", datetime(2026, 1, 1, tzinfo=UTC))


def test_a_week_reads_its_days_and_tells_the_same(small: Any) -> None:
    small.hang("W-1")
    small.bring("n1", 0, 120)
    museum = small.museum
    start, end = small.day(105), small.day(112)
    whole = museum.readings("north").frame.loc[start:end]
    around = museum.readings_around("north", start, end)
    assert around.frame.index[0] >= start - BEFORE - MARGIN
    pd.testing.assert_frame_equal(around.frame.loc[start:end], whole[whole.index < end])
    silent = museum.readings_around("north", small.day(140), small.day(147))
    assert silent.frame.index[0] == museum.readings("north").frame.index[0]


def test_a_check_of_the_logger_that_is_heard_begins_its_drift_anew(small: Any) -> None:
    """A drift that is measured narrows what is said of every work in the room."""
    small.hang("W-1", frame="C")
    small.bring("n1", 0, 40)
    assert room_readings(small.stores, "north").checked_utc == ()
    (before,) = small.from_the_start()
    check = Calibration("n1", "rh_pct", 45.0, 45.0, from_utc=small.day(30))
    put_calibration(small.stores.register, check)
    assert room_readings(small.stores, "north").checked_utc == (small.day(30),)
    (after,) = small.from_the_start()
    assert before.lately is not None
    assert after.lately is not None
    assert len(after.lately.checked_utc) == len(before.lately.checked_utc) + 1
