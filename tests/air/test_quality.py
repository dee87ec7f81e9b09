"""Doubts about readings: each found where it was put, nothing changed, quiet air left alone."""

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, strategies as st

from analysis.air.quality import flag_disagreeing, flag_readings, resolution
from analysis.series import Flag, readings_frame

START = "2030-01-01"


def room(hours: float = 240, step_min: float = 5, seed: int = 1, decimals: int = 1) -> pd.DataFrame:
    """Quiet air: a daily course, sensor noise, rounding."""
    n = int(hours * 60 / step_min)
    rng = np.random.default_rng(seed)
    day = np.arange(n) * step_min / 1440
    rh = np.round(50 + 2 * np.sin(2 * np.pi * day) + rng.normal(0, 0.15, n), decimals)
    temp = np.round(20 + 0.5 * np.sin(2 * np.pi * day) + rng.normal(0, 0.05, n), decimals)
    index = pd.date_range(START, periods=n, freq=f"{step_min * 60:.0f}s", tz="UTC")
    return readings_frame(index, temp_c=temp, rh_pct=rh)


def raise_rh(frame: pd.DataFrame, rows: slice, by: float) -> None:
    changed = frame["rh_pct"].to_numpy().copy()
    changed[rows] += by
    frame["rh_pct"] = changed


def later(index: pd.Index, by: str) -> pd.DatetimeIndex:
    return pd.DatetimeIndex(index) + pd.Timedelta(by)


def marked(frame: pd.DataFrame, flag: Flag) -> list[int]:
    return np.flatnonzero(frame["flags"].to_numpy() & int(flag)).tolist()


@pytest.mark.parametrize(("step_min", "decimals"), [(1, 1), (5, 1), (60, 1), (15, 0)])
def test_quiet_air_carries_no_flag(step_min: float, decimals: int) -> None:
    flagged = flag_readings(room(step_min=step_min, decimals=decimals))
    assert (flagged["flags"] == 0).all()


def test_values_that_air_cannot_have() -> None:
    frame = room()
    frame.iloc[10, 1], frame.iloc[20, 1], frame.iloc[30, 0] = 0.0, 120.0, -80.0
    assert marked(flag_readings(frame), Flag.OUT_OF_RANGE) == [10, 20, 30]


def test_a_sensor_that_sticks() -> None:
    frame = room()
    frame.iloc[500:800, 1] = 47.3
    found = marked(flag_readings(frame), Flag.STUCK)
    assert found[0] in (499, 500)
    assert set(range(500, 800)) <= set(found)
    assert len(found) <= 302


def test_saturated_air_may_stand_at_one_hundred() -> None:
    frame = room()
    frame.iloc[500:1500, 1] = 100.0
    assert marked(flag_readings(frame), Flag.STUCK) == []


def test_a_coarse_sensor_may_stand_longer_than_a_fine_one() -> None:
    assert resolution(np.array([50.0, 51.0, 50.0, 49.0])) == 1.0
    coarse, fine = room(decimals=0), room(decimals=1)
    for frame in (coarse, fine):
        frame.iloc[500:800, 1] = 50.0
    assert marked(flag_readings(coarse), Flag.STUCK) == []
    assert marked(flag_readings(fine), Flag.STUCK) != []


def test_a_single_odd_sample() -> None:
    frame = room()
    raise_rh(frame, slice(700, 701), 20.0)
    assert marked(flag_readings(frame), Flag.ONE_SAMPLE_SPIKE) == [700]


def test_a_change_no_room_can_make() -> None:
    frame = room(hours=10, step_min=0.5)
    frame.iloc[700:, 1] += 30.0
    assert marked(flag_readings(frame), Flag.IMPOSSIBLE_RATE) == [700]


def test_the_first_reading_after_a_gap() -> None:
    frame = room().drop(room().index[300:340])
    assert marked(flag_readings(frame), Flag.AFTER_GAP) == [300]
    holed = room()
    holed.iloc[300:340, :2] = np.nan
    assert marked(flag_readings(holed), Flag.AFTER_GAP) == [340]


def test_a_change_of_interval_is_no_gap() -> None:
    fine, slow = room(hours=48, step_min=5), room(hours=480, step_min=60)
    slow.index = later(slow.index, "48h")
    assert marked(flag_readings(pd.concat([fine, slow])), Flag.AFTER_GAP) == []


def test_a_clock_that_was_put_forward() -> None:
    frame = room()
    frame.index = frame.index[:900].append(later(frame.index[900:], "130s"))
    flagged = flag_readings(frame)
    assert marked(flagged, Flag.CLOCK_STEP) == [900]
    assert marked(flagged, Flag.AFTER_GAP) == []


def test_a_reading_written_twice() -> None:
    frame = room()
    again = frame.iloc[[900]].set_index(later(frame.index[[900]], "2s"))
    both = pd.concat([frame, again]).sort_index()
    assert marked(flag_readings(both), Flag.DUPLICATE) == [901]


def test_warm_up_after_a_known_start() -> None:
    frame = room()
    found = marked(flag_readings(frame, started_utc=datetime(2030, 1, 1, tzinfo=UTC)), Flag.WARM_UP)
    assert found == list(range(12))


@pytest.mark.parametrize("hours", [3.5, 4.0, 4.75])
def test_a_record_too_short_to_show_a_level_has_no_warm_up(hours: float) -> None:
    count = round(hours * 12)
    frame = room().iloc[:count].copy()
    frame["temp_c"] = np.where(np.arange(count) < 0.83 * count, 25.0, 20.0)
    assert marked(flag_readings(frame), Flag.WARM_UP) == []


@pytest.mark.parametrize(
    "name",
    ["rajapinta_lammoneriste_tuulensuoja", "sisailma"],
)
def test_the_first_hours_of_the_wall_loggers_are_a_warm_up(shared_data: Path, name: str) -> None:
    # TRH-database (CC BY 4.0). The set's README: the first hour is the logger cooling from room
    # temperature, drop the first day before fitting.
    flagged = flag_readings(measured(shared_data / "wall_cavity_pair" / f"{name}.csv"))
    found = marked(flagged, Flag.WARM_UP)
    assert found == list(range(len(found)))
    assert 6 <= len(found) <= 18


def test_one_hour_peaks_of_a_home_are_flagged_and_kept(shared_data: Path) -> None:
    # TRH-database (CC BY 4.0). The README names one-hour peaks such as 28.5 to 79.5 to 40.0 %.
    frame = measured(shared_data / "attic_paper_pair" / "indoor1.csv")
    flagged = flag_readings(frame)
    spikes = marked(flagged, Flag.ONE_SAMPLE_SPIKE)
    assert 79.5 in frame["rh_pct"].to_numpy()[spikes]
    assert flagged["rh_pct"].equals(frame["rh_pct"])


def measured(path: Path) -> pd.DataFrame:
    d = pd.read_csv(path)
    times = pd.DatetimeIndex(pd.to_datetime(d["t_UTC+2"])).tz_localize("Etc/GMT-2")
    return readings_frame(
        times.tz_convert("UTC"), temp_c=d["T"].to_numpy(), rh_pct=d["RH"].to_numpy()
    )


def test_the_one_that_disagrees_with_two_neighbours() -> None:
    frames = {name: room(seed=seed) for seed, name in enumerate("abc")}
    raise_rh(frames["a"], slice(600, 900), 15.0)
    flagged = flag_readings(frames["a"], neighbours={"b": frames["b"], "c": frames["c"]})
    assert marked(flagged, Flag.DISAGREES) == list(range(600, 900))
    others = {"a": frames["a"], "c": frames["c"]}
    assert marked(flag_readings(frames["b"], neighbours=others), Flag.DISAGREES) == []


def test_neighbours_may_be_looked_at_after_all_else() -> None:
    frames = {name: room(seed=seed) for seed, name in enumerate("abc")}
    raise_rh(frames["a"], slice(600, 900), 15.0)
    raise_rh(frames["a"], slice(650, 651), 90.0)
    others = {"b": frames["b"], "c": frames["c"]}
    at_once = flag_readings(frames["a"], neighbours=others)
    assert marked(at_once, Flag.OUT_OF_RANGE) == [650]
    pd.testing.assert_frame_equal(flag_disagreeing(flag_readings(frames["a"]), others), at_once)


def test_with_one_neighbour_nobody_knows_who_is_right() -> None:
    moved = room()
    raise_rh(moved, slice(None, None), 15.0)
    assert marked(flag_readings(moved, neighbours={"b": room(seed=2)}), Flag.DISAGREES) == []


def test_flags_of_others_stay_and_flagging_twice_adds_nothing() -> None:
    frame = room()
    frame.iloc[5, 2] = int(Flag.CONFLICT)
    raise_rh(frame, slice(700, 701), 20.0)
    once = flag_readings(frame)
    assert marked(once, Flag.CONFLICT) == [5]
    pd.testing.assert_frame_equal(flag_readings(once), once)
    assert frame["flags"].iloc[700] == 0


@given(
    st.lists(
        st.tuples(
            st.integers(1, 5000),
            st.one_of(st.floats(-50, 150), st.just(float("nan"))),
            st.one_of(st.floats(-60, 90), st.just(float("nan"))),
        ),
        max_size=40,
    )
)
def test_no_reading_is_ever_changed(rows: list[tuple[int, float, float]]) -> None:
    seconds = np.cumsum([step for step, _, _ in rows], dtype=np.int64)
    index = pd.DatetimeIndex(
        pd.Timestamp(START, tz="UTC") + pd.to_timedelta(seconds.astype("int64"), unit="s")
    )
    frame = readings_frame(index, temp_c=[t for *_, t in rows], rh_pct=[r for _, r, _ in rows])
    flagged = flag_readings(frame)
    pd.testing.assert_frame_equal(flagged[["temp_c", "rh_pct"]], frame[["temp_c", "rh_pct"]])
