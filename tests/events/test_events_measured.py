"""Events in rooms that others measured.

Attribution: steam events, Suthaharan et al., ISSNIP 2010 (ODC-By 1.0, CC BY 4.0); home with an
attic, TRH-database (CC BY 4.0).
"""

from datetime import datetime
from pathlib import Path

import pandas as pd
import pytest

from analysis.air.quality import flag_readings
from analysis.events.event_finding import find_events
from analysis.results import Cause, Event
from analysis.series import readings_frame

# The steam set has no time stamps; any start will do.
STEAM_START = pd.Timestamp("2010-05-09 08:00", tz="UTC")
STEAM_STEP_S = 5.0


def steam(folder: Path, mote: str) -> pd.DataFrame:
    names = ["reading", "mote", "rh_pct", "temp_c", "label"]
    path = folder / "labelled_steam_events" / f"singlehop_{mote}_data.txt"
    return pd.read_csv(path, sep="\t", skiprows=1, names=names)


def steam_events(folder: Path, mote: str) -> list[Event]:
    d = steam(folder, mote)
    times = pd.date_range(STEAM_START, periods=len(d), freq="5s")
    frame = readings_frame(times, temp_c=d["temp_c"].to_numpy(), rh_pct=d["rh_pct"].to_numpy())
    return find_events(flag_readings(frame), channel=mote)


def reading_number(moment: datetime) -> float:
    return 1 + (pd.Timestamp(moment) - STEAM_START).total_seconds() / STEAM_STEP_S


def test_the_labelled_steam_is_found_once(shared_data: Path) -> None:
    d = steam(shared_data, "indoor_moteid1")
    labelled = d["reading"][d["label"] == 1]
    assert (labelled.min(), labelled.max()) == (2344, 2460)
    (event,) = steam_events(shared_data, "indoor_moteid1")
    minute = 60 / STEAM_STEP_S
    assert event.kind == "spike"
    assert reading_number(event.start_utc) == pytest.approx(labelled.min(), abs=minute)
    assert reading_number(event.end_utc) == pytest.approx(labelled.max(), abs=minute)
    assert event.peak_value == pytest.approx(91.61)
    assert event.from_value == pytest.approx(44.6, abs=0.5)
    assert event.cause == Cause.MOISTURE_ADDED
    assert event.over


@pytest.mark.parametrize("mote", ["indoor_moteid2", "outdoor_moteid3"])
def test_nothing_is_found_in_the_quiet_controls(shared_data: Path, mote: str) -> None:
    assert steam_events(shared_data, mote) == []


@pytest.mark.parametrize(("room", "jumps"), [("indoor1", 66), ("indoor2", 38)])
def test_the_documented_one_hour_jumps_are_found(shared_data: Path, room: str, jumps: int) -> None:
    frame = flag_readings(attic(shared_data, f"{room}.csv"))
    steps = frame["rh_pct"].diff().abs() > 20.0
    assert steps.sum() == jumps  # README of the set: one-hour steps above 20 %RH
    sudden = [e for e in find_events(frame, zone="Europe/Helsinki") if e.kind in ("spike", "step")]
    hour = pd.Timedelta("1h")
    missed = [
        at
        for at in pd.DatetimeIndex(frame.index[steps])
        # An end is read between two readings: it lies before the one after the last jump.
        if not any(e.start_utc <= at - hour <= e.end_utc for e in sudden)
    ]
    assert missed == []


def test_a_home_is_compared_with_the_air_outdoors(shared_data: Path) -> None:
    outdoor = attic(shared_data, "fmi.csv", "Te", "RHe")
    frame = flag_readings(attic(shared_data, "indoor1.csv"))
    january = frame[(frame.index >= "2011-01-01") & (frame.index < "2011-02-01")]
    events = find_events(january, outdoor=outdoor, zone="Europe/Helsinki")
    wet = [e for e in events if e.kind == "spike" and e.size > 0]
    assert wet
    # In a Finnish January outdoor air holds less moisture than any living room.
    assert all(e.cause.endswith("outdoors was drier") for e in wet)


def attic(folder: Path, name: str, temp: str = "T", rh: str = "RH") -> pd.DataFrame:
    d = pd.read_csv(folder / "attic_paper_pair" / name)
    times = pd.DatetimeIndex(pd.to_datetime(d["t_UTC+2"])).tz_localize("Etc/GMT-2")
    return readings_frame(
        times.tz_convert("UTC"), temp_c=d[temp].to_numpy(), rh_pct=d[rh].to_numpy()
    )
