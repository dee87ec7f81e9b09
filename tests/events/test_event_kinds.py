"""Each kind of event where it was put, by hand, at five seconds, five minutes and an hour."""

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings, strategies as st

from analysis.air.quality import flag_readings
from analysis.events.air_record import EventSettings
from analysis.events.event_finding import EVENT_COLUMNS, KINDS, events_frame, find_events
from analysis.results import Band, Cause, Event
from analysis.series import Flag, readings_frame

START = pd.Timestamp("2030-03-04", tz="UTC")
BAND = Band("agreed", 40.0, 60.0, low_temp_c=16.0, high_temp_c=25.0)


def room(days: float, step_s: float, rh_pct: float = 50.0, seed: int = 0) -> pd.DataFrame:
    n = int(days * 86400 / step_s)
    noise = np.random.default_rng(seed).normal(0, 0.1, (2, n))
    index = START + pd.to_timedelta(np.arange(n) * step_s, unit="s")
    return readings_frame(
        pd.DatetimeIndex(index),
        temp_c=np.round(20 + noise[0], 2),
        rh_pct=np.round(rh_pct + noise[1], 2),
    )


def hours(frame: pd.DataFrame) -> np.ndarray:
    return np.asarray((pd.DatetimeIndex(frame.index) - START) / pd.Timedelta("1h"), dtype=float)


def add(frame: pd.DataFrame, column: str, values: np.ndarray) -> pd.DataFrame:
    return frame.assign(**{column: frame[column].to_numpy() + values})


def hour_of(moment: object) -> float:
    return float((pd.Timestamp(str(moment)) - START) / pd.Timedelta("1h"))


def only(events: list[Event], kind: str) -> Event:
    (event,) = [event for event in events if event.kind == kind]
    return event


@pytest.mark.parametrize("step_s", [60.0, 300.0, 3600.0])
def test_quiet_air_holds_no_event(step_s: float) -> None:
    assert find_events(flag_readings(room(20, step_s)), band=BAND) == []


@pytest.mark.parametrize("step_s", [5.0, 300.0, 3600.0])
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_spike_of_four_hours(step_s: float, sign: float) -> None:
    days = 2 if step_s < 60 else 6
    frame = room(days, step_s)
    at = hours(frame)
    shape = np.interp(at, [30.0, 31.0, 33.0, 34.0], [0.0, 15.0, 15.0, 0.0], left=0, right=0)
    events = find_events(flag_readings(add(frame, "rh_pct", sign * shape)), channel="north")
    event = only(events, "spike")
    assert len(events) == 1
    assert event.channel == "north"
    assert event.size == pytest.approx(sign * 15.0, abs=0.6)
    assert hour_of(event.start_utc) == pytest.approx(30.0, abs=1.0)
    assert hour_of(event.end_utc) == pytest.approx(34.0, abs=1.0)
    assert event.rate_per_h == pytest.approx(sign * 15.0, abs=2.0)
    assert event.area == pytest.approx(45.0, abs=8.0)
    assert event.coverage_pct == 100.0
    assert event.cause == (Cause.MOISTURE_ADDED if sign > 0 else Cause.MOISTURE_REMOVED)


def sudden(frame: pd.DataFrame) -> list[Event]:
    return [e for e in find_events(flag_readings(frame)) if e.kind in ("spike", "step")]


@pytest.mark.parametrize("step_s", [60.0, 300.0, 900.0, 3600.0])
@pytest.mark.parametrize(
    ("creep_h", "creep_rh_pct"), [(0.73, 2.0), (2.0, 2.5), (1.0, 6.0), (4.0, 7.0)]
)
def test_a_rise_begins_at_its_knee_and_not_where_a_slow_creep_did(
    step_s: float, creep_h: float, creep_rh_pct: float
) -> None:
    frame = room(5, step_s)
    knots = [54.0 - creep_h, 54.0, 54.1, 55.0, 57.0]
    rise = creep_rh_pct + 11.5
    shape = np.interp(hours(frame), knots, [0.0, creep_rh_pct, rise, rise, 0.0])
    (event,) = sudden(add(frame, "rh_pct", shape))
    assert hour_of(event.start_utc) == pytest.approx(54.0, abs=0.1)
    assert event.size == pytest.approx(11.5, abs=1.0)


@pytest.mark.parametrize("tau_h", [2.0, 4.0])
def test_an_end_does_not_wander_with_the_logging_interval(tau_h: float) -> None:
    ends = []
    for step_s in (60.0, 300.0, 900.0, 1800.0, 3600.0):
        frame = room(5, step_s)
        at = hours(frame)
        decay = np.where(at < 54.0, 0.0, 20.0 * np.exp(-np.maximum(at - 54.0, 0.0) / tau_h))
        (event,) = sudden(add(frame, "rh_pct", decay))
        ends.append(hour_of(event.end_utc))
    # Back within 3 %RH of the level before it: 54 h + tau ln(20/3).
    assert ends == pytest.approx([54.0 + tau_h * math.log(20.0 / 3.0)] * 5, abs=0.25)


@pytest.mark.parametrize("step_s", [60.0, 300.0, 1800.0])
def test_spikes_nested_in_the_base_of_another_are_one_rise(step_s: float) -> None:
    frame = room(6, step_s)
    knots = [54, 55, 57, 58, 64, 64.5, 65, 66, 72, 72.5, 73, 74, 84]
    values = [0, 24, 24, 11, 11, 23, 23, 11, 11, 23, 23, 11, 0]
    (event,) = sudden(add(frame, "rh_pct", np.interp(hours(frame), knots, values)))
    assert hour_of(event.start_utc) == pytest.approx(54.0, abs=0.1)
    assert event.size == pytest.approx(24.0, abs=0.5)


def test_two_rises_with_calm_between_them_are_two() -> None:
    frame = room(6, 300.0)
    knots = [54, 55, 56, 57, 64, 65, 66, 67]
    shape = np.interp(hours(frame), knots, [0, 24, 24, 1, 1, 24, 24, 0])
    assert [e.kind for e in sudden(add(frame, "rh_pct", shape))] == ["spike", "spike"]


def test_a_step_is_not_told_again_as_a_wide_day() -> None:
    frame = room(8, 300.0)
    events = find_events(flag_readings(add(frame, "rh_pct", np.where(hours(frame) >= 72, -14, 0))))
    assert [event.kind for event in events] == ["step"]


def test_days_of_a_cycle_are_not_told_again_as_wide_days() -> None:
    frame = room(14, 900.0)
    day = (hours(frame) % 24 >= 8) & (hours(frame) % 24 < 18) & (hours(frame) >= 72)
    slow = pd.Series(np.where(day, -13.0, 0.0)).rolling(32, min_periods=1).mean().to_numpy()
    kinds = [e.kind for e in find_events(flag_readings(add(frame, "rh_pct", slow)))]
    assert "day–night cycling" in kinds
    assert kinds.count("24-hour swing") <= 1


def test_a_slow_rise_of_an_opening_night() -> None:
    frame = room(4, 300.0)
    shape = np.interp(hours(frame), [43.0, 46.5, 48.0, 60.0], [0.0, 14.0, 14.0, 0.0])
    event = only(find_events(flag_readings(add(frame, "rh_pct", shape))), "spike")
    assert event.size == pytest.approx(14.0, abs=0.6)
    assert 43.0 <= hour_of(event.start_utc) <= 44.5


def test_a_spike_that_still_lasts_is_not_over() -> None:
    frame = room(3, 300.0)
    shape = np.interp(hours(frame), [70.0, 71.0], [0.0, 15.0])
    event = only(find_events(flag_readings(add(frame, "rh_pct", shape))), "spike")
    assert not event.over
    assert pd.Timestamp(event.end_utc) == frame.index[-1]


@pytest.mark.parametrize("step_s", [300.0, 3600.0])
def test_a_step_that_stays(step_s: float) -> None:
    frame = room(8, step_s)
    shape = np.where(hours(frame) >= 72.0, -14.0, 0.0)
    event = only(find_events(flag_readings(add(frame, "rh_pct", shape))), "step")
    assert event.size == pytest.approx(-14.0, abs=0.5)
    assert hour_of(event.start_utc) == pytest.approx(72.0, abs=1.01)
    assert event.over


@pytest.mark.parametrize("step_s", [300.0, 3600.0])
def test_out_of_band_with_a_short_return_is_one_event(step_s: float) -> None:
    frame = room(6, step_s)
    at = hours(frame)
    shape = np.interp(at, [40, 60, 61.9, 62.0, 62.4, 62.5, 80, 100], [0, 14, 14, 9, 9, 14, 14, 0])
    event = only(find_events(flag_readings(add(frame, "rh_pct", shape)), band=BAND), "above band")
    assert event.from_value == 60.0
    assert event.peak_value == pytest.approx(64.2, abs=0.3)
    assert hour_of(event.start_utc) == pytest.approx(40 + 20 * 10 / 14, abs=1.1)
    assert event.area > 50


def test_the_limits_themselves_are_inside_the_band() -> None:
    frame = room(3, 300.0)
    at_limit = frame.assign(rh_pct=np.where(hours(frame) < 36, 60.0, 40.0))
    kinds = {e.kind for e in find_events(at_limit, band=BAND)}
    assert kinds.isdisjoint({"above band", "below band"})


def test_warmer_than_the_band_is_in_degrees() -> None:
    frame = room(4, 300.0)
    warm = np.interp(hours(frame), [20, 30, 40, 50], [0, 8, 8, 0])
    event = only(find_events(add(frame, "temp_c", warm), band=BAND), "warmer than band")
    assert event.quantity == "temp_c"
    assert event.peak_value == pytest.approx(28.0, abs=0.5)


@pytest.mark.parametrize(
    ("level", "kind", "peak"), [(70.0, "sustained damp", 70.3), (25.0, "sustained dry", 24.7)]
)
def test_long_damp_and_long_dry(level: float, kind: str, peak: float) -> None:
    frame = room(10, 3600.0)
    shape = np.interp(hours(frame), [48, 96, 168, 216], [0, level - 50, level - 50, 0])
    event = only(find_events(flag_readings(add(frame, "rh_pct", shape))), kind)
    assert event.peak_value == pytest.approx(peak, abs=0.3)
    short = np.interp(hours(frame), [48, 96, 100, 148], [0, level - 50, level - 50, 0])
    brief = find_events(flag_readings(add(frame, "rh_pct", short * 0.8)))
    assert kind not in {e.kind for e in brief}


@pytest.mark.parametrize("step_s", [300.0, 3600.0])
def test_a_swing_within_a_day(step_s: float) -> None:
    frame = room(8, step_s)
    shape = np.interp(hours(frame), [72, 84, 120, 168], [0, -12, -12, 0])
    event = only(find_events(flag_readings(add(frame, "rh_pct", shape))), "24-hour swing")
    assert event.size == pytest.approx(-12.3, abs=0.4)
    assert 48.0 <= hour_of(event.start_utc) <= 73.0
    assert event.peak_utc >= event.start_utc
    assert event.rate_per_h == pytest.approx(-1.0, abs=0.3)


def test_plant_that_cycles_day_and_night() -> None:
    frame = room(12, 3600.0)
    at = hours(frame)
    local_hour = (at + 1.0) % 24  # Amsterdam in winter
    day = (local_hour >= 8) & (local_hour < 18) & (at >= 72) & (at < 240)
    cooled = add(frame, "temp_c", np.where(day, 0.0, 0.0))
    event = only(
        find_events(
            flag_readings(add(cooled, "rh_pct", np.where(day, -6.0, 0.0))), zone="Europe/Amsterdam"
        ),
        "day–night cycling",
    )
    assert event.size == pytest.approx(6.0, abs=0.3)
    assert hour_of(event.start_utc) == pytest.approx(71.0, abs=24.0)
    assert event.over


def test_weather_without_a_daily_course_is_no_cycling() -> None:
    frame = room(30, 3600.0)
    walk = np.cumsum(np.random.default_rng(4).normal(0, 0.5, len(frame)))
    kinds = {e.kind for e in find_events(add(frame, "rh_pct", walk))}
    assert "day–night cycling" not in kinds


def test_silence_is_an_event_of_its_own() -> None:
    frame = room(6, 300.0)
    at = hours(frame)
    event = only(find_events(frame[(at < 50) | (at > 60)]), "no data")
    assert hour_of(event.start_utc) == pytest.approx(50.0, abs=0.1)
    assert hour_of(event.end_utc) == pytest.approx(60.0, abs=0.1)
    assert math.isnan(event.peak_value)
    assert event.coverage_pct == 0.0


def test_a_silence_that_still_lasts() -> None:
    frame = room(2, 300.0)
    now = (frame.index[-1] + pd.Timedelta("9h")).to_pydatetime()
    event = only(find_events(frame, until_utc=now), "no data")
    assert not event.over
    assert event.end_utc == now
    assert (
        find_events(frame, until_utc=(frame.index[-1] + pd.Timedelta("1h")).to_pydatetime()) == []
    )


def test_a_sensor_that_stuck_gives_no_data() -> None:
    frame = room(6, 300.0)
    stuck = (hours(frame) >= 50) & (hours(frame) < 80)
    frame = frame.assign(rh_pct=np.where(stuck, 47.11, frame["rh_pct"]))
    event = only(find_events(flag_readings(frame)), "no data")
    assert event.cause == Cause.SENSOR


def test_a_swing_does_not_reach_across_silence() -> None:
    frame = room(20, 3600.0)
    at = hours(frame)
    holed = add(frame, "rh_pct", np.where(at > 300, 12.0, 0.0))[(at < 200) | (at > 300)]
    kinds = {e.kind for e in find_events(flag_readings(holed))}
    assert kinds == {"no data", "step"}


def test_a_step_in_a_silence_is_told_where_both_sides_were_measured() -> None:
    frame = room(20, 3600.0)
    at = hours(frame)

    def found(rise: float, until_h: float, last_h: float = 480.0) -> list[Event]:
        wet = add(frame, "rh_pct", np.where(at > 200, rise, 0.0))
        holed = wet[((at < 200) | (at > until_h)) & (at < last_h)]
        return [e for e in find_events(flag_readings(holed)) if e.kind == "step"]

    (up,) = found(14.0, 300.0)
    assert up.size == pytest.approx(14.0, abs=1.0)
    assert up.start_utc == frame.index[at < 200][-1]
    (down,) = found(-14.0, 300.0)
    assert down.size == pytest.approx(-14.0, abs=1.0)
    assert found(6.0, 300.0) == []
    assert found(14.0, 400.0) == []  # over so long a silence the season moves the air too
    assert found(14.0, 300.0, last_h=304.0) == []  # too little after it


def test_a_second_sensor_confirms() -> None:
    frame = room(4, 300.0)
    shape = np.interp(hours(frame), [43.0, 44.0, 46.0, 47.0], [0.0, 15.0, 15.0, 0.0])
    wet = flag_readings(add(frame, "rh_pct", shape))
    neighbours = {
        "east": add(room(4, 300.0, seed=5), "rh_pct", 0.7 * shape),
        "west": room(4, 600.0, seed=6),
    }
    assert only(find_events(wet, neighbours=neighbours), "spike").confirmed_by == "east"


def test_an_odd_sample_that_no_neighbour_saw_points_to_the_sensor() -> None:
    frame = room(4, 300.0)
    at = hours(frame)
    odd = flag_readings(add(frame, "rh_pct", np.where(np.abs(at - 50.0) < 0.04, 25.0, 0.0)))
    assert (odd["flags"].to_numpy() & int(Flag.ONE_SAMPLE_SPIKE)).any()
    alone = only(find_events(odd), "spike")
    beside = only(find_events(odd, neighbours={"east": room(4, 300.0, seed=5)}), "spike")
    assert alone.cause != Cause.SENSOR
    assert beside.cause == Cause.SENSOR


def test_events_of_another_setting() -> None:
    frame = room(4, 300.0)
    shape = np.interp(hours(frame), [43.0, 43.5, 46.0, 47.0], [0.0, 6.0, 6.0, 0.0])
    wet = add(frame, "rh_pct", shape)
    assert find_events(wet) == []
    assert [e.kind for e in find_events(wet, settings=EventSettings(spike_rh_pct=5.0))] == ["spike"]


def test_no_reading_no_event() -> None:
    empty = room(1, 300.0).iloc[:0]
    assert find_events(empty, band=BAND) == []
    assert list(events_frame([]).columns) == list(EVENT_COLUMNS)


def test_the_columns_of_the_table() -> None:
    assert ",".join(EVENT_COLUMNS) == (
        "kind,channel,start_utc,peak_utc,end_utc,from_value,peak_value,size,rate_per_h,area,"
        "cause,coverage_pct"
    )


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from([5, 60, 300, 3600, 40_000]),
            st.one_of(st.floats(1, 100), st.just(float("nan"))),
            st.one_of(st.floats(-5, 40), st.just(float("nan"))),
        ),
        max_size=150,
    )
)
def test_any_record_gives_events_in_order_and_within_it(
    rows: list[tuple[int, float, float]],
) -> None:
    seconds = np.cumsum([step for step, _, _ in rows], dtype=np.int64)
    index = pd.DatetimeIndex(START + pd.to_timedelta(seconds, unit="s"))
    frame = readings_frame(index, temp_c=[t for *_, t in rows], rh_pct=[r for _, r, _ in rows])
    events = find_events(flag_readings(frame), band=BAND, zone="Europe/Amsterdam")
    assert [e.start_utc for e in events] == sorted(e.start_utc for e in events)
    for event in events:
        assert event.kind in KINDS
        assert index[0] <= event.start_utc <= event.peak_utc <= event.end_utc <= index[-1]
        assert 0.0 <= event.coverage_pct <= 100.0
