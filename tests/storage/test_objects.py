"""Named, whole objects, in a folder and in a bucket of a real server that speaks S3."""

import io
import os
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from fixtures.object_stores import BUCKET, REGION

from analysis.errors import StilltautError
from service.errors import StoreError
from service.settings import Settings
from service.storage.objects.bucket import Bucket, open_bucket
from service.storage.objects.copies import Copies
from service.storage.objects.folder import Folder
from service.storage.objects.named import Objects
from service.storage.originals import Originals

NAMES = ["a", "b.zst", "c.gz", "part/b", "part/logger=Gang Süd%2F2/2026-03_ab.parquet", "part/x/c"]


def bucket_of(settings: Settings) -> Bucket:
    return open_bucket(settings.store, settings.store_endpoint, REGION, settings.data_dir)


@pytest.fixture(params=["folder", "bucket"])
def objects(request: pytest.FixtureRequest, tmp_path: Path) -> Objects:
    if request.param == "folder":
        return Folder(tmp_path / "objects")
    return bucket_of(request.getfixturevalue("in_a_bucket"))


def test_what_is_put_is_there_by_its_name_until_it_is_removed(objects: Objects) -> None:
    assert objects.is_empty()
    assert list(objects.listed()) == []
    objects.put({name: lambda name=name: name.encode() for name in NAMES})  # type: ignore[misc]
    for name in NAMES:
        assert objects.exists(name)
        assert objects.get(name) == name.encode()
        with objects.open(name) as file:
            assert (file.read(1), file.read()) == (name.encode()[:1], name.encode()[1:])
    found = {one.name: one for one in objects.listed()}
    assert sorted(found) == sorted(NAMES)
    assert [one.bytes for one in found.values()] == [len(name.encode()) for name in found]
    assert not any(one.left_behind for one in found.values())
    assert not objects.is_empty()
    assert sorted(one.name for one in objects.listed("part/x")) == ["part/x/c"]
    within = objects.under("part")
    assert sorted(one.name for one in within.listed()) == sorted(n[5:] for n in NAMES[3:])
    assert within.get("b") == b"part/b"
    within.remove("b")
    within.remove("b")
    assert not objects.exists("part/b")
    assert objects.exists("a")


def test_many_are_read_in_their_order(objects: Objects) -> None:
    names = [f"part/{number}" for number in range(40)]
    objects.put({name: name.encode for name in names})
    assert list(objects.each(names)) == [name.encode() for name in names]
    assert next(objects.each(names)) == b"part/0"
    assert list(objects.each([])) == []
    with pytest.raises(FileNotFoundError):
        list(objects.each(["part/1", "part/none"]))


def test_copies_that_were_read_longest_ago_go_where_there_are_too_many(tmp_path: Path) -> None:
    copies, hour = Copies(tmp_path, 2500), 3600
    for number in range(5):
        copies.keep(str(number), bytes(500))
        at = time.time() - hour * (9 - number if number else 0)
        os.utime(copies._path(str(number)), (at, at))
    left = [n for n in range(5) if copies.get(str(n), lambda: b"fetched") != b"fetched"]
    assert left == [0, 2, 3, 4]
    assert sum(path.stat().st_size for path in tmp_path.glob("*/*")) <= 2500
    copies.forget("4")
    assert copies.get("4", lambda: b"anew") == b"anew"


def test_another_one_comes_in_its_place(objects: Objects) -> None:
    for content in (b"first", memoryview(b"second, and longer"), b""):
        objects.put({"part/a": lambda content=content: content})  # type: ignore[misc]
        assert objects.get("part/a") == bytes(content)


def test_what_is_not_there_is_told_from_a_fault(objects: Objects) -> None:
    assert not objects.exists("none")
    assert not objects.exists("part")
    with pytest.raises(FileNotFoundError) as told:
        objects.get("part/none")
    assert str(told.value.filename).endswith("part/none")
    with pytest.raises(FileNotFoundError):
        objects.open("part/none")


def test_a_file_written_piece_by_piece_is_placed_whole(objects: Objects) -> None:
    objects.staging.mkdir(parents=True, exist_ok=True)
    part = objects.staging / "incoming.part"
    content = bytes(range(256)) * 80_000  # of several pieces
    part.write_bytes(content)
    objects.place(part, "originals/large")
    assert not part.exists()
    assert objects.get("originals/large") == content


def test_nothing_is_put_where_its_bytes_cannot_be_made(objects: Objects) -> None:
    def fails() -> bytes:
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        objects.put({"a": fails})
    assert not objects.exists("a")


def test_originals_and_photographs_are_kept_in_either(objects: Objects, tmp_path: Path) -> None:
    originals = Originals(objects)
    source = tmp_path / "export.csv"
    source.write_bytes(b"time,temp\n" * 200_000)
    long, short = originals.keep(source), originals.keep(b"abc")
    assert originals.keep(b"abc") == short
    assert originals.read(long) == source.read_bytes()
    with originals.on_disk(long) as copy, originals.on_disk(short) as other:
        assert (copy.read_bytes(), other.read_bytes()) == (source.read_bytes(), b"abc")
    assert sorted(originals.all()) == sorted([long, short])
    with originals.arriving(b"not understood"):
        pass
    with originals.arriving(b"understood") as arriving:
        assert originals.read(arriving.keep()) == b"understood"
    assert len(list(originals.all())) == 3
    objects.put({originals.name(long): lambda: b"other bytes"})
    with pytest.raises(StoreError, match="other bytes than when it was received"):
        originals.read(long)


class Broken(io.BytesIO):
    """A file whose disk gives up in the midst of it."""

    def read(self, size: int | None = -1, /) -> bytes:
        if self.tell():
            raise OSError("the disk gave up")
        return super().read(5)


def test_half_of_a_file_is_not_taken_for_the_whole(in_a_bucket: Settings) -> None:
    bucket = bucket_of(in_a_bucket)

    def pieces() -> Iterator[bytes]:
        broken = Broken(b"0123456789")
        while piece := broken.read():
            yield piece

    with pytest.raises(StoreError, match="the disk gave up"):
        bucket._send("originals/half", pieces())
    assert not bucket.exists("originals/half")


def test_a_server_that_does_not_answer_is_told_from_an_object_that_is_gone(
    in_a_bucket: Settings,
) -> None:
    away = open_bucket(
        in_a_bucket.store, "http://127.0.0.1:9", in_a_bucket.store_region, in_a_bucket.data_dir
    )
    for use in (
        lambda: away.get("a"),
        lambda: list(away.listed()),
        lambda: away.put({"a": lambda: b"a"}),
    ):
        with pytest.raises(StoreError, match="expected a store that answers"):
            use()


def test_a_bucket_that_is_not_there_is_told_when_something_is_to_be_kept(
    in_a_bucket: Settings,
) -> None:
    other = open_bucket(
        "s3://no-such-bucket", in_a_bucket.store_endpoint, REGION, in_a_bucket.data_dir
    )
    with pytest.raises((StoreError, FileNotFoundError), match="no-such-bucket"):
        other.put({"a": lambda: b"a"})


@pytest.mark.parametrize("address", ["folder/of/mine", "s3://", "http://host/bucket", "s3:/b"])
def test_an_address_that_is_none_is_told(address: str, tmp_path: Path) -> None:
    with pytest.raises(StilltautError, match="expected s3://bucket/prefix"):
        open_bucket(address, "", REGION, tmp_path)


def test_a_place_in_the_bucket_is_its_own(in_a_bucket: Settings) -> None:
    bucket_of(in_a_bucket).put({"a": lambda: b"a"})
    neighbour = bucket_of(in_a_bucket.with_changes(store=in_a_bucket.store + "-2"))
    assert neighbour.is_empty()
    assert str(neighbour).startswith(f"s3://{BUCKET}/")
