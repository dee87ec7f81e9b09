"""What `stilltaut check` finds in a register, and the whole job on PostgreSQL."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from analysis.records.room_records import Logger, Placement, Room, Site
from analysis.records.work_records import Hanging, Print
from analysis.works import Finish, Paper
from service.intake.taking_in import finish_received, take_in
from service.intake.verification import verify
from service.register.archive import write_archive
from service.register.register_files import load_register
from service.settings import Settings
from service.storage import uploads
from service.storage.records import put_record
from service.storage.stores import Stores

START = datetime(2025, 3, 1, tzinfo=UTC)
DAY = timedelta(days=1)
MUSEUM = Path(__file__).parents[2] / "sample_logs"
EXPORT = b"Time,Temp (C),RH (%)\n2025-10-31 23:00,20.5,50\n2025-11-01 00:00,20.6,51\n"


@pytest.fixture
def museum(stores: Stores) -> Stores:
    put_record(stores.register, Site("main", "The museum", "Europe/Vienna"))
    for room in ("north", "south"):
        put_record(stores.register, Room(room, "main", room))
    put_record(stores.register, Logger("n1"))
    sheet = Print("W-1", "Snow", 1500, 1000, Paper.FIBRE_BASE, Finish.MATT)
    put_record(stores.register, sheet)
    return stores


def test_a_work_in_two_rooms_at_once_is_named(museum: Stores) -> None:
    put_record(museum.register, Hanging("W-1", "north", START, START + DAY))
    put_record(museum.register, Hanging("W-1", "south", START + DAY))
    assert verify(museum) == []
    put_record(museum.register, Hanging("W-1", "north", START))
    (problem,) = verify(museum)
    assert problem.where == "hangings, work W-1"
    assert problem.found == (
        "its stay in north has no end, though it is in south from 2025-03-02 00:00 UTC"
    )


def test_a_logger_in_two_rooms_at_once_is_named(museum: Stores) -> None:
    put_record(museum.register, Placement("n1", "north", None, START + DAY))
    put_record(museum.register, Placement("n1", "south", START))
    (problem,) = verify(museum)
    assert problem.where == "placements, logger n1"


def test_the_invented_museum_is_sound(stores: Stores) -> None:
    load_register(stores, MUSEUM / "register")
    assert verify(stores) == []


@pytest.fixture
def group(tmp_path: Path, empty_database: str) -> Iterator[Stores]:
    """Stores whose register lies on a PostgreSQL server."""
    settings = Settings(data_dir=tmp_path / "data", register_url=empty_database)
    with Stores.open(settings) as stores:
        yield stores


def test_the_whole_job_with_the_register_on_postgresql(group: Stores, tmp_path: Path) -> None:
    load_register(group, MUSEUM / "register")
    assert take_in(group, EXPORT, name="a.csv", logger_id="spare-9", zone="UTC").added == 2
    (upload,) = uploads.uploads(group.register)
    uploads.mark(group.register, upload.id, uploads.UploadState.RECEIVED)
    assert len(finish_received(group)) == 1
    assert verify(group) == []
    assert not (group.folder / "register.db").exists()
    assert write_archive(group, tmp_path / "out").originals == 1
    assert "spare-9" in (tmp_path / "out" / "register" / "loggers.csv").read_text()


@pytest.mark.parametrize("logger", ["", "a\nb", "x" * 300])
def test_an_impossible_logger_stores_nothing(stores: Stores, logger: str) -> None:
    with pytest.raises(Exception, match="a short name of printable"):
        take_in(stores, EXPORT, name="a.csv", logger_id=logger, zone="UTC")
    assert list(stores.originals.all()) == []
    assert uploads.uploads(stores.register) == ()


def test_a_name_that_cannot_be_printed_is_kept_readable(stores: Stores) -> None:
    take_in(stores, EXPORT, name="n\x00rth\udcff.csv", logger_id="n1", zone="UTC")
    assert uploads.uploads(stores.register)[0].name == "n\ufffdrth\ufffd.csv"
