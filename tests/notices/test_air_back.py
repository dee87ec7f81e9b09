"""A notice ends only when the air is back, by the readings and for long enough."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, strategies as st

from analysis.results import Cause as Likely, Event
from analysis.series import Flag, readings_frame
from service.notices.air_back import RoomRecord
from service.notices.causes import Kind, NoticeLimits
from service.notices.rules import Air, End, Known, Open, Update, decide

START = datetime(2026, 5, 1, tzinfo=UTC)
LIMITS = NoticeLimits()


def record(*pieces: tuple[float, float], step_min: float = 30.0) -> RoomRecord:
    """Return a room's record from (hours, %RH) pieces, one after the other."""
    values = np.concatenate([np.full(round(hours * 60 / step_min), rh) for hours, rh in pieces])
    times = pd.date_range(START, periods=len(values), freq=pd.Timedelta(minutes=step_min))
    return RoomRecord.of(readings_frame(times, temp_c=20.0, rh_pct=values))


def rise(from_rh: float = 48.0, to_rh: float = 80.0, at_h: float = 48.0) -> Event:
    at = START + timedelta(hours=at_h)
    end = at + timedelta(hours=2)
    size = to_rh - from_rh
    cause = Likely.MOISTURE_ADDED
    return Event("spike", "a", at, end, end, from_rh, to_rh, size, 16.0, 9.0, cause, 100.0)


def judged(
    room_record: RoomRecord, events: list[Event], known: list[Known], now: datetime
) -> list[object]:
    air = Air(room_record, 30.0, 65.0, START)
    return list(decide("north", events, [], known, now, LIMITS, air=air))


def known_rise(event: Event, level: float) -> Known:
    return Known(
        1, Kind.HUMIDITY, "north", event.start_utc, None, "sudden rise", level_rh_pct=level
    )


def test_a_room_that_rose_to_eighty_and_stayed_is_not_back() -> None:
    stays = record((48, 48.0), (24 * 14, 80.0))
    now = START + timedelta(days=16)
    (opened,) = judged(stays, [rise()], [], now)
    assert isinstance(opened, Open)
    assert opened.ended_utc is None
    known = known_rise(rise(), opened.cause.level_rh_pct)
    # a fortnight later its event is out of sight; the readings still say it
    (later,) = judged(stays, [], [known], now)
    assert isinstance(later, Update)
    assert later.cause.until_utc is None


def test_it_ends_when_the_air_has_been_back_for_long_enough() -> None:
    back_h = 60.0
    back = record((48, 48.0), (12, 80.0), (24, 50.0))
    known = known_rise(rise(), 58.7)
    (ended,) = judged(back, [], [known], START + timedelta(hours=84))
    assert isinstance(ended, End)
    assert ended.cause.until_utc == START + timedelta(hours=back_h)
    short = record((48, 48.0), (12, 80.0), (3, 50.0))
    (still,) = judged(short, [], [known], START + timedelta(hours=200))
    assert isinstance(still, Update), "three hours of readings do not show six, however late it is"


def test_a_dip_shorter_than_the_time_asked_for_is_no_end() -> None:
    dips = record((48, 48.0), (12, 80.0), (4, 50.0), (12, 78.0))
    (still,) = judged(dips, [], [known_rise(rise(), 58.7)], START + timedelta(days=9))
    assert isinstance(still, Update)


def test_silence_ends_nothing() -> None:
    stopped = record((48, 48.0), (12, 80.0))
    (still,) = judged(stopped, [], [known_rise(rise(), 58.7)], START + timedelta(days=90))
    assert isinstance(still, Update)


def test_a_hole_in_the_readings_is_not_held_air() -> None:
    before = record((48, 48.0), (12, 80.0), (3, 50.0)).rh_pct
    after = record((3, 50.0)).rh_pct
    after.index = after.index + pd.Timedelta(hours=90)
    holed = RoomRecord(pd.concat([before, after]))
    (still,) = judged(holed, [], [known_rise(rise(), 58.7)], START + timedelta(days=9))
    assert isinstance(still, Update)


def test_air_that_settles_inside_its_limits_ends_as_settled() -> None:
    settled = record((48, 40.0), (24 * 15, 52.0))
    event = rise(40.0, 52.0)
    now = START + timedelta(days=18)
    (opened,) = judged(settled, [event], [], now)
    assert isinstance(opened, Open)
    assert opened.cause.settled
    soon = record((48, 40.0), (24 * 10, 52.0))
    (open_still,) = judged(soon, [event], [], now)
    assert isinstance(open_still, Open)
    assert open_still.cause.until_utc is None


def test_readings_taken_back_end_what_they_told_of() -> None:
    calm = record((24 * 10, 48.0))
    (ended,) = judged(calm, [], [known_rise(rise(), 58.7)], START + timedelta(days=10))
    assert isinstance(ended, End)
    assert ended.cause.until_utc == rise().start_utc


def test_sustained_damp_needs_no_band() -> None:
    start = START + timedelta(hours=48)
    damp = Event(
        "sustained damp",
        "a",
        start,
        start + timedelta(days=1),
        start + timedelta(days=14),
        65.0,
        80.0,
        15.0,
        1.0,
        90.0,
        Likely.MOISTURE_ADDED,
        100.0,
        "",
        False,
    )
    stays = record((48, 48.0), (24 * 14, 80.0))
    opened = judged(stays, [rise(), damp], [], START + timedelta(days=16))
    kinds = [action.cause.kind for action in opened if isinstance(action, Open)]
    assert kinds == [Kind.HUMIDITY, Kind.DAMP]
    assert all(action.ended_utc is None for action in opened if isinstance(action, Open))
    assert stays.longest_h(start, 75.0) == pytest.approx(24 * 14 - 0.5)


def test_a_late_file_is_told_once_as_past() -> None:
    quarter = record((24 * 40, 48.0), (24 * 10, 78.0), (24 * 40, 47.0))
    first = START + timedelta(days=40)
    damp = Event(
        "sustained damp",
        "a",
        first,
        first + timedelta(days=5),
        first + timedelta(days=10),
        65.0,
        78.0,
        13.0,
        1.0,
        90.0,
        Likely.MOISTURE_ADDED,
        100.0,
    )
    spike = rise(47.0, 60.0, at_h=24 * 60)
    now = START + timedelta(days=91)
    (opened,) = judged(quarter, [damp, spike], [], now)
    assert isinstance(opened, Open)
    assert opened.cause.past
    assert opened.cause.kind is Kind.DAMP
    assert opened.cause.also == 1
    assert opened.ended_utc == first + timedelta(days=10)
    told = Known(
        4,
        Kind.DAMP,
        "north",
        opened.cause.since_utc,
        opened.cause.until_utc,
        ended_utc=opened.ended_utc,
        past=True,
        span=opened.cause.span,
    )
    assert judged(quarter, [damp, spike], [told], now) == []


def test_doubted_readings_do_not_decide() -> None:
    times = pd.date_range(START, periods=48, freq="30min")
    frame = readings_frame(times, temp_c=20.0, rh_pct=np.full(48, 50.0))
    frame.loc[frame.index[-12:], "flags"] = int(Flag.OUT_OF_RANGE)
    assert RoomRecord.of(frame).known_until_utc == times[-13].to_pydatetime()


@given(
    st.lists(st.tuples(st.floats(0.5, 40.0), st.floats(20.0, 95.0)), min_size=1, max_size=8),
    st.floats(30.0, 80.0),
    st.floats(0.5, 12.0),
)
def test_when_it_is_back_every_reading_of_that_time_says_so(
    pieces: list[tuple[float, float]], level: float, hold_h: float
) -> None:
    one = record(*[(max(hours, 0.5), rh) for hours, rh in pieces])
    back = one.back_utc(START, level, rising=True, hold_h=hold_h)
    if back is None:
        return
    held = one.rh_pct.loc[back : back + timedelta(hours=hold_h)]
    assert (held <= level).all()
    assert held.index[-1] - held.index[0] >= timedelta(hours=hold_h) - timedelta(minutes=30)
