"""The few events that matter, and the crowd of the others as counts."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pandas as pd
import pytest

from analysis.air.quality import flag_readings
from analysis.events.event_finding import find_events
from analysis.events.ranking import ranked_events
from analysis.results import Cause, Event
from analysis.series import readings_frame

AT = datetime(2030, 3, 4, tzinfo=UTC)


def event(kind: str, day: int, size: float, *, over: bool = True, hours: float = 6.0) -> Event:
    start = AT + timedelta(days=day)
    end = start + timedelta(hours=hours)
    return Event(
        kind,
        "north",
        start,
        start,
        end,
        50.0,
        50.0 + size,
        size,
        1.0,
        10.0,
        Cause.UNKNOWN,
        100.0,
        over=over,
    )


def test_a_crowd_of_wide_days_is_a_count_and_the_one_that_stands_out_is_told() -> None:
    swings = [event("24-hour swing", day, 11.0 + 0.01 * day) for day in range(100)]
    swings[40] = replace(swings[40], size=25.0, peak_value=75.0)
    ranked = ranked_events([*swings, event("spike", 7, 14.0)])
    assert [(e.kind, e.size) for e in ranked.reported] == [("spike", 14.0), ("24-hour swing", 25.0)]
    (crowd,) = ranked.crowds
    assert (crowd.kind, crowd.count) == ("24-hour swing", 99)
    assert crowd.largest == pytest.approx(11.99)


def test_three_wide_days_or_fewer_are_told_one_by_one() -> None:
    ranked = ranked_events([event("24-hour swing", day, 11.0) for day in range(3)])
    assert len(ranked.reported) == 3
    assert ranked.crowds == ()


def test_what_still_goes_on_and_silences_come_before_what_is_large() -> None:
    large = [event("spike", day, 40.0) for day in range(10)]
    going_on = event("above band", 20, 1.0, over=False)
    silent = replace(event("no data", 5, float("nan"), hours=30.0), peak_value=float("nan"))
    told = ranked_events([*large, going_on, silent], most=2).reported
    assert told == (silent, going_on)


def test_every_event_is_told_or_counted_once() -> None:
    events = [event(kind, day, 12.0) for day in range(30) for kind in ("spike", "24-hour swing")]
    ranked = ranked_events(events, most=5)
    assert len(ranked.reported) + sum(crowd.count for crowd in ranked.crowds) == 60


def test_eighteen_months_of_a_lively_room_are_a_page(shared_data: Path) -> None:
    """TRH-database (CC BY 4.0): a home with a shower, hourly."""
    table = pd.read_csv(shared_data / "attic_paper_pair" / "indoor1.csv")
    times = pd.DatetimeIndex(pd.to_datetime(table["t_UTC+2"])).tz_localize("Etc/GMT-2")
    frame = readings_frame(
        times.tz_convert("UTC"), temp_c=table["T"].to_numpy(), rh_pct=table["RH"].to_numpy()
    )
    events = find_events(flag_readings(frame), zone="Europe/Helsinki")
    swings = sum(e.kind == "24-hour swing" for e in events)
    assert swings > 100
    ranked = ranked_events(events, most=12)
    assert len(ranked.reported) == 12
    assert sum(e.kind == "24-hour swing" for e in ranked.reported) <= 3
