"""What works lend each other in a museum: renewed, versioned, told, switched off, exchanged."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from analysis.errors import OutOfRangeError
from analysis.records.inspection_records import Measured
from analysis.records.work_records import Framing, Print
from analysis.works import FrameBuild
from dashboards.pages.classes_page import borrowed_words
from service.estimates.class_renewal import (
    read_summaries,
    renew,
    renew_when_due,
    write_summaries,
)
from service.settings import Settings
from service.storage import class_knowledge
from service.storage.records import put_record
from service.storage.stores import Stores
from service.storage.works import work_at

NOW = datetime(2026, 3, 2, tzinfo=UTC)
HALF_TIMES = {"W1": 60.0, "W2": 66.0, "W3": 55.0}


def house(stores: Stores, works: int = 5) -> None:
    for i in range(1, works + 1):
        sheet = Print(f"W{i}", f"Sheet {i}", 1200, 900, "fibre base", "matt")
        put_record(stores.register, sheet)
        put_record(stores.register, Framing(f"W{i}", FrameBuild.D, NOW - timedelta(days=200)))


def measure(stores: Stores) -> None:
    for work_id, value in HALF_TIMES.items():
        row = Measured(work_id, "half_time_h", value, 0.9 * value, 1.1 * value, "a logger inside")
        put_record(stores.register, row)


@pytest.fixture
def stores(tmp_path: Path) -> Iterator[Stores]:
    with Stores.open(Settings(data_dir=tmp_path / "museum")) as opened:
        house(opened)
        yield opened


def lent_to(stores: Stores, work_id: str = "W5") -> object:
    return work_at(stores.register, work_id, NOW).lent("half_time_h")


def test_nothing_measured_nothing_lent_and_no_version(stores: Stores) -> None:
    renew(stores, NOW, by="A. Person")
    assert class_knowledge.latest(stores.register) is None
    assert lent_to(stores) is None


def test_a_work_that_was_not_measured_borrows_and_says_so(stores: Stores) -> None:
    measure(stores)
    assert lent_to(stores) is None  # a measurement moves its own work alone until it is renewed
    known = renew(stores, NOW, by="A. Person")
    assert known.version == 1
    work = work_at(stores.register, "W5", NOW)
    lent = work.lent("half_time_h")
    assert lent is not None
    assert lent.value == pytest.approx(55.0, rel=0.15)
    assert lent.works == ("W1", "W2", "W3")
    (said,) = borrowed_words(work)
    assert "borrowed from three other works" in said
    assert "version 1 of 2026-03-02" in said
    assert work_at(stores.register, "W1", NOW).lent("half_time_h") is None  # it has its own


def test_another_build_borrows_nothing(stores: Stores) -> None:
    measure(stores)
    renew(stores, NOW, by="A. Person")
    put_record(stores.register, Framing("W5", FrameBuild.E, NOW - timedelta(days=1)))
    assert lent_to(stores) is None


def test_renewed_again_without_news_it_keeps_its_version(stores: Stores) -> None:
    measure(stores)
    renew(stores, NOW, by="A. Person")
    assert renew(stores, NOW + timedelta(days=1), by="B. Person").version == 1
    row = Measured("W4", "half_time_h", 58.0, 52.0, 64.0, "a logger inside")
    put_record(stores.register, row)
    assert renew(stores, NOW + timedelta(days=2), by="B. Person").version == 2


def test_it_is_renewed_after_a_day_and_not_before(stores: Stores) -> None:
    measure(stores)
    renew_when_due(stores, NOW)
    put_record(stores.register, Measured("W4", "half_time_h", 58.0, 52.0, 64.0, "a logger"))
    renew_when_due(stores, NOW + timedelta(hours=20))
    known = class_knowledge.latest(stores.register)
    assert known is not None
    assert known.version == 1
    renew_when_due(stores, NOW + timedelta(hours=25))
    known = class_knowledge.latest(stores.register)
    assert known is not None
    assert known.version == 2


def test_switched_off_every_work_is_by_itself(stores: Stores) -> None:
    measure(stores)
    renew(stores, NOW, by="A. Person")
    class_knowledge.switch(stores.register, False, by="A. Person", at_utc=NOW)
    assert lent_to(stores) is None
    class_knowledge.switch(stores.register, True, by="A. Person", at_utc=NOW + timedelta(hours=1))
    assert lent_to(stores) is not None


def test_another_museum_begins_with_a_file_that_names_no_work(
    stores: Stores, tmp_path: Path
) -> None:
    measure(stores)
    renew(stores, NOW, by="A. Person")
    path = tmp_path / "classes.json"
    write_summaries(stores, path, "Quay House")
    assert "W1" not in path.read_text(encoding="utf-8")
    with Stores.open(Settings(data_dir=tmp_path / "other")) as other:
        house(other)
        read_summaries(other, path, by="B. Person", at_utc=NOW)
        renew(other, NOW, by="B. Person")
        lent = work_at(other.register, "W5", NOW).lent("half_time_h")
        assert lent is not None
        assert "Quay House (2026-03-02)" in lent.origin
        here = work_at(stores.register, "W5", NOW).lent("half_time_h")
        assert here is not None
        assert lent.high / lent.low > here.high / here.low  # another house's is taken wider


def test_a_file_that_is_none_is_refused_and_changes_nothing(stores: Stores, tmp_path: Path) -> None:
    path = tmp_path / "notes.json"
    path.write_text('{"name": "x"}', encoding="utf-8")
    with pytest.raises(OutOfRangeError, match="class summaries"):
        read_summaries(stores, path, by="A. Person", at_utc=NOW)
    assert class_knowledge.prior_of(stores.register) is None
