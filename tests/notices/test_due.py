"""What is due by the clock: silence, a silent house, looks that cannot wait, reminders, a lease."""

from datetime import timedelta

import pytest
from fixtures.short_museum import DAY, START, Clock, add_work, bring, kinds, look, told_to

from analysis.errors import OutOfRangeError
from analysis.records.work_records import Hanging
from service.answers.museum import Museum
from service.notices.after_arrival import after_arrival
from service.notices.arrangements import arrange, arrangement
from service.notices.due import do_what_is_due
from service.storage.notices import mark_seen, notices, open_notices
from service.storage.outbox import letters, take_lease
from service.storage.people import Contact, contacts, put_contact, remove_contact
from service.storage.records import put_record


def test_a_plant_failure_that_stays_at_eighty_stays_open(museum: Museum, clock: Clock) -> None:
    bring(museum, "north-1", (10, 48.0), start=START)
    clock.now = START + 10 * DAY
    after_arrival(museum, ["north"])
    assert kinds(museum) == []
    bring(museum, "north-1", (14, 80.0), start=START + 10 * DAY)
    clock.now = START + 24 * DAY
    after_arrival(museum, ["north"])
    assert kinds(museum) == [("humidity", "north"), ("sustained damp", "north")]
    assert "was back" not in " ".join(
        str(n.details["what"]) for n in open_notices(museum.stores.register)
    )
    damp = next(n for n in open_notices(museum.stores.register) if n.kind == "sustained damp")
    (mould,) = [step for step in damp.details["do_now"] if "mould" in step]
    for words in ("or sniffing", "fitted respirator and gloves", "bag nothing while it is damp"):
        assert words in mould
    bring(museum, "north-1", (2, 48.0), start=START + 24 * DAY)
    clock.now = START + 26 * DAY
    after_arrival(museum, ["north"])
    assert kinds(museum) == []
    ended = [n for n in notices(museum.stores.register) if n.kind == "sustained damp"]
    assert "The air was back by" in ended[0].details["what"]


def test_ten_damp_days_inside_a_quarterly_file_are_told_as_past(
    museum: Museum, clock: Clock
) -> None:
    bring(museum, "north-1", (5, 48.0), start=START)
    clock.now = START + 5 * DAY
    after_arrival(museum, ["north"])
    bring(museum, "north-1", (40, 48.0), (10, 78.0), (40, 48.0), start=START + 5 * DAY)
    clock.now = START + 96 * DAY
    after_arrival(museum, ["north"])
    (told,) = notices(museum.stores.register)
    assert told.kind == "sustained damp"
    assert told.details["past"]
    assert told.ended_utc is not None
    assert "It is past" in told.details["what"]
    after_arrival(museum, ["north"], from_utc=START)
    assert len(notices(museum.stores.register)) == 1, "told once"


def test_one_silent_logger_and_then_the_whole_house(museum: Museum, clock: Clock) -> None:
    bring(museum, "north-1", (20, 48.0), start=START)
    bring(museum, "east-1", (5, 48.0), start=START)
    clock.now = START + 20 * DAY
    do_what_is_due(museum)
    assert kinds(museum) == [("no data", "east")]
    clock.now = START + 60 * DAY
    do_what_is_due(museum, rooms=False)
    assert kinds(museum) == [("no data", "east"), ("silent house", None)]
    (house,) = [n for n in open_notices(museum.stores.register) if n.room is None]
    assert house.headline == "Invented House: no readings since 20 January 2026"
    do_what_is_due(museum, rooms=False)
    assert len(kinds(museum)) == 2
    bring(museum, "north-1", (41, 48.0), start=START + 20 * DAY)
    do_what_is_due(museum)
    assert kinds(museum) == [("no data", "east")]


def test_a_loose_hinge_is_a_notice_until_all_hold(museum: Museum, clock: Clock) -> None:
    add_work(museum)
    look(museum, 1, released=True)
    clock.now = START + 2 * DAY
    do_what_is_due(museum, rooms=False)
    (told,) = open_notices(museum.stores.register)
    assert told.kind == "seen on a round"
    assert told.headline == "North: Slipway: a hinge is loose"
    assert "top left" in told.details["what"]
    look(museum, 3)  # a passing look that did not look at the edges clears nothing
    do_what_is_due(museum, rooms=False)
    assert len(open_notices(museum.stores.register)) == 1
    look(museum, 4, released=False)
    do_what_is_due(museum, rooms=False)
    assert open_notices(museum.stores.register) == ()
    assert notices(museum.stores.register)[0].details["do_now"][0].startswith("Call")


def test_contact_or_a_crack_stays_after_the_work_is_taken_down(
    museum: Museum, clock: Clock
) -> None:
    add_work(museum)
    look(museum, 1, grade=4)
    down = Hanging("W-1", "north", START, START + 2 * DAY)
    put_record(museum.stores.register, down)
    clock.now = START + 5 * DAY
    do_what_is_due(museum, rooms=False)
    assert kinds(museum) == [("seen on a round", "north")]


def test_who_comes_next_is_told_when_nobody_has_seen_it(museum: Museum, clock: Clock) -> None:
    register = museum.stores.register
    put_contact(register, Contact("Duty", "duty@museum.invalid"), by="x")
    put_contact(register, Contact("Head", "head@museum.invalid", after_h=4.0), by="x")
    put_contact(register, Contact("Engineer", "eng@museum.invalid", kinds=("humidity",)), by="x")
    put_contact(register, Contact("M. Keeper", telephone="01 234 56", on_call=True), by="x")
    add_work(museum)
    look(museum, 1, released=True)
    clock.now = START + DAY
    do_what_is_due(museum, rooms=False)
    subject = "North: Slipway: a hinge is loose"
    assert told_to(museum) == [("duty@museum.invalid", subject)]
    assert "M. Keeper, 01 234 56" in letters(register)[0].body
    clock.now += timedelta(hours=3)
    do_what_is_due(museum, rooms=False)
    assert len(told_to(museum)) == 1
    clock.now = max(n.raised_utc for n in notices(register) if n.raised_utc) + timedelta(hours=5)
    do_what_is_due(museum, rooms=False)
    do_what_is_due(museum, rooms=False)
    assert told_to(museum)[1:] == [
        ("head@museum.invalid", f"Nobody has seen this yet: {subject}")
    ], "once"


def test_a_notice_that_was_seen_reminds_nobody(museum: Museum, clock: Clock) -> None:
    register = museum.stores.register
    put_contact(register, Contact("Head", "head@museum.invalid", after_h=4.0), by="x")
    add_work(museum)
    look(museum, 1, released=True)
    clock.now = START + DAY
    do_what_is_due(museum, rooms=False)
    mark_seen(register, open_notices(register)[0].id, by="A. Person")
    clock.now += 30 * DAY
    do_what_is_due(museum, rooms=False)
    assert told_to(museum) == []


def test_two_processes_never_do_it_at_once(museum: Museum, clock: Clock) -> None:
    register = museum.stores.register
    assert take_lease(register, "notices", "another host", 60.0)
    add_work(museum)
    look(museum, 1, released=True)
    assert do_what_is_due(museum, rooms=False).elsewhere
    assert open_notices(register) == ()
    assert take_lease(register, "notices", "another host", -1.0)  # it died; its time ran out
    assert not do_what_is_due(museum, rooms=False).elsewhere
    assert len(open_notices(register)) == 1


def test_limits_are_dated_owned_and_really_read(museum: Museum, clock: Clock) -> None:
    register = museum.stores.register
    bring(museum, "north-1", (5, 48.0), start=START)
    bring(museum, "east-1", (4, 48.0), start=START)
    clock.now = START + 8 * DAY
    do_what_is_due(museum, rooms=False)
    assert kinds(museum) == []
    assert arrange(register, {"silence_days": 3.5}, by="M. Keeper", why="read twice a week")
    do_what_is_due(museum, rooms=False)
    assert kinds(museum) == [("no data", "east")]
    held = arrangement(register)
    assert (held.by, held.why) == ("M. Keeper", "read twice a week")
    assert not arrange(register, {"silence_days": 3.5}, by="M. Keeper")


@pytest.mark.parametrize(
    "wrong",
    [
        {"silence_days": -1.0},
        {"silence_days": float("nan")},
        {"quiet_from": "25:00"},
        {"open_p": "much"},
        {"no such limit": 1},
    ],
)
def test_a_limit_out_of_bounds_is_refused_and_nothing_kept(
    museum: Museum, wrong: dict[str, object]
) -> None:
    with pytest.raises(OutOfRangeError, match="Nothing was stored"):
        arrange(museum.stores.register, wrong, by="x")
    assert arrangement(museum.stores.register).from_utc is None


@pytest.mark.parametrize(
    ("hour", "kind", "pressing", "due_hour"),
    [
        (23, "no data", False, 31),
        (3, "silent house", False, 7),
        (12, "no data", False, 12),
        (23, "humidity", True, 23),
        (23, "humidity", False, 31),
        (23, "seen on a round", False, 23),
    ],
)
def test_quiet_hours_hold_back_what_can_wait(
    museum: Museum, hour: int, kind: str, pressing: bool, due_hour: int
) -> None:
    register = museum.stores.register
    quiet = {"quiet_from": "22:00", "quiet_to": "07:00", "air_waits": True}
    arrange(register, quiet, by="x")
    at = START + timedelta(hours=hour)  # Dublin keeps UTC in winter
    due = arrangement(register).due(kind, at, "Europe/Dublin", pressing=pressing)
    assert due == START + timedelta(hours=due_hour)


def test_a_person_can_be_taken_out_with_every_number(museum: Museum) -> None:
    register = museum.stores.register
    kept = put_contact(register, Contact("M. Keeper", "k@m.invalid", "01 234 56"), by="x")
    remove_contact(register, kept.id, by="x")
    assert contacts(register) == ()
    database = (museum.settings.data_dir / "register.db").read_bytes()
    wal = museum.settings.data_dir / "register.db-wal"
    assert wal.exists() or b"01 234 56" not in database
    from service.storage import audit

    assert "01 234 56" not in repr(audit.trail(register))
