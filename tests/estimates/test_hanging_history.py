"""Where works hung, and the air they have had."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pandas as pd

from analysis.records.inspection_records import Inspection
from analysis.records.work_records import Hanging
from analysis.results import Listing, State
from analysis.simulation.priors import draw
from analysis.works import Finish, Paper, Work
from service.climate.room_readings import RoomReadings, room_readings
from service.estimates.hanging_history import (
    Companions,
    Stay,
    air_of,
    of_one_air,
    stays_until,
    with_the_year_before,
)
from service.storage.inspections import put_inspection
from service.storage.records import put_record


def test_a_work_that_moved_has_the_air_of_both_rooms_and_a_gap_between(small: Any) -> None:
    small.bring("n1", 0, 10)
    small.bring("s1", 0, 10, wet=5.0)
    readings = {room: room_readings(small.stores, room) for room in ("north", "south")}
    stays = (Stay("north", None, small.day(3)), Stay("south", small.day(5), None))
    air = air_of(stays, readings)
    north, south = air.loc[: small.day(3)], air.loc[small.day(5) :]
    assert len(air) == len(north) + len(south) == 3 * 24 + 5 * 24
    assert north["rh_pct"].mean() + 4.0 < south["rh_pct"].mean()


def test_a_work_in_no_measured_room_has_no_air() -> None:
    empty = RoomReadings("north", pd.DataFrame())
    assert air_of((), {"north": empty}).empty


def test_hangings_one_after_another_in_one_room_are_one_stay(small: Any) -> None:
    hung = [
        Hanging("W", "north", None, small.day(2), position="left wall"),
        Hanging("W", "north", small.day(2), small.day(4), position="right wall"),
        Hanging("W", "south", small.day(4)),
    ]
    assert stays_until(hung, small.day(3)) == (Stay("north", None, small.day(4)),)
    assert stays_until(hung, small.day(5)) == (
        Stay("north", None, small.day(4)),
        Stay("south", small.day(4), None),
    )


def test_a_work_between_rooms_hangs_nowhere_and_comes_back(small: Any) -> None:
    small.bring("n1", 0, 30)
    small.bring("s1", 0, 30)
    small.hang("W-1", "north", to_utc=small.day(10))
    put_record(small.stores.register, Hanging("W-1", "south", small.day(12)))
    rooms = ("north", "south")
    found = {
        at: [room for room in rooms if small.museum.judgements(room, small.day(at))]
        for at in (9.5, 11.0, 13.0)
    }
    assert found == {9.5: ["north"], 11.0: [], 13.0: ["south"]}
    assert small.museum.work_over("W-1", 2) is not None


def test_a_work_that_hangs_nowhere_is_in_no_room_and_keeps_what_was_seen(small: Any) -> None:
    small.bring("n1", 0, 10)
    small.hang("W-1", "north", to_utc=small.day(5))
    assert small.museum.judgements("north", small.day(9)) == ()
    found = small.museum.work_over("W-1", 1).judgement
    assert (found.listing, found.refusal) == (Listing.CANNOT_TELL, "not hung")
    assert [one.judgement for one in small.museum.unplaced()] == [found]
    loose = Inspection("W-1", small.day(4), 0, by="R. Keeper", released=True)
    put_inspection(small.stores.register, loose)
    found = small.museum.work_over("W-1", 1).judgement
    assert (found.listing, found.state) == (Listing.LOOK_FIRST, State.HINGES)
    assert [one.judgement for one in small.museum.unplaced()] == [found]


def test_a_humidity_at_mounting_that_nobody_recorded_is_its_rooms_year(small: Any) -> None:
    """The room was at 38 to 42 for a year; mounted elsewhere, it may be five beside that."""
    hours = pd.date_range(small.day(0), small.day(365), freq="1h")
    rh = pd.Series(40.0, index=hours) + [2.0 if at % 2 else -2.0 for at in range(len(hours))]
    frame = pd.DataFrame({"temp_c": 20.0, "rh_pct": rh, "flags": 0}, index=hours)
    known = Work("K", "Known", 900.0, 600.0, Paper.FIBRE_BASE, Finish.GLOSSY, mounted_rh_pct=50.0)
    unknown = replace(known, work_id="U", mounted_rh_pct=None, mounted_utc=small.day(365))
    early = replace(unknown, work_id="E", mounted_utc=small.day(100))
    stays = (Stay("north", small.day(366), None),)
    group = Companions(stays, (known, unknown, early))
    told = with_the_year_before(group, {"north": RoomReadings("north", frame)}, small.day(400))
    ranges = [work.year_before_rh_pct for work in told.works]
    assert ranges == [None, (33.0, 38.0, 47.0), None]
    drawn = draw(told.works[1], 200)["mounted_rh_pct"]
    assert 33.0 <= drawn.min() < drawn.max() <= 47.0


def test_works_that_hung_before_their_room_was_measured_have_one_air() -> None:
    """Each was hung on a day of its own; their air begins with the same reading."""
    first, now = datetime(2026, 1, 5, tzinfo=UTC), datetime(2026, 3, 1, tzinfo=UTC)
    works = [
        Work(f"W-{i}", f"Work {i}", 1000, 800, Paper.RESIN_COATED, Finish.MATT) for i in range(40)
    ]
    before = [
        Companions((Stay("north", first - timedelta(days=i), None),), (works[i],))
        for i in range(36)
    ]
    after = Companions((Stay("north", first + timedelta(hours=1), None),), (works[36],))
    other = Companions((Stay("south", first - timedelta(days=3), None),), (works[37],))
    crate = Companions((Stay("crate", first - timedelta(days=3), None),), (works[38],))
    late = Companions((Stay("east", now - timedelta(days=1), None),), (works[39],))
    begun = {"north": first, "south": first, "east": now - timedelta(hours=1)}
    found = of_one_air([*before, after, other, crate, late], begun.get, now)
    assert sorted(len(one.works) for one in found) == [1, 1, 1, 1, 12, 12, 12]
    assert {one.work_id for group in found for one in group.works} == {w.work_id for w in works}
    assert all(one.stays[0].from_utc is None for one in found if len(one.works) > 1)
    for alone in (after, crate, late):
        assert alone in found  # `late` came this week, which is said of it
    (south,) = (one for one in found if one.room == "south")
    assert south.works == other.works
