"""What the register knows of readings without opening them, and what numbers tell of changes."""

import shutil
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow.parquet as pq
import pytest
from fixtures.kept_files import folder_of, month_path

from analysis.records.house_records import CalendarEvent
from analysis.records.inspection_records import Inspection
from analysis.records.room_records import (
    AgreedBand,
    Calibration,
    Logger,
    Place,
    Placement,
    Room,
    Site,
)
from analysis.records.work_records import Hanging, Print
from analysis.series import readings_frame
from analysis.works import Finish, Paper
from service.answers.museum import Museum
from service.climate.room_readings import room_reach
from service.errors import StoreError
from service.settings import Settings
from service.storage import inspections, loggers
from service.storage.migrate import set_aside
from service.storage.records import put_record
from service.storage.spans import spans
from service.storage.stores import Stores
from service.storage.versions import Versions, versions

START = datetime(2026, 1, 1, tzinfo=UTC)


def series(start: str, hours: int, rh: float = 50.0) -> pd.DataFrame:
    index = pd.date_range(start, periods=hours, freq="h", tz="UTC")
    return readings_frame(index, temp_c=np.full(hours, 20.0), rh_pct=rh + np.arange(hours) % 7)


@pytest.fixture
def museum(stores: Stores) -> Stores:
    register = stores.register
    put_record(register, Site("main", "The museum", "Europe/Vienna"))
    for room in ("north", "south", "yard"):
        put_record(register, Room(room, "main", room))
    for logger, room in (("n1", "north"), ("s1", "south")):
        put_record(register, Logger(logger))
        put_record(register, Placement(logger, room))
    put_record(register, Logger("out"))
    put_record(register, Placement("out", "yard", place=Place.OUTDOORS))
    put_record(register, Print("W-1", "Snow", 1000, 800, Paper.FIBRE_BASE, Finish.MATT))
    put_record(register, Hanging("W-1", "north"))
    return stores


def moved(stores: Stores, change: Callable[[], object]) -> set[str]:
    """Return the scopes that a change gave a new number."""
    before = versions(stores.register)
    change()
    after = versions(stores.register)
    return {s for s, n in after.numbers.items() if n != before.numbers.get(s)}


def test_readings_concern_the_room_in_which_their_logger_hangs(museum: Stores) -> None:
    frame = series("2026-01-01", 48)
    assert moved(museum, lambda: museum.readings.merge("n1", frame)) == {"room:north"}
    assert moved(museum, lambda: museum.readings.merge("n1", frame)) == set()
    assert "site:main" in moved(museum, lambda: museum.readings.merge("out", frame))
    assert moved(museum, lambda: museum.readings.rebuild("n1", list)) == {"room:north"}


def test_facts_concern_what_they_name(museum: Stores) -> None:
    register = museum.register
    look = Inspection("W-1", START, 1, by="R. Keeper")
    assert moved(museum, lambda: inspections.put_inspection(register, look)) == {"work:W-1"}
    assert moved(museum, lambda: inspections.put_inspection(register, look)) == set()
    band = AgreedBand("south", "agreed", 40.0, 55.0)
    assert moved(museum, lambda: put_record(register, band)) == {"room:south"}
    checked = Calibration("n1", "rh_pct", 50.0, 51.0)
    assert moved(museum, lambda: loggers.put_calibration(register, checked)) == {"room:north"}
    elsewhere = Hanging("W-1", "south", START)
    told = moved(museum, lambda: put_record(register, elsewhere))
    assert told == {"work:W-1", "room:south"}
    opening = CalendarEvent("main", "opening", START, "Opening")
    assert moved(museum, lambda: put_record(register, opening)) == {"site:main"}


def test_a_stamp_is_equal_while_what_it_names_is_unchanged() -> None:
    then = Versions({"site:main": 1, "room:north": 2, "room:south": 3, "work:W-1": 4})
    now = Versions({**then.numbers, "room:south": 5})
    assert then.stamp(rooms=["north"], works=["W-1"]) == now.stamp(rooms=["north"], works=["W-1"])
    assert then.stamp(rooms=["north", "south"]) != now.stamp(rooms=["north", "south"])
    later = Versions({**now.numbers, "work:W-2": 6})
    assert now.stamp(works=None) != later.stamp(works=None)
    assert now.stamp(rooms=["north"]) == later.stamp(rooms=["north"])
    moved_house = Versions({**now.numbers, "site:main": 7})
    assert now.stamp() != moved_house.stamp()
    assert now.whole() != later.whole()


def test_spans_tell_what_the_months_hold(museum: Stores) -> None:
    museum.readings.merge("n1", series("2026-01-30", 72))
    january, february = spans(museum.register, "n1")
    assert (january.month, january.rows, february.rows) == ("2026-01", 48, 24)
    assert january.first_utc == datetime(2026, 1, 30, tzinfo=UTC)
    assert february.last_utc == datetime(2026, 2, 1, 23, tzinfo=UTC)
    assert february.digest == museum.readings.digest("n1", "2026-02")
    museum.readings.merge("n1", series("2026-02-02", 1))
    assert spans(museum.register, "n1")[1].rows == 25


def test_start_and_rooms_open_no_month(museum: Stores, monkeypatch: pytest.MonkeyPatch) -> None:
    museum.readings.merge("n1", series("2026-01-30", 72))
    museum.readings.merge("s1", series("2026-01-01", 72))

    def opened(*_: object, **__: object) -> None:
        pytest.fail("a month was opened")

    folder_of(museum.readings)  # of a bucket a start does not even ask for names
    monkeypatch.setattr(pq, "ParquetFile", opened)
    settings = Settings(data_dir=museum.folder)
    with Stores.open(settings) as again:
        seen = Museum(again, settings)
        assert [room.room for room in seen.rooms()] == ["north", "south"]
        assert room_reach(again, "north") == (
            datetime(2026, 1, 30, tzinfo=UTC),
            datetime(2026, 2, 1, 23, tzinfo=UTC),
        )
        assert seen.first() == datetime(2026, 1, 1, tzinfo=UTC)
        assert room_reach(again, "south") == (START, datetime(2026, 1, 3, 23, tzinfo=UTC))


@pytest.mark.parametrize(
    ("begin", "end", "expected"),
    [
        (None, None, ("2026-01-01 00:00", "2026-01-03 23:00")),
        ("2026-01-02 05:30", None, ("2026-01-02 06:00", "2026-01-03 23:00")),
        (None, "2026-01-02 05:00", ("2026-01-01 00:00", "2026-01-02 04:00")),
        ("2026-01-02 05:10", "2026-01-02 05:50", None),
        ("2026-02-01 00:00", None, None),
    ],
)
def test_a_room_reaches_as_far_as_its_logger_hung_there(
    museum: Stores, begin: str | None, end: str | None, expected: tuple[str, str] | None
) -> None:
    museum.readings.merge("x", series("2026-01-01", 72))
    from_utc, to_utc = (None if t is None else pd.Timestamp(t, tz="UTC") for t in (begin, end))
    put_record(museum.register, Logger("x"))
    put_record(museum.register, Placement("x", "yard", from_utc, to_utc))
    found = room_reach(museum, "yard")
    if expected is None:
        assert found is None
    else:
        assert found == tuple(pd.Timestamp(t, tz="UTC") for t in expected)


def test_months_that_came_and_went_by_another_way_are_noted_at_the_start(
    museum: Stores, tmp_path: Path
) -> None:
    museum.readings.merge("n1", series("2026-01-30", 72))
    museum.readings.merge("s1", series("2026-01-01", 3))
    path = month_path(museum.readings, "n1", "2026-01")
    path.rename(tmp_path / "away.parquet")
    before = versions(museum.register)
    with Stores.open(Settings(data_dir=museum.folder)) as again:
        assert again.readings.months("n1") == ["2026-02"]
        after = versions(again.register)
        assert after.numbers["room:north"] > before.numbers["room:north"]
        assert after.numbers["room:south"] == before.numbers["room:south"]
        (tmp_path / "away.parquet").rename(path)
        assert again.readings.note_all() == 1
        assert len(again.readings.load("n1")) == 72


def test_an_empty_folder_beside_a_register_that_knows_of_readings_is_not_opened(
    tmp_path: Path,
) -> None:
    url = f"sqlite:///{tmp_path / 'register.db'}"
    here = Settings(data_dir=tmp_path / "here", register_url=url)
    with Stores.open(here) as stores:
        stores.readings.merge("n1", series("2026-01-20", 600))
        known = spans(stores.register)
    assert len(known) == 2
    for other in (here.with_changes(data_dir=tmp_path / "other"), here):
        if other is here:
            (tmp_path / "here").rename(tmp_path / "not mounted")
        with pytest.raises(StoreError, match="knows of 2 months") as caught:
            Stores.open(other)
        assert "mounted" in caught.value.action
    (tmp_path / "not mounted").rename(tmp_path / "here")
    with Stores.open(here) as stores:
        assert spans(stores.register) == known


def test_readings_that_were_lost_come_back_from_originals_all_the_same(tmp_path: Path) -> None:
    with Stores.open(Settings(data_dir=tmp_path / "museum")) as stores:
        stores.readings.merge("n1", series("2026-01-20", 60))
        stores.originals.keep(b"Time;Temp\n")
    shutil.rmtree(tmp_path / "museum" / "readings")
    with Stores.open(Settings(data_dir=tmp_path / "museum")) as stores:
        assert spans(stores.register) == ()


def test_a_copy_whose_register_is_older_than_its_files_is_whole(
    museum: Stores, tmp_path: Path
) -> None:
    """As a copy is made while the program runs: the register first, then the folders."""
    museum.readings.merge("n1", series("2026-01-20", 72))
    folder_of(museum.readings)
    copy = tmp_path / "copy"
    copy.mkdir()
    set_aside(museum.folder / "register.db", copy / "register.db")
    museum.readings.merge("n1", series("2026-01-25", 72))
    shutil.copytree(museum.folder / "readings", copy / "readings")
    with Stores.open(Settings(data_dir=copy)) as copied:
        assert len(copied.readings.load("n1")) == 144
        known = [(span.month, span.rows, span.digest) for span in spans(copied.register)]
        assert known == [(s.month, s.rows, s.digest) for s in spans(museum.register)]
