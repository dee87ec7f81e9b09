"""A watched folder: complete files only, moved aside with a receipt, nothing lost or doubled."""

import os
import time
from pathlib import Path

import pandas as pd
import pytest

from analysis.records.room_records import Logger
from service.answers.museum import Museum
from service.intake.watched_folder import WatchedFolder
from service.settings import Settings
from service.storage.job_records import OPEN, jobs_of
from service.storage.records import put_record
from service.storage.stores import Stores
from service.storage.uploads import uploads


def export(first: str, hours: int, rh: float = 45.0) -> bytes:
    times = pd.date_range(first, periods=hours, freq="h")
    lines = [f"{t:%Y-%m-%d %H:%M},20.{n % 9},{rh + n % 4:.1f}" for n, t in enumerate(times)]
    return "\n".join(["Time,Temp (C),RH (%)", *lines]).encode()


class House:
    """A museum with a watched folder."""

    def __init__(self, stores: Stores, folder: Path) -> None:
        self.stores, self.folder = stores, folder
        put_record(stores.register, Logger("north-1", zone="UTC"))
        self.museum = Museum(stores, Settings(data_dir=stores.folder))
        self.watched = WatchedFolder(self.museum, folder)

    def put(self, name: str, data: bytes, age_s: float = 60.0) -> Path:
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
        os.utime(path, (time.time() - age_s,) * 2)
        return path

    def look(self, times: int = 2) -> None:
        for _ in range(times):
            self.watched(lambda: False)

    def aside(self, where: str) -> list[str]:
        return sorted(path.name for path in (self.folder / where).glob("*"))


@pytest.fixture
def house(stores: Stores, tmp_path: Path) -> House:
    return House(stores, tmp_path / "watched")


def test_a_complete_file_is_taken_in_and_moved_aside_with_a_receipt(house: House) -> None:
    path = house.put("north-1/week.csv", export("2025-11-01", 24))
    house.look()
    assert not path.exists()
    assert len(house.stores.readings.load("north-1")) == 24
    moved, receipt = house.aside("done")
    assert moved.endswith("week.csv")
    text = (house.folder / "done" / receipt).read_text(encoding="utf-8")
    assert "24 added" in text
    house.look()
    assert len(uploads(house.stores.register)) == 1


def test_a_file_still_being_written_is_left_alone(house: House) -> None:
    house.put("north-1/young.csv", export("2025-11-01", 24), age_s=0.0)
    house.put("north-1/half.csv.part", export("2025-11-02", 24))
    house.put("north-1/.hidden.csv", export("2025-11-03", 24))
    house.look()
    grows = house.put("north-1/grows.csv", export("2025-11-04", 4))
    house.look(1)
    grows.write_bytes(export("2025-11-04", 24))
    os.utime(grows, (time.time() - 60,) * 2)
    house.look(1)
    assert uploads(house.stores.register) == ()
    house.look(1)
    assert len(house.stores.readings.load("north-1")) == 24


def test_what_a_person_must_look_at_waits_for_one(house: House) -> None:
    house.put("nobody-knows.csv", export("2025-11-01", 24))
    house.put("north-1/later.csv", export("2125-11-01", 24))
    house.put("north-1/letter.csv", b"Dear colleague,\nkind regards\n")
    house.look()
    assert uploads(house.stores.register) == ()
    assert len(house.aside("asked")) == 6
    waiting = jobs_of(house.stores.register, states=OPEN)
    assert {job.title for job in waiting} == {"nobody-knows.csv", "later.csv", "letter.csv"}
    house.put("nobody-knows.csv", export("2025-11-01", 24))
    house.look()
    assert len(jobs_of(house.stores.register, states=OPEN)) == 3


def test_a_name_that_tells_the_logger_is_enough(house: House) -> None:
    house.put("north-1 week 12.csv", export("2025-11-01", 24))
    house.look()
    assert len(house.stores.readings.load("north-1")) == 24


def test_stored_but_not_moved_is_moved_the_next_time(house: House) -> None:
    data = export("2025-11-01", 24)
    house.put("north-1/week.csv", data)
    house.look()
    house.put("north-1/week.csv", data)  # as a kill between storing and moving leaves it
    house.look()
    assert len(uploads(house.stores.register)) == 1
    assert len(house.stores.readings.load("north-1")) == 24
    assert any("nothing new" in (house.folder / "done" / name).read_text(encoding="utf-8")
               for name in house.aside("done") if name.endswith("receipt.txt"))  # fmt: skip
