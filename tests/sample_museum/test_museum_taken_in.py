"""The museum's register and deliveries go into empty stores without a question or a conflict."""

import csv
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path

import pandas as pd
import pytest
from fixtures.serving import DRAWS

import sample_logs
from sample_logs import journey
from sample_logs.climate import NOW
from sample_logs.instruments import DIED, MOVED
from service.answers.museum import Museum
from service.intake.receipts import UploadReceipt
from service.intake.taking_in import take_in
from service.notices.state import raise_notices
from service.register.register_files import load_register
from service.reports.journey import journey_sentences, journeys
from service.settings import Settings
from service.storage import loggers, places
from service.storage.notices import open_notices
from service.storage.stores import Stores
from service.storage.works import works_at

MUSEUM = Path(sample_logs.__file__).parent
AS_IF = NOW.isoformat()
# One died; one was taken out of its crate; one was read out on the day on which the work left.
ENDED = {
    "tower-2": DIED,
    "crate-1": pd.Timestamp(journey.UNPACKED),
    "hall-1": pd.Timestamp(journey.PACKED_BACK).ceil("D"),
}


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
    away = {journey.HALL, journey.CRATE}
    assert places.away_rooms(stores.register) == away
    assert len(rooms) == 6 + len(away)
    assert len(hanging) == 30
    assert set(load_register(stores, MUSEUM / "register").values()) == {0}


def test_overlapping_deliveries_agree(receipts: list[UploadReceipt]) -> None:
    assert sum(sensor.merged.conflict_count for r in receipts for sensor in r.sensors) == 0
    assert sum(receipt.same for receipt in receipts) > 400


def test_every_logger_has_its_readings(stores: Stores, receipts: list[UploadReceipt]) -> None:
    assert len(receipts) == 22
    for logger in loggers.loggers(stores.register):
        span = stores.readings.span(logger.logger)
        assert span is not None
        last = ENDED.get(logger.logger, NOW)
        assert last - pd.Timedelta("1h") <= span[1] <= last, logger.logger


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


def test_the_work_that_travelled_had_the_air_of_its_crate_and_of_the_hall(
    stores: Stores, receipts: list[UploadReceipt]
) -> None:
    """What is told of its journey is what stands in the crate's log and in its invented dates."""
    assert receipts
    museum = Museum(stores, Settings(data_dir=stores.folder, draws=DRAWS, as_if=AS_IF))
    (found,) = journeys(museum, journey.WORK)
    out, hall, back = found.away
    log = pd.read_csv(MUSEUM / "exports" / "crate-1_october.csv", index_col=0, parse_dates=True)
    rh = log.iloc[:, 1]
    assert out.air_rh_pct == pytest.approx((rh.quantile(0.05), rh.quantile(0.95)), abs=1.5)
    assert (out.name, out.from_utc) == (journey.CRATE_NAME, pd.Timestamp(journey.PACKED))
    assert hall.to_utc == pd.Timestamp(journey.PACKED_BACK)
    assert out.measured_pct > 95.0 and hall.measured_pct > 95.0
    assert (back.measured_pct, back.waves_h) == (0.0, 0)  # nobody put a logger in
    away = pd.Timestamp(journey.UNPACKED_BACK) - pd.Timestamp(journey.PACKED_BACK)
    assert back.untold_h == away / pd.Timedelta("1h")
    said = [one.replace("\N{NO-BREAK SPACE}", " ") for one in journey_sentences(museum, found)]
    for arrived, opened, words in (
        (journey.ARRIVED, journey.OPENED, "stood shut for {:.0f} h"),
        (journey.ARRIVED_BACK, journey.OPENED_BACK, "was opened {:.0f} h after"),
    ):
        rested_h = (pd.Timestamp(opened) - pd.Timestamp(arrived)) / pd.Timedelta("1h")
        assert any(words.format(rested_h) in one for one in said), words
