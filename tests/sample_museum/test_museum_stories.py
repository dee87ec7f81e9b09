"""The stories the demo tells must be in the air that was made."""

import numpy as np
import pandas as pd
import pytest

from sample_logs.climate import NOW, museum_air
from sample_logs.instruments import DIED, LOGGERS, MOVED, STUCK, between, readings_of
from sample_logs.weather import Spell, presence, saturation_pa, wander

LOGGER = {logger.logger: logger for logger in LOGGERS}
Air = dict[str, pd.DataFrame]


@pytest.fixture(scope="module")
def air() -> Air:
    return museum_air()


def rh(air: Air, room: str, first: str, last: str) -> pd.Series:
    series: pd.Series = air[room]["rh_pct"].loc[first:last]
    return series


def test_seasons_show_indoors_and_out(air: Air) -> None:
    for room in ("north", "long", "court", "east", "store"):
        summer = rh(air, room, "2025-07-01", "2025-08-31").mean()
        winter = rh(air, room, "2025-12-01", "2026-02-15").mean()
        assert summer - winter > 3.0, room
    outdoors = air["outdoors"]["temp_c"]
    assert outdoors.loc["2025-07"].mean() - outdoors.loc["2026-01"].mean() > 8.0


def test_air_is_possible_everywhere(air: Air) -> None:
    for room, frame in air.items():
        assert frame["rh_pct"].between(5.0, 99.6).all(), room
        assert frame["temp_c"].between(-12.0, 32.0).all(), room
        assert not frame.isna().to_numpy().any(), room


def test_the_plant_failure_of_august(air: Air) -> None:
    before = rh(air, "long", "2025-08-06", "2025-08-07").mean()
    peak = rh(air, "long", "2025-08-08T16:30", "2025-08-11T09:00").max()
    after = rh(air, "long", "2025-08-13", "2025-08-14").mean()
    assert peak > 62.0
    assert peak - before > 9.0
    assert after < 55.0


def test_the_opening_night_is_moisture_not_cooling(air: Air) -> None:
    before = air["north"].loc["2026-03-19T17:45"]
    night = air["north"].loc["2026-03-19T18:00":"2026-03-19T23:00"]
    assert night["rh_pct"].max() - before["rh_pct"] > 12.0
    assert night["temp_c"].min() >= before["temp_c"] - 0.2
    assert rh(air, "north", "2026-03-21", "2026-03-22").max() < 50.0


def test_the_dry_cold_spell(air: Air) -> None:
    assert rh(air, "east", "2026-01-06", "2026-01-15").mean() < 26.0
    assert rh(air, "north", "2026-01-06", "2026-01-15").mean() > 38.0
    assert air["outdoors"]["temp_c"].loc["2026-01-08":"2026-01-12"].mean() < 0.0


def test_the_humidifier_of_the_court_is_still_going(air: Air) -> None:
    rising = rh(air, "court", "2026-03-22T14:30", "2026-03-22T23:00")
    assert rising.iloc[-1] - rising.iloc[0] > 12.0
    assert rising.iloc[-1] == pytest.approx(rising.max(), abs=0.3)
    assert air["court"].index[-1] == NOW


def test_the_stuck_logger_repeats_and_its_neighbour_does_not(air: Air) -> None:
    stuck = readings_of(LOGGER["long-2"], air)["rh_pct"].loc[STUCK[0] : STUCK[1]].iloc[:-1]
    assert stuck.min() == stuck.max()
    assert readings_of(LOGGER["long-1"], air)["rh_pct"].loc[STUCK[0] : STUCK[1]].std() > 0.3


def test_the_dead_logger_drifts_then_says_nothing(air: Air) -> None:
    dead = readings_of(LOGGER["tower-2"], air)
    assert dead.index[-1] < DIED
    error = dead["rh_pct"] - air["tower"]["rh_pct"].reindex(dead.index)
    assert error.loc["2025-10"].mean() == pytest.approx(0.5, abs=0.1)
    assert error.loc["2025-11-15":].mean() > 5.0


def test_the_moved_logger_sees_both_rooms(air: Air) -> None:
    spare = readings_of(LOGGER["spare-1"], air)["rh_pct"]
    day = pd.Timedelta("1D")
    court, store = air["court"]["rh_pct"], air["store"]["rh_pct"]
    before, after = spare.loc[: MOVED - day], spare.loc[MOVED + day :]
    assert (before - court.reindex(before.index)).std() < 0.3
    assert (after - store.reindex(after.index)).std() < 0.3


def test_frames_lag_behind_the_room(air: Air) -> None:
    framed = readings_of(LOGGER["north-frame"], air)["rh_pct"].loc["2026-03-19":"2026-03-21"]
    room = rh(air, "north", "2026-03-19", "2026-03-21")
    assert framed.max() - framed.iloc[0] < 0.5 * (room.max() - room.iloc[0])
    assert framed.loc[:"2026-03-20T02:00"].max() < framed.loc["2026-03-20T02:00":].max()


def test_a_download_keeps_its_interval_and_ends_now(air: Air) -> None:
    hourly = between(readings_of(LOGGER["long-2"], air), "2025-01-20", "2026-03-23", "1h")
    assert set(np.diff(pd.DatetimeIndex(hourly.index).as_unit("s").asi8).tolist()) == {3600}
    assert hourly.index[-1] == NOW


def test_a_spell_rises_and_falls_back_to_nothing() -> None:
    times = pd.date_range("2026-01-01", "2026-01-31", freq="1h", tz="UTC")
    felt = presence(times, Spell("2026-01-10", "2026-01-20", 0.0, 50.0, 0.8))
    assert felt[times < pd.Timestamp("2026-01-10", tz="UTC")].max() == 0.0
    assert felt.max() == pytest.approx(0.8)
    assert felt[-1] == pytest.approx(0.0, abs=1e-12)


def test_wander_keeps_its_spread_and_memory() -> None:
    walk = wander(np.random.default_rng(1), 200_000, 20.0, 2.0)
    assert walk.std() == pytest.approx(2.0, rel=0.05)
    assert np.corrcoef(walk[:-20], walk[20:])[0, 1] == pytest.approx(np.exp(-1), abs=0.04)


def test_magnus_stays_near_the_program_s_own_saturation_pressure() -> None:
    # ASHRAE Fundamentals 2017, ch. 1, table 3: 25 °C 3169.7 Pa, 5 °C 872.6 Pa.
    assert float(saturation_pa(np.array(25.0))) == pytest.approx(3169.7, rel=0.004)
    assert float(saturation_pa(np.array(5.0))) == pytest.approx(872.6, rel=0.004)
