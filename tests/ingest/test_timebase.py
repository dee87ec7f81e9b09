"""Declared clocks, and the two odd hours a year. Expected instants by hand from EU rules."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, strategies as st

from analysis.series import Flag
from service.errors import QuestionError
from service.ingest.read import FileReading, read_bytes
from service.ingest.times.timebase import SECOND_US, time_base


def reading(stamps: list[str], zone: str) -> FileReading:
    text = "time;temp;rh\n" + "".join(
        f"{stamp};{20 + i / 10};{40 + i / 10}\n" for i, stamp in enumerate(stamps)
    )
    return read_bytes("clock.csv", text.encode(), zone=zone)


def hours(found: FileReading) -> list[str]:
    return [f"{instant:%d %H:%M}" for instant in found.sensors[""].index]


def test_a_zone_with_summer_time() -> None:
    assert hours(reading(["2024-01-15 12:00", "2024-07-15 12:00"], "Europe/Oslo")) == [
        "15 11:00",
        "15 10:00",
    ]


def test_a_clock_that_never_changes_to_summer_time() -> None:
    for zone in ("Europe/Oslo no-dst", "Europe/Oslo without summer time", "UTC+1", "+01:00"):
        assert hours(reading(["2024-01-15 12:00", "2024-07-15 12:00"], zone)) == [
            "15 11:00",
            "15 11:00",
        ]


def test_standard_time_south_of_the_equator_is_that_of_its_winter() -> None:
    assert time_base("x", "Australia/Sydney no-dst").offset_s == 10 * 3600


def test_order_decides_the_doubled_hour() -> None:
    # 27 October 2024: 03:00 summer time becomes 02:00 at 01:00 UTC.
    stamps = [
        f"2024-10-27 {clock}" for clock in ("01:30", "02:00", "02:30", "02:00", "02:30", "03:00")
    ]
    found = reading(stamps, "Europe/Oslo")
    assert hours(found) == ["26 23:30", "27 00:00", "27 00:30", "27 01:00", "27 01:30", "27 02:00"]
    assert not found.sensors[""]["flags"].any()


def test_order_decides_an_hourly_doubled_hour_newest_first_too() -> None:
    stamps = [f"2024-10-27 {clock}" for clock in ("04:00", "03:00", "02:00", "02:00", "01:00")]
    found = reading(stamps, "Europe/Oslo")
    assert hours(found) == ["26 23:00", "27 00:00", "27 01:00", "27 02:00", "27 03:00"]
    assert not found.sensors[""]["flags"].any()


def test_a_doubled_hour_that_comes_once_is_flagged() -> None:
    stamps = [f"2024-10-27 {clock}" for clock in ("01:00", "02:00", "03:00")]
    found = reading(stamps, "Europe/Oslo")
    assert found.sensors[""]["flags"].tolist() == [0, int(Flag.DOUBLED_HOUR), 0]
    assert found.understanding.rows.flagged == 1
    assert "comes twice" in found.understanding.problems[0].found


def test_a_repeated_row_within_the_hour_is_not_taken_for_the_second_pass() -> None:
    clocks = ["01:50", "02:00", "02:10", "02:10", "02:20", "03:00"]
    found = reading([f"2024-10-27 {clock}" for clock in clocks], "Europe/Oslo")
    flagged = found.sensors[""]["flags"].to_numpy() & int(Flag.DOUBLED_HOUR)
    assert np.count_nonzero(flagged) == 3


def test_the_missing_hour_is_flagged_and_not_moved() -> None:
    # 31 March 2024: 02:00 becomes 03:00 at 01:00 UTC; 02:30 does not exist.
    stamps = [f"2024-03-31 {clock}" for clock in ("01:30", "02:15", "03:30")]
    found = reading(stamps, "Europe/Oslo")
    assert hours(found) == ["31 00:30", "31 01:15", "31 01:30"]
    assert found.sensors[""]["flags"].tolist() == [0, int(Flag.MISSING_HOUR), 0]


@pytest.mark.parametrize(
    ("wrong", "near"),
    [("Europe/Osslo", "Europe/Oslo"), ("oslo", "Europe/Oslo"), ("New York", "America/New_York")],
)
def test_a_wrong_zone_is_answered_with_near_ones(wrong: str, near: str) -> None:
    with pytest.raises(QuestionError, match=near):
        reading(["2024-01-15 12:00"], wrong)


@given(
    st.sampled_from(["Europe/Oslo", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu"]),
    st.integers(946_684_800, 2_051_222_400),
    st.integers(1, 3 * 3600),
)
def test_clock_times_in_order_come_back_to_their_instants(
    name: str, first_s: int, step_s: int
) -> None:
    # Written from UTC by the standard library, read back by ours: unflagged ones must agree.
    zone = ZoneInfo(name)
    start = datetime.fromtimestamp(first_s, UTC)
    instants = [start + timedelta(seconds=step_s * i) for i in range(60)]
    clock = [i.astimezone(zone).replace(tzinfo=UTC) for i in instants]
    local_us = np.array([round(c.timestamp()) * SECOND_US for c in clock])
    expected = np.array([round(i.timestamp()) * SECOND_US for i in instants])
    utc_us, flags = time_base("x", name).to_utc(local_us)
    assert not (flags & int(Flag.MISSING_HOUR)).any()
    assert np.array_equal(utc_us[flags == 0], expected[flags == 0])
