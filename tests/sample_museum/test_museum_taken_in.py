"""The museum's register and deliveries go into empty stores without a question or a conflict."""

import csv
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path

import pandas as pd
import pytest

import sample_logs
from sample_logs.climate import NOW
from sample_logs.instruments import DIED, MOVED
from service.intake.receipts import UploadReceipt
from service.intake.taking_in import take_in
from service.notices.state import raise_notices
from service.register.register_files import load_register
from service.settings import Settings
from service.storage import loggers, places
from service.storage.notices import open_notices
from service.storage.stores import Stores
from service.storage.works import works_at

MUSEUM = Path(sample_logs.__file__).parent


@pytest.fixture(scope="module")
def stores(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Stores]:
    settings = Settings(data_dir=tmp_path_factory.mktemp("museum") / "data")
    with Stores.open(settings) as opened:
        load_register(opened, MUSEUM / "register")
        yield opened


@pytest.fixture(scope="module")
def receipts(stores: Stores) -> list[UploadReceipt]:
    with (MUSEUM / "deliveries.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    taken = []
    for name, lines in groupby(rows, key=lambda row: row["file"]):
        delivered = list(lines)
        taken.append(
            take_in(
                stores,
                MUSEUM / "exports" / name,
                name=name,
                logger_id=delivered[0]["logger"],
                zone=delivered[0]["zone"],
                sensors={row["sensor"]: row["logger"] for row in delivered if row["sensor"]},
            )
        )
    return taken


def test_the_register_is_read_whole_and_a_second_time_changes_nothing(stores: Stores) -> None:
    rooms = places.rooms(stores.register)
    hanging = [work for room in rooms for work in works_at(stores.register, room.room, NOW)]
    assert len(rooms) == 6
    assert len(hanging) == 30
    assert set(load_register(stores, MUSEUM / "register").values()) == {0}


def test_overlapping_deliveries_agree(receipts: list[UploadReceipt]) -> None:
    assert sum(sensor.merged.conflict_count for r in receipts for sensor in r.sensors) == 0
    assert sum(receipt.same for receipt in receipts) > 400


def test_every_logger_has_its_readings(stores: Stores, receipts: list[UploadReceipt]) -> None:
    assert len(receipts) == 20
    for logger in loggers.loggers(stores.register):
        span = stores.readings.span(logger.logger)
        assert span is not None
        last = DIED - pd.Timedelta("1h") if logger.logger == "tower-2" else NOW
        assert span[1] == last, logger.logger


def test_the_two_files_of_the_store_make_whole_readings(
    stores: Stores, receipts: list[UploadReceipt]
) -> None:
    assert receipts
    frame = stores.readings.load("store-1")
    assert frame[["temp_c", "rh_pct"]].notna().all(axis=None)


def test_the_spare_logger_hung_in_two_rooms(stores: Stores) -> None:
    first, second = loggers.placements(stores.register, "spare-1")
    assert (first.room, second.room) == ("court", "store")
    assert first.to_utc == second.from_utc == MOVED


def test_only_the_dead_logger_is_missed(stores: Stores, receipts: list[UploadReceipt]) -> None:
    assert receipts
    rooms = [room.room for room in places.rooms(stores.register)]
    raise_notices(stores, NOW.to_pydatetime(), rooms, room_events={}, judgements={})
    (notice,) = open_notices(stores.register)
    assert notice.headline == "Tower Room: no readings from tower-2"
