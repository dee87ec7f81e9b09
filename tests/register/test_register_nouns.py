"""Works, placements, calibrations, inspections, notices, letters: on both databases."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd
import pytest

from analysis.errors import OutOfRangeError, UnknownNameError
from analysis.instruments.calibration import apply_calibration
from analysis.records.house_records import CalendarEvent
from analysis.records.inspection_records import Inspection, Measured
from analysis.records.room_records import Calibration, Logger, Place, Placement, Room, Site
from analysis.records.work_records import Framing, Hanging, Mounting, Print
from analysis.series import readings_frame
from analysis.works import Finish, FrameBuild, Mount, Override, Paper, Wall
from service.errors import StoreError
from service.storage import (
    audit,
    incidents,
    inspections,
    loggers,
    notices,
    outbox,
    places,
    works,
)
from service.storage.accounts import users
from service.storage.records import put_record
from service.storage.register import Register

DAY = timedelta(days=1)
START = datetime(2025, 3, 1, tzinfo=UTC)


@pytest.fixture
def museum(register: Register) -> Register:
    """One site, two rooms, one logger, one work."""
    put_record(register, Site("main", "The museum", "Europe/Vienna"))
    for room in ("north", "south"):
        put_record(register, Room(room, "main", f"{room.title()} gallery"))
    put_record(register, Logger("n1"))
    sheet = Print("W-1", "Snow", 1500, 1000, Paper.FIBRE_BASE, Finish.MATT, on_loan=True)
    put_record(register, sheet)
    return register


def test_a_work_is_seen_with_the_mount_and_frame_of_its_time(museum: Register) -> None:
    put_record(museum, Mounting("W-1", START, mounted_rh_pct=48))
    put_record(museum, Framing("W-1", FrameBuild.D, START + DAY, spacer_mm=12))
    put_record(museum, Framing("W-1", FrameBuild.E, START + 90 * DAY, 45, 15))
    put_record(museum, Measured("W-1", "half_time_h", 20, 15, 25, "a logger"))
    before = works.work_at(museum, "W-1", START + 30 * DAY)
    after = works.work_at(museum, "W-1", START + 100 * DAY)
    assert (before.frame, before.spacer_mm, before.closing_rh_pct) == (FrameBuild.D, 12, None)
    assert (after.frame, after.spacer_mm, after.closing_rh_pct) == (FrameBuild.E, 15, 45)
    assert (after.mounted_rh_pct, after.mounted_utc) == (48, START)
    assert after.mount is Mount.TENSION_HELD
    assert (after.title, after.on_loan, after.paper) == ("Snow", True, Paper.FIBRE_BASE)
    assert before.overrides == {"half_time_h": Override(20, 15, 25, "a logger")}
    assert after.overrides == {}  # it was measured of the frame before


def test_a_half_time_ends_when_the_frame_is_taped_anew(museum: Register) -> None:
    put_record(museum, Framing("W-1", FrameBuild.D, START))
    put_record(museum, Measured("W-1", "half_time_h", 20, 15, 25, "one", START + DAY))
    put_record(museum, Measured("W-1", "prestrain", 1e-3, 0, 2e-3, "two", START))
    assert set(works.work_at(museum, "W-1", START + 2 * DAY).overrides) == {
        "half_time_h", "prestrain",
    }  # fmt: skip
    put_record(museum, Framing("W-1", FrameBuild.D, START + 9 * DAY))
    assert set(works.work_at(museum, "W-1", START + 10 * DAY).overrides) == {"prestrain"}
    anew = Measured("W-1", "half_time_h", 30, 25, 35, "three", START + 9 * DAY)
    put_record(museum, anew)
    assert works.work_at(museum, "W-1", START + 10 * DAY).overrides["half_time_h"].value == 30
    assert works.work_at(museum, "W-1", START + 2 * DAY).overrides["half_time_h"].value == 20


def test_a_measured_number_holds_from_its_date(museum: Register) -> None:
    put_record(museum, Measured("W-1", "half_time_h", 20, 15, 25, "first"))
    later = Measured("W-1", "half_time_h", 30, 25, 35, "second", START)
    put_record(museum, later)
    assert works.work_at(museum, "W-1", START - DAY).overrides["half_time_h"].origin == "first"
    assert works.work_at(museum, "W-1", START).overrides["half_time_h"].origin == "second"


def test_works_are_where_they_hung(museum: Register) -> None:
    move = START + 30 * DAY
    outside = Wall.OUTSIDE_MASONRY
    put_record(museum, Hanging("W-1", "north", START, move, outside, True))
    put_record(museum, Hanging("W-1", "south", move))

    def where(time: datetime) -> list[tuple[str, Wall]]:
        return [
            (room, work.wall)
            for room in ("north", "south")
            for work in works.works_at(museum, room, time)
        ]

    assert where(START - DAY) == []
    assert where(START) == [("north", outside)]
    assert where(move - DAY) == [("north", outside)]
    assert where(move) == [("south", Wall.INSIDE)]
    assert works.work_at(museum, "W-1", START).sun_or_spot
    spanning = works.hangings_in(museum, "north", move - DAY, move + DAY)
    assert [hanging.work_id for hanging in spanning] == ["W-1"]
    assert works.hangings_in(museum, "north", move, move + DAY) == ()


def test_an_unknown_work_or_room_lists_those_known(museum: Register) -> None:
    with pytest.raises(UnknownNameError, match="one of W-1"):
        works.work_at(museum, "W-2")
    with pytest.raises(UnknownNameError, match="one of north, south"):
        places.room_named(museum, "east")


def test_a_logger_that_moved_is_found_where_it_was(museum: Register) -> None:
    move = START + 30 * DAY
    put_record(museum, Placement("n1", "north", None, move))
    put_record(museum, Placement("n1", "south", move))
    inside = Placement("n1", "north", START + DAY, place=Place.IN_FRAME)
    put_record(museum, inside)
    assert [p.room for p in loggers.placements(museum, "n1")] == ["north", "north", "south"]
    assert len(loggers.placements_in(museum, "north", START, START + DAY)) == 1
    assert loggers.placements_in(museum, "north", move) == ()
    assert [p.to_utc for p in loggers.placements_in(museum, "south", move)] == [None]
    with pytest.raises(OutOfRangeError, match="to_utc"):
        put_record(museum, Placement("n1", "north", move, START))


def test_calibrations_are_layers_over_readings(museum: Register) -> None:
    loggers.put_calibration(museum, Calibration("n1", "rh_pct", 36, 33, 78, 75, START))
    loggers.put_calibration(museum, Calibration("n1", "rh_pct", 34, 33, 74, 75, START + 2 * DAY))
    loggers.put_calibration(museum, Calibration("n1", "temp_c", 20.5, 20))
    index = pd.date_range(START - DAY, periods=5, freq="D")
    frame = readings_frame(index, temp_c=np.full(5, 21.0), rh_pct=np.full(5, 54.0))
    layered = apply_calibration(frame, loggers.layers(museum, "n1"))
    assert layered["rh_pct"].tolist() == pytest.approx([54, 51, 51, 54, 54])
    assert layered["temp_c"].tolist() == [20.5] * 5
    assert frame["rh_pct"].tolist() == [54.0] * 5


def test_a_calibration_beyond_belief_is_not_stored(museum: Register) -> None:
    mistyped = Calibration("n1", "rh_pct", 36, 63, from_utc=START)
    with pytest.raises(OutOfRangeError, match="calibration from"):
        loggers.put_calibration(museum, mistyped)
    assert loggers.calibrations(museum) == ()


def test_an_inspection_is_withdrawn_but_not_forgotten(museum: Register) -> None:
    seen = Inspection("W-1", START, 2, wave_mm=3.5, by="R. Keeper")
    assert inspections.put_inspection(museum, seen)
    assert not inspections.put_inspection(museum, seen), "the same form sent twice"
    assert inspections.inspections(museum, "W-1") == (seen,)
    withdraw = inspections.withdraw_inspection
    assert withdraw(museum, "W-1", START, "R. Keeper", why="wrong work", by="R. Keeper")
    assert inspections.inspections(museum) == ()
    (kept,) = inspections.inspections(museum, with_withdrawn=True)
    assert (kept.grade, kept.withdrawn) == (2, "wrong work")
    with pytest.raises(UnknownNameError):
        withdraw(museum, "W-1", START + DAY, "R. Keeper", why="", by="")
    with pytest.raises(OutOfRangeError, match="grade"):
        inspections.put_inspection(museum, Inspection("W-1", START, 5, by="R. Keeper"))
    with pytest.raises(StoreError):
        inspections.put_inspection(museum, Inspection("W-9", START, 1, by="R. Keeper"))


def test_one_notice_per_cause_until_it_is_over(museum: Register) -> None:
    first = notices.Notice("spike north", "spike", "north", "RH 58 % and rising", START)
    noted, new = notices.raise_notice(museum, first, START)
    assert new and noted.id > 0
    more = notices.Notice("spike north", "spike", "north", "RH 63 %", START, {"works": ["W-1"]})
    again, new = notices.raise_notice(museum, more, START + DAY)
    assert not new and again.id == noted.id
    assert (again.raised_utc, again.changed_utc) == (START, START + DAY)
    assert [n.headline for n in notices.open_notices(museum)] == ["RH 63 %"]
    assert notices.mark_seen(museum, noted.id, by="R. Keeper").seen_by == "R. Keeper"
    assert notices.mark_seen(museum, noted.id, by="T. Other").seen_by == "R. Keeper"
    assert notices.end_notice(museum, "spike north", START + 2 * DAY)
    assert not notices.end_notice(museum, "spike north", START + 3 * DAY)
    assert notices.open_notices(museum) == ()
    assert notices.notices(museum, "north")[0].ended_utc == START + 2 * DAY


def test_letters_wait_are_claimed_once_and_are_tried_again(register: Register) -> None:
    letter = outbox.Letter("n1 to r", "r@museum.example", "North gallery", "…")
    assert outbox.queue_letter(register, letter, START)
    assert not outbox.queue_letter(register, letter, START)
    (claimed,) = outbox.claim_due(register, "first", START)
    assert outbox.claim_due(register, "second", START) == ()
    due = outbox.mark_failed(register, claimed.id, "connection refused", START)
    assert outbox.claim_due(register, "second", due - timedelta(seconds=1)) == ()
    (again,) = outbox.claim_due(register, "second", due)
    assert (again.message_id, again.tries) == (claimed.message_id, 1)
    # The second sender dies with the letter in hand: it is due again later.
    late = due + timedelta(seconds=outbox.CLAIM_S)
    (third,) = outbox.claim_due(register, "third", late)
    outbox.mark_sent(register, third.id, late)
    assert outbox.claim_due(register, "third", late + DAY) == ()
    assert outbox.letters(register, only_waiting=True) == ()
    assert outbox.letters(register)[0].sent_utc == late


def test_waits_between_attempts_grow_to_an_hour(register: Register) -> None:
    outbox.queue_letter(register, outbox.Letter("a", "r@museum.example", "s", "b"), START)
    waits, now = [], START
    for _ in range(10):
        (letter,) = outbox.claim_due(register, "sender", now)
        due = outbox.mark_failed(register, letter.id, "down", now)
        waits.append((due - now).total_seconds())
        now = due
    assert waits[:3] == [30, 60, 120]
    assert waits[-1] == 3600


def test_settings_are_dated_and_owned(register: Register) -> None:
    low = places.SiteSetting("watch_probability", 0.3, START, "R. Keeper", "to begin with")
    high = places.SiteSetting("watch_probability", 0.5, START + DAY, "T. Other")
    for setting in (low, high):
        assert places.put_setting(register, setting)
    assert places.setting_at(register, "watch_probability", START - DAY) is None
    assert places.setting_at(register, "watch_probability", START) == low
    assert places.setting_at(register, "watch_probability") == high


def test_the_calendar_of_a_room_holds_what_concerns_the_whole_site(museum: Register) -> None:
    opening = CalendarEvent("main", "opening", START, "Opening", "north", START + DAY / 8)
    storm = CalendarEvent("main", "weather", START + DAY, "Storm")
    for event in (opening, storm):
        assert put_record(museum, event)
        assert not put_record(museum, event)
    assert places.calendar(museum, "north") == (opening, storm)
    assert places.calendar(museum, "south") == (storm,)
    assert places.calendar(museum, "north", START + DAY / 9, START + DAY) == (opening,)
    assert places.calendar(museum, None, START + DAY) == (storm,)


def test_an_incident_is_opened_and_closed(museum: Register) -> None:
    incident = incidents.Incident("north", START, "R. Keeper", details={"peak_rh_pct": 71})
    incidents.put_incident(museum, incident, by="R. Keeper")
    closed = incidents.Incident(
        "north", START, "R. Keeper", details={"peak_rh_pct": 71}, closed_utc=START + DAY
    )
    incidents.put_incident(museum, closed, by="R. Keeper")
    (found,) = incidents.incidents(museum, "north")
    assert (found.closed_utc, found.details) == (START + DAY, {"peak_rh_pct": 71})


def test_choices_are_remembered(register: Register) -> None:
    assert loggers.remembered_choice(register, "n1") is None
    assert loggers.remember_choice(register, "n1", {"zone": "Europe/Vienna"}, by="R. Keeper")
    assert not loggers.remember_choice(register, "n1", {"zone": "Europe/Vienna"})
    assert loggers.remember_choice(register, "n1", {"zone": "UTC"})
    assert loggers.remembered_choice(register, "n1") == {"zone": "UTC"}


def test_the_audit_trail_never_holds_a_password(register: Register) -> None:
    assert users.put_user(register, users.User("keeper", password_hash="secret-hash"), by="x")
    assert not users.put_user(register, users.User("keeper", password_hash="secret-hash"), by="x")
    assert users.put_user(register, users.User("keeper", password_hash="other"), by="x")
    assert users.users(register)[0].password_hash == "other"
    assert "secret-hash" not in str(audit.trail(register))
