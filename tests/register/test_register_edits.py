"""Entries corrected, taken out, withdrawn; what cannot be; on both databases."""

import shutil
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import text

from analysis.errors import OutOfRangeError, StilltautError, UnknownNameError
from analysis.records.inspection_records import Measured
from analysis.records.room_records import Logger, Place, Placement, Room, Site
from analysis.records.work_records import Framing, Hanging, Mounting, Print
from analysis.works import Finish, FrameBuild, Paper
from service.errors import StoreError
from service.records.register_saving import (
    save_entry,
    save_measured,
    take_out_entry,
    withdraw_number,
)
from service.register.possible import problems_of
from service.storage import audit, loggers, migrate, works
from service.storage.records import correct_line, line_at, put_record, require_new, values_of
from service.storage.register import Register, make_engine, open_register

DAY = timedelta(days=1)
START = datetime(2025, 3, 1, tzinfo=UTC)
MOUNTED = {"work_id": "W-1", "mounted_utc": START}


@pytest.fixture
def museum(register: Register) -> Register:
    """One site, two rooms, one logger, one work mounted, framed and hung."""
    put_record(register, Site("main", "The museum", "Europe/Vienna"))
    for room in ("north", "south"):
        put_record(register, Room(room, "main", room))
    put_record(register, Logger("n1"))
    put_record(register, Print("W-1", "Snow", 1500, 1000, Paper.PLAIN, Finish.MATT))
    put_record(register, Mounting("W-1", START, mounted_rh_pct=48.0))
    put_record(register, Framing("W-1", FrameBuild.D, START + DAY))
    put_record(register, Hanging("W-1", "north", START + 2 * DAY))
    return register


def test_a_corrected_date_moves_the_entry_and_nothing_else(museum: Register) -> None:
    later = MOUNTED | {"mounted_utc": START + DAY / 2}
    assert correct_line(museum, "mounts.csv", MOUNTED, later | {"note": "late"}, by="A. Person")
    (mounting,) = works.work_record(museum, "W-1").mountings
    assert mounting == Mounting("W-1", START + DAY / 2, mounted_rh_pct=48.0, note="late")
    newest = audit.of_work(museum, "W-1", 1)[0]
    assert (newest.by, newest.what) == ("A. Person", "mounts")
    assert newest.before is not None and newest.after is not None
    assert newest.before["mounted_utc"] != newest.after["mounted_utc"]
    with pytest.raises(UnknownNameError, match="mounted_utc"):
        correct_line(museum, "mounts.csv", MOUNTED, later, by="B. Person")


def test_an_entry_is_never_written_over_by_another(museum: Register) -> None:
    put_record(museum, Mounting("W-1", None, mounted_rh_pct=40.0))
    with pytest.raises(OutOfRangeError, match="there already"):
        correct_line(museum, "mounts.csv", MOUNTED, MOUNTED | {"mounted_utc": None}, by="")
    with pytest.raises(OutOfRangeError, match="there already"):
        require_new(museum, "mounts.csv", {"work_id": "W-1"})
    assert len(works.work_record(museum, "W-1").mountings) == 2


def test_a_room_in_which_a_work_hung_cannot_be_taken_out(museum: Register) -> None:
    with pytest.raises(StoreError, match="nothing was changed"):
        take_out_entry(museum, "rooms.csv", {"room": "north"}, why="closed", who="A. Person")
    assert line_at(museum, "rooms.csv", {"room": "north"}) is not None


def test_what_would_make_a_record_impossible_is_undone_whole(museum: Register) -> None:
    lines = audit.version(museum)
    moved = values_of(Hanging("W-1", "south", START - 9 * DAY, START - 8 * DAY))
    with pytest.raises(OutOfRangeError, match="expected mounted before it was hung"):
        save_entry(museum, "hangings.csv", moved, who="A. Person")
    with pytest.raises(OutOfRangeError, match="framed 2025-03-02 before mounted 2025-05-01"):
        values = values_of(Mounting("W-1", datetime(2025, 5, 1, tzinfo=UTC)))
        save_entry(museum, "mounts.csv", values, who="A. Person", was=MOUNTED)
    assert audit.version(museum) == lines


def test_two_old_mistakes_are_mended_one_after_the_other(museum: Register) -> None:
    put_record(museum, Framing("W-1", FrameBuild.D, START - 5 * DAY))
    put_record(museum, Hanging("W-1", "south", START - 4 * DAY, START - 3 * DAY))
    assert len(problems_of(museum, "W-1")) > 1
    sheet = values_of(works.work_record(museum, "W-1").print) | {"title": "Snow, evening"}
    save_entry(museum, "works.csv", sheet, who="A. Person", was={"work_id": "W-1"})
    for file, name, at in (
        ("frames.csv", "closed_utc", START - 5 * DAY),
        ("hangings.csv", "from_utc", START - 4 * DAY),
    ):
        take_out_entry(museum, file, {"work_id": "W-1", name: at}, why="mistyped", who="A. Person")
    assert problems_of(museum, "W-1") == {}


def test_a_board_cannot_be_withdrawn_under_its_back(museum: Register) -> None:
    mass = Measured("W-1", "board_mass_kg_m2", 1.0, 0.9, 1.1, "scales")
    back = Measured("W-1", "back_permeance", 5e-9, 4e-9, 6e-9, "data sheet")
    with pytest.raises(OutOfRangeError, match="without the board's mass"):
        save_measured(museum, (back,), who="A. Person")
    save_measured(museum, (mass, back), who="A. Person")
    with pytest.raises(OutOfRangeError, match="without the board's mass"):
        withdraw_number(museum, mass, why="wrong", who="A. Person")
    for one in (back, mass):
        withdraw_number(museum, one, why="wrong", who="A. Person")
    assert works.work_at(museum, "W-1").overrides == {}
    kept = works.work_record(museum, "W-1").measured
    assert {one.withdrawn for one in kept} == {"wrong"}
    assert all(one.withdrawn_utc is not None for one in kept)
    save_measured(museum, (mass,), who="A. Person")
    assert set(works.work_at(museum, "W-1").overrides) == {"board_mass_kg_m2"}


def test_a_placement_of_two_loggers_with_one_work_is_no_matter_of_the_work(
    museum: Register,
) -> None:
    hung = Placement("n1", "north", START, work_id="W-1", place=Place.IN_FRAME)
    save_entry(museum, "placements.csv", values_of(hung), who="A. Person")
    moved = Placement("n1", "south", START + 9 * DAY)
    save_entry(museum, "placements.csv", values_of(moved), who="A. Person")
    first, second = loggers.placements(museum, "n1")
    assert (first.to_utc, second.to_utc) == (START + 9 * DAY, None)


def test_a_register_of_the_third_step_keeps_its_measured_values(tmp_path: Path) -> None:
    steps = tmp_path / "migrations"
    shutil.copytree(migrate.STEPS, steps, ignore=shutil.ignore_patterns("__pycache__"))
    for file in sorted((steps / "versions").glob("*.py"))[3:]:
        file.unlink()
    address = f"sqlite:///{tmp_path / 'register.db'}"
    engine = make_engine(address)
    migrate.upgrade(engine, steps)
    with engine.begin() as connection:
        for line in (
            "INSERT INTO works VALUES ('W', 'Snow', 900, 700, 'plain paper', 'matt', '', 0, '')",
            "INSERT INTO overrides VALUES (1, 'W', 'half_time_h', 20, 15, 25, 'a logger', NULL)",
        ):
            connection.execute(text(line))
    engine.dispose()
    with closing(open_register(address)) as register, register.reading() as session:
        kept = session.execute(text("SELECT name, withdrawn, withdrawn_utc FROM overrides"))
        assert kept.all() == [("half_time_h", "", None)]


def test_an_error_names_the_work(museum: Register) -> None:
    with pytest.raises(StilltautError) as problem:
        values = values_of(Mounting("W-9", START))
        save_entry(museum, "mounts.csv", values, who="A. Person")
    assert problem.value.action
    assert works.work_record(museum, "W-1").mountings
