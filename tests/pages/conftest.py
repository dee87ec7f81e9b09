"""An invented week in an invented gallery, built without any store or estimator."""

import math
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pandas as pd
import pytest

from analysis.results import (
    AirNow,
    Band,
    Because,
    Cause,
    Coverage,
    Event,
    History,
    Judgement,
    LeadTime,
    Listing,
    Range,
    RoomWeek,
    State,
    WorkNow,
)
from analysis.series import Flag, readings_frame
from analysis.works import Adhesive, Finish, FrameBuild, Grain, Mount, Panel, Paper, Wall, Work

ZONE = "Europe/Amsterdam"
SPARE = 4.2  # how far the RH of a print may rise above that of its mounting [%RH]
START = datetime(2026, 3, 15, 23, tzinfo=UTC)  # Monday 16 March, 00:00 local
END = START + timedelta(days=7)
QUANTITIES = ("frame_rh_pct", "print_rh_pct", "tension_n_m", "slope_mrad", "wave_mm",
              "headroom_up_pct", "headroom_down_pct", "headroom_quick_pct",
              "headroom_dry_pct", "hinge_slip_mm_m")  # fmt: skip

# title, build, half-time [h], mounted RH [%], paper, what the judgement says
WORKS: Sequence[tuple[str, FrameBuild, float, float, Paper, State]] = (
    ("Salt pans, evening", FrameBuild.A, 2, 44, Paper.FIBRE_BASE, State.NEAR_GLAZING),
    ("Quay at low water", FrameBuild.C, 14, 43, Paper.FIBRE_BASE, State.SLACK),
    ("Girl with a kite", FrameBuild.C, 20, 45, Paper.FIBRE_BASE, State.SLACK),
    ("Interior, north light", FrameBuild.D, 60, 44.2, Paper.RESIN_COATED, State.EASING),
    ("Kiln yard", FrameBuild.C, 26, 46, Paper.RESIN_COATED, State.EASING),
    ("Two ladders", FrameBuild.C, 24, 50, Paper.INKJET_COTTON, State.HINGES),
    ("Orchard under nets", FrameBuild.E, 240, 48, Paper.FIBRE_BASE, State.TAUT),
    ("Storm lamp", FrameBuild.D, 70, 50, Paper.RESIN_COATED, State.TAUT),
    ("The long table", FrameBuild.F, 1500, 47, Paper.RESIN_COATED, State.TAUT),
    ("Self-portrait with thread", FrameBuild.F, 1200, 50, Paper.RESIN_COATED, State.CANNOT_TELL),
    ("Plate 14, tide table", FrameBuild.D, 60, 48, Paper.PLAIN, State.NOT_HELD_BY_TENSION),
)
LISTS = {
    State.NEAR_GLAZING: Listing.LOOK_FIRST,
    State.SLACK: Listing.LOOK_FIRST,
    State.HINGES: Listing.WATCH,
    State.EASING: Listing.WATCH,
    State.CANNOT_TELL: Listing.CANNOT_TELL,
    State.NOT_HELD_BY_TENSION: Listing.NOT_COVERED,
}
LEADS = {
    Listing.LOOK_FIRST: LeadTime(0.0, 0.0, 336.0),
    Listing.WATCH: LeadTime(None, 52.0, 336.0),
    Listing.LEAVE_BE: LeadTime(None, None, 336.0),
}
BECAUSE = {
    State.NEAR_GLAZING: (Because.WAVES_NOW, Because.GLAZING),
    State.SLACK: (Because.WAVES_NOW,),
    State.HINGES: (Because.HINGES,),
}


def room_air(hours: np.ndarray[Any, Any]) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    """Return an invented room's humidity and temperature through the week."""
    scatter = np.random.default_rng(12).normal(0, 0.18, hours.size)
    since = np.clip(hours - 40.2, 0, None)
    wet = 14.5 * (1 - np.exp(-since / 1.6)) * np.exp(-np.clip(since - 4, 0, None) / 9)
    late = 6.0 * np.exp(-(((hours - 140) / 9) ** 2))
    rh_pct = 45.5 + 1.2 * np.sin(2 * np.pi * (hours - 9) / 24) + wet - late + scatter
    temp_c = 20.6 + 0.5 * np.sin(2 * np.pi * (hours - 8) / 24) + 0.4 * wet / 14.5 + scatter / 3
    return rh_pct, temp_c


def dew_point_c(temp_c: pd.Series, rh_pct: pd.Series) -> pd.Series:  # Magnus, for a drawing
    gamma = np.log(rh_pct.to_numpy() / 100) + 17.62 * temp_c / (243.12 + temp_c)
    return pd.Series(243.12 * gamma / (17.62 - gamma))


def readings() -> pd.DataFrame:
    """Return a week of quarter-hours with a gap, a stuck stretch and one spike."""
    times = pd.date_range(START, END, freq="15min", inclusive="left").as_unit("ms")
    rh_pct, temp_c = room_air(np.arange(times.size) / 4.0)
    flags = np.zeros(times.size, dtype="int32")
    stuck = slice(4 * 126, 4 * 131)
    rh_pct[stuck], flags[stuck] = rh_pct[4 * 126], Flag.STUCK
    rh_pct[4 * 17], flags[4 * 17] = 61.0, Flag.ONE_SAMPLE_SPIKE
    keep = np.ones(times.size, dtype=bool)
    keep[4 * 74 : 4 * 81] = False
    frame = readings_frame(times[keep], rh_pct=rh_pct[keep], temp_c=temp_c[keep], flags=flags[keep])
    frame["dew_point_c"] = dew_point_c(frame["temp_c"], frame["rh_pct"])
    return frame


def history(work_id: str, half_time_h: float, mounted_rh_pct: float, known: bool) -> History:
    """Return an invented work's week: a lagged room, with a band that widens with doubt."""
    hours = np.arange(168.0)
    room, _ = room_air(hours)
    curves = np.stack([lagged(room, half_time_h * f) for f in (1.7, 1.0, 0.6)], axis=1)
    frame = np.sort(curves, axis=1) + np.array([-1.5, 0.0, 1.5])
    reserve = SPARE - (frame[:, ::-1] - mounted_rh_pct)
    p_slack = 1 / (1 + np.exp(reserve[:, 1] / 1.1))
    refused = np.full(168, "" if known else "no closing RH")
    blank = np.where(known, 1.0, np.nan)
    three = dict.fromkeys(QUANTITIES, frame * blank) | {"headroom_up_pct": reserve * blank}
    return History(
        work_id=work_id,
        time_utc=np.datetime64(START.replace(tzinfo=None), "s")
        + np.arange(168) * np.timedelta64(1, "h"),
        p_slack=p_slack * blank,
        p_visible=np.clip(p_slack * 1.3 - 0.35, 0, 1) * blank,
        p_clearance=0.1 * p_slack * blank,
        p_hinges=np.full(168, 0.02) * blank,
        p_visible_week=np.clip(p_slack.max() * 1.3 - 0.35, 0, 1) * blank * np.ones(168),
        p_clearance_week=0.1 * p_slack.max() * blank * np.ones(168),
        p_hinges_week=np.full(168, 0.02) * blank,
        refused=refused,
        **three,
    )


def lagged(room: np.ndarray[Any, Any], half_time_h: float) -> np.ndarray[Any, Any]:
    """Return the room through a first-order lag, hour by hour."""
    share = 1 - math.exp(-math.log(2) / half_time_h)
    inside = np.empty_like(room)
    inside[0] = room[0]
    for hour in range(1, room.size):
        inside[hour] = inside[hour - 1] + share * (room[hour] - inside[hour - 1])
    return inside


def work(number: int) -> Work:
    """Return one of the invented works."""
    title, build, _, mounted, paper, state = WORKS[number]
    known = state is not State.CANNOT_TELL
    return Work(
        work_id=f"W{number + 1:02d}",
        title=title,
        width_mm=1200.0 + 40 * number,
        height_mm=900.0,
        paper=paper,
        finish=Finish.SEMI_MATT,
        mount=Mount.BONDED if state is State.NOT_HELD_BY_TENSION else Mount.TENSION_HELD,
        grain=Grain.HORIZONTAL if number % 2 else Grain.UNKNOWN,
        panel=Panel.PAPER_HONEYCOMB,
        adhesive=Adhesive.PRESSURE_SENSITIVE if state is State.HINGES else Adhesive.PASTED,
        hinge_free_length_mm=12.0 if number % 2 else None,
        mounted_utc=datetime(2025, 9, 3, 9, tzinfo=UTC),
        mounted_rh_pct=float(mounted),
        mounted_temp_c=21.0,
        frame=build,
        spacer_mm=12.0 if known else None,
        wall=Wall.OUTSIDE_MASONRY if number == 1 else Wall.INSIDE,
        on_loan=number == 2,
    )


def judgement(number: int) -> Judgement:
    """Return the invented line on the round of one of the works."""
    title, *_, state = WORKS[number]
    listing = LISTS.get(state, Listing.LEAVE_BE)
    sure = state not in (State.CANNOT_TELL, State.NOT_HELD_BY_TENSION)
    visible = {Listing.LOOK_FIRST: 0.81 - 0.1 * number, Listing.WATCH: 0.34}.get(listing, 0.03)
    spare = 0.5 if listing is Listing.LOOK_FIRST else 3.2 if listing is Listing.WATCH else 6.4
    return Judgement(
        work_id=f"W{number + 1:02d}",
        title=title,
        listing=listing,
        state=state,
        at_utc=START + timedelta(days=2, hours=15),
        p_visible_now=visible if sure else math.nan,
        p_visible_week=visible if sure else math.nan,
        p_clearance=0.14 if state is State.NEAR_GLAZING else 0.01,
        p_hinges=0.27 if state is State.HINGES else 0.02,
        headroom_up_pct=Range(spare - 2.1, spare, spare + 2.4) if sure else None,
        headroom_down_pct=Range(9.0, 14.0, 19.0) if sure else None,
        print_rh_pct=Range(50.2, 53.1, 56.0) if sure else None,
        lead_time=LEADS[listing] if sure else None,
        work=work(number),
        because=BECAUSE.get(state, ()),
        refusal="conditioned" if state is State.CANNOT_TELL else "",
        air=AirNow(True, 58.0, 20.0, 39.0, 59.0),
        now=now(spare) if sure else None,
        look_again_utc=START + timedelta(days=4, hours=9) if listing is Listing.LEAVE_BE else None,
        order_key=(float(number),),
    )


def now(spare: float) -> WorkNow:
    """Return the chain of an invented work at the hour of the round."""
    return WorkNow(
        p_slack=0.9 if spare < 1.0 else 0.2,
        frame_rh_pct=Range(51.0, 54.0, 57.0),
        print_rh_pct=Range(50.2, 53.1, 56.0),
        tension_n_m=Range(20.0, 60.0, 140.0),
        slope_mrad=Range(0.0, 6.0, 20.0),
        headroom_up_pct=Range(spare - 2.1, spare, spare + 2.4),
        headroom_down_pct=Range(9.0, 14.0, 19.0),
        headroom_change_pct=-3.0,
        likeliest_utc=START + timedelta(days=1, hours=20),
    )


def events() -> list[Event]:
    """Return the week's events: a wet opening night, a silence and a dry spell."""
    wet = START + timedelta(hours=40, minutes=10)
    gap, dry = START + timedelta(hours=74), START + timedelta(hours=128)
    hour = timedelta(hours=1)
    nan = math.nan
    return [
        Event("spike", "rh_pct", wet, wet + 3.2 * hour, wet + 21 * hour, 45.1, 59.4, 14.3, 4.5,
              120.0, Cause.MOISTURE_ADDED, 100.0, confirmed_by="the logger by the door"),
        Event("no data", "rh_pct", gap, gap, gap + 7 * hour, nan, nan, nan, nan, nan, "", 0.0),
        Event("excursion", "rh_pct", dry, dry + 12 * hour, dry + 24 * hour, 45.6, 39.2, -6.4,
              -0.5, 60.0, Cause.UNKNOWN, 100.0, over=False),
    ]  # fmt: skip


def room_week(numbers: Sequence[int] = range(len(WORKS)), **changes: Any) -> RoomWeek:
    """Return the invented week with some of the works on the walls."""
    held = {f"W{n + 1:02d}": n for n in numbers}
    facts: dict[str, Any] = {
        "room_id": "north",
        "room_name": "North gallery",
        "zone": ZONE,
        "iso_week": "2026-W12",
        "start_utc": START,
        "end_utc": END,
        "readings": readings(),
        "band": Band("Agreed band", 40.0, 55.0, owner="collections care", since="2025"),
        "events": events(),
        "works": {work_id: work(n) for work_id, n in held.items()},
        "histories": {
            work_id: history(
                work_id, WORKS[n][2], WORKS[n][3], WORKS[n][5] is not State.CANNOT_TELL
            )
            for work_id, n in held.items()
            if WORKS[n][5] is not State.NOT_HELD_BY_TENSION
        },
        "judgements": [judgement(n) for n in numbers],
        "coverage": Coverage(95.8, 21, 28, 7.0, 900.0),
        "loggers": ["north wall, picture height"],
        "calibration": "checked 12 January 2026: reads 0.6 %RH high, corrected",
        "clock": "clock 40 s slow",
    }
    return RoomWeek(**(facts | changes))


@pytest.fixture(scope="session")
def week() -> RoomWeek:
    return room_week()
