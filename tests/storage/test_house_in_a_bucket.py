"""A house whose files and readings lie in a bucket: the same answers, and nothing lost."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fixtures.serving import DRAWS, served

from analysis.series import readings_frame
from sample_logs.climate import ZONE
from service.answers.museum import Museum
from service.answers.rounds import museum_round, round_json
from service.errors import StoreError
from service.group.house_files import every_house, write_house
from service.intake.taking_back import take_back
from service.intake.taking_in import mend, take_in
from service.intake.verification import verify
from service.register.archive import write_archive
from service.register.restore import restore_into
from service.settings import Settings
from service.storage.objects import named
from service.storage.objects.bucket import Bucket
from service.storage.readings import folder_name
from service.storage.spans import Span, spans
from service.storage.stores import Stores
from service.storage.uploads import UploadState, uploads

pytestmark = pytest.mark.slow
EXPORT = b"Time,Temp (C),RH (%)\n" + b"".join(
    f"2026-03-{day:02d} {hour:02d}:30,20.{hour % 10},5{day % 10}\n".encode()
    for day in range(1, 20)
    for hour in range(24)
)


def series(start: str, hours: int) -> pd.DataFrame:
    index = pd.date_range(start, periods=hours, freq="h", tz="UTC")
    return readings_frame(index, temp_c=np.full(hours, 20.0), rh_pct=50.0 + np.arange(hours) % 7)


@pytest.fixture(scope="module")
def archive(small_museum: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    copy = shutil.copytree(small_museum, tmp_path_factory.mktemp("bucket") / "museum")
    with Stores.open(Settings(data_dir=copy)) as stores:
        write_archive(stores, copy.parent / "archive")
    return copy.parent / "archive"


@pytest.fixture
def stores(in_a_bucket: Settings) -> Iterator[Stores]:
    """A new house in a bucket."""
    with Stores.open(in_a_bucket) as opened:
        yield opened


def test_a_house_in_a_bucket_answers_as_one_in_a_folder(
    small_museum: Path, archive: Path, in_a_bucket: Settings, tmp_path: Path
) -> None:
    settings = in_a_bucket.with_changes(draws=DRAWS)
    restore_into(settings, archive)
    told = {}
    for one in (Settings(data_dir=small_museum, draws=DRAWS), settings):
        with Stores.open(one) as stores:
            told[one.store] = round_json(museum_round(Museum(stores, one)), ZONE)
            if one.store:
                assert verify(stores) == []
    assert told[""] == told[settings.store]
    kept = {path.name for path in settings.data_dir.iterdir() if path.name != "register.db.lock"}
    assert kept <= {
        *("register.db", "register.db-shm", "register.db-wal", "results", "staging", "copies")
    }

    with served(settings.data_dir, store=settings.store, store_endpoint=settings.store_endpoint,
                store_region=settings.store_region) as web, web:  # fmt: skip
        before = web.get("/").text
        sent = {"logger": "north-1", "zone": "UTC"}
        answer = web.post("/api/uploads", files={"file": ("late.csv", EXPORT)}, data=sent)
        assert answer.status_code == 200, answer.text
        assert web.get("/ready").text == "ready\n"
        assert web.get("/").status_code == 200
        assert "North Gallery" in before

    with Stores.open(settings) as stores:
        late = next(one for one in uploads(stores.register) if one.name == "late.csv")
        assert late.state == UploadState.STORED
        assert len(stores.readings.load("north-1")) > len(EXPORT.splitlines()) - 1
        take_back(stores, late.id, by="A. Person")
        museum = Museum(stores, settings)
        assert round_json(museum_round(museum), ZONE) == told[""]
        assert verify(stores) == []
        write_archive(stores, tmp_path / "again")
    other = settings.with_changes(store=f"{settings.store}-again", data_dir=tmp_path / "there")
    restore_into(other, tmp_path / "again")
    with Stores.open(other) as back, Stores.open(settings) as stores:
        assert verify(back) == []
        for logger in stores.readings.loggers():
            pd.testing.assert_frame_equal(back.readings.load(logger), stores.readings.load(logger))
        assert sorted(back.originals.all()) == sorted(stores.originals.all())


def object_of(span: Span) -> str:
    return f"{folder_name(span.logger)}/{span.file}"


def test_a_missing_and_a_damaged_month_are_told_and_built_anew_from_originals(
    stores: Stores, in_a_bucket: Settings
) -> None:
    take_in(stores, EXPORT, name="a.csv", logger_id="n1", zone="UTC")
    whole = stores.readings.load("n1")
    for damage in (None, b"not parquet"):
        (span,) = spans(stores.register)
        if damage is None:
            stores.readings.objects.remove(object_of(span))
        else:
            stores.readings.objects.put({object_of(span): lambda: b"not parquet"})
        with Stores.open(in_a_bucket) as again:  # whose month it is not seen takes it not for gone
            assert spans(again.register) == (span,)
        with pytest.raises(StoreError, match=span.file):
            stores.readings.load("n1")
        assert any(span.file in str(fault) for fault in verify(stores))
        if damage is not None:
            stores.readings.objects.remove(object_of(span))  # moved away, as the fault says
        assert mend(stores) == len(whole)
        pd.testing.assert_frame_equal(stores.readings.load("n1"), whole)
        assert verify(stores) == []


def test_what_a_crash_left_goes_later_and_what_stands_never(
    stores: Stores, monkeypatch: pytest.MonkeyPatch
) -> None:
    stores.readings.merge("n1", series("2026-01-20", 600))
    first, second = spans(stores.register)
    left = f"{folder_name('n1')}/2026-01_0123456789abcdef-01234567.parquet"
    unknown = f"{folder_name('n1')}/2027-01_0123456789abcdef-01234567.parquet"
    stores.readings.objects.put({left: lambda: b"left", unknown: lambda: b"of nobody knows what"})
    assert stores.readings.note_all() == 0
    assert stores.readings.objects.exists(left)  # another machine may be about to name it
    monkeypatch.setattr(named, "LEFT_BEHIND_S", -60.0)
    assert stores.readings.note_all() == 0
    assert not stores.readings.objects.exists(left)
    assert stores.readings.objects.exists(unknown)
    assert stores.readings.has(first)
    assert stores.readings.has(second)


def test_readings_are_read_from_copies_that_are_near_and_checked_where_they_lie(
    stores: Stores, in_a_bucket: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    stores.readings.merge("n1", series("2024-01-20", 24 * 400))
    whole, fetched = stores.readings.load("n1"), list[str]()
    own = Bucket._fetched

    def counted(bucket: Bucket, name: str) -> bytes:
        fetched.append(name)
        return own(bucket, name)

    monkeypatch.setattr(Bucket, "_fetched", counted)
    pd.testing.assert_frame_equal(stores.readings.load("n1"), whole)
    assert fetched == []  # what was written is near already
    copies = sorted((in_a_bucket.data_dir / "copies").glob("*/*"))
    assert len(copies) == len(spans(stores.register)) == 14
    copies[0].write_bytes(copies[0].read_bytes()[:-1] + b"?")
    copies[1].unlink()
    pd.testing.assert_frame_equal(stores.readings.load("n1"), whole)
    assert len(fetched) == 2
    shutil.rmtree(in_a_bucket.data_dir / "copies")
    pd.testing.assert_frame_equal(stores.readings.load("n1"), whole)
    assert len(fetched) == 2 + 14
    span = spans(stores.register)[0]
    stores.objects.remove(f"readings/{object_of(span)}")  # by another way: its copy stays
    pd.testing.assert_frame_equal(stores.readings.load("n1"), whole)
    assert any(span.file in str(fault) for fault in verify(stores))


def test_a_store_that_does_not_answer_changes_nothing(
    stores: Stores, in_a_bucket: Settings
) -> None:
    stores.readings.merge("n1", series("2026-01-20", 600))
    known = spans(stores.register)
    with pytest.raises(StoreError, match="expected a store that answers"):
        Stores.open(in_a_bucket.with_changes(store_endpoint="http://127.0.0.1:9"))
    assert spans(stores.register) == known


def test_no_other_place_is_taken_for_the_one_the_register_names(
    in_a_bucket: Settings, tmp_path: Path
) -> None:
    folder = in_a_bucket.with_changes(store="")
    with Stores.open(folder) as stores:  # the same house, before it moved into the bucket
        take_in(stores, EXPORT, name="a.csv", logger_id="n1", zone="UTC")
        write_archive(stores, tmp_path / "archive")
    moved = in_a_bucket.with_changes(data_dir=tmp_path / "moved")
    restore_into(moved, tmp_path / "archive")
    for name in ("readings", "originals"):
        shutil.copytree(folder.data_dir / name, moved.data_dir / name)
    with Stores.open(moved) as stores:
        known = spans(stores.register)
    for wrong in (moved.with_changes(store=""), moved.with_changes(store=moved.store + "-other")):
        with pytest.raises(StoreError, match="nothing of what the register names") as told:
            Stores.open(wrong)
        assert "STILLTAUT_STORE" in told.value.action
    with pytest.raises(StoreError, match="nothing of what the register names"):
        Stores.open(folder.with_changes(store=in_a_bucket.store + "-empty"))
    other = moved.with_changes(data_dir=tmp_path / "another house")
    with pytest.raises(StoreError, match="files of another register"):
        Stores.open(other)
    with Stores.open(moved) as stores:
        assert spans(stores.register) == known
        assert verify(stores) == []


def test_each_house_of_a_group_has_a_place_of_its_own_in_the_store(tmp_path: Path) -> None:
    group = Settings(data_dir=tmp_path, store="s3://collections/town/")
    write_house(group, "north")
    write_house(group, "quay", store="s3://quay/own")
    places = {house.name: house.settings.store for house in every_house(group)}
    assert places == {"north": "s3://collections/town/houses/north", "quay": "s3://quay/own"}
