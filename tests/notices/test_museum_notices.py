"""On the invented museum's last Sunday, its three stories and nothing else are told."""

from collections.abc import Mapping
from datetime import datetime

import pandas as pd
import pytest

from analysis.air.quality import flag_readings
from analysis.events.event_finding import find_events
from analysis.results import Band, Event
from analysis.series import readings_frame
from sample_logs.climate import NOW, ZONE, museum_air
from sample_logs.collection import register
from sample_logs.instruments import DIED, LOGGERS, between, readings_of
from service.notices.air_back import RoomRecord, outside_agreement
from service.notices.causes import Kind, NoticeLimits, silence
from service.notices.rules import Open, decide

Told = set[tuple[str, Kind, bool]]


@pytest.fixture(scope="module")
def events() -> Mapping[str, list[Event]]:
    air = museum_air()
    bands = {
        row["room"]: Band(row["band_name"], row["rh_low_pct"], row["rh_high_pct"])
        for row in register()["rooms.csv"]
        if "band_name" in row
    }
    found: dict[str, list[Event]] = {}
    for logger in LOGGERS:
        if logger.room not in bands or logger.frame_half_time_h or logger.logger == "spare-1":
            continue
        seen = between(readings_of(logger, air), "2025-01-20", "2026-03-23", "1h")
        frame = readings_frame(
            pd.DatetimeIndex(seen.index), temp_c=seen["temp_c"], rh_pct=seen["rh_pct"]
        )
        band = bands[logger.room]
        flagged = flag_readings(frame)
        happened = find_events(flagged, channel=logger.logger, band=band, zone=ZONE)
        told = outside_agreement(happened, RoomRecord.of(flagged), band, NoticeLimits())
        found.setdefault(logger.room, []).extend(told)
    return found


def told(events: Mapping[str, list[Event]], now: datetime) -> Told:
    return {
        (room, action.cause.kind, action.ended_utc is None)
        for room, happened in events.items()
        for action in decide(room, happened, [], [], now)
        if isinstance(action, Open)
    }


def test_the_opening_night_is_over_and_the_humidifier_is_not(
    events: Mapping[str, list[Event]],
) -> None:
    assert told(events, NOW.to_pydatetime()) == {
        ("north", Kind.HUMIDITY, False),
        ("court", Kind.HUMIDITY, True),
    }


def test_the_opening_night_was_seen_by_both_loggers(events: Mapping[str, list[Event]]) -> None:
    (action,) = decide("north", events["north"], [], [], NOW.to_pydatetime())
    assert set(action.cause.sensors) == {"north-1", "north-2"}
    assert action.cause.rising
    assert action.cause.size > 10.0


def test_the_silent_logger_is_told_beside_the_room_s_own_events(
    events: Mapping[str, list[Event]],
) -> None:
    now = NOW.to_pydatetime()
    silent = silence("tower-2", DIED.to_pydatetime(), now)
    actions = decide("tower", [*events["tower"], silent], [], [], now)
    assert [action.cause.kind for action in actions] == [Kind.NO_DATA]
