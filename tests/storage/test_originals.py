"""Originals: kept once, under their hash, read-only."""

from pathlib import Path

import numpy as np
import pytest
from fixtures.kept_files import folder_of, original_path

from service.errors import StoreError
from service.storage.objects.compressed import PIECE_BYTES
from service.storage.objects.folder import Folder
from service.storage.originals import Originals, sha256_of


@pytest.fixture
def originals(tmp_path: Path) -> Originals:
    return Originals(Folder(tmp_path / "originals"))


def test_a_file_is_kept_under_its_hash_and_read_only(originals: Originals, tmp_path: Path) -> None:
    source = tmp_path / "export.csv"
    source.write_bytes(b"time,temp\n" * 200_000)
    sha256 = originals.keep(source)
    assert sha256 == sha256_of(source) == sha256_of(source.read_bytes())
    path = original_path(originals, sha256)
    assert path.relative_to(folder_of(originals)).parts == (sha256[:2], sha256 + ".zst")
    assert path.stat().st_mode & 0o777 == 0o444
    assert originals.read(sha256) == source.read_bytes()


def test_the_same_again_changes_nothing(originals: Originals) -> None:
    sha256 = originals.keep(b"abc")
    before = original_path(originals, sha256).stat()
    assert originals.keep(b"abc") == sha256
    assert original_path(originals, sha256).stat().st_mtime_ns == before.st_mtime_ns
    assert list(originals.all()) == [sha256]
    # The hash of "abc" in FIPS 180-2, appendix B.1 (from memory).
    assert sha256 == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_what_is_kept_takes_less_room_where_it_can_and_comes_back_as_it_was(
    originals: Originals, tmp_path: Path
) -> None:
    export = b"".join(b"%d;%.1f\n" % (n, n % 97 / 3) for n in range(2_000_000))
    picture = np.random.default_rng(1).bytes(100_000)
    source = tmp_path / "export.csv"
    source.write_bytes(export)
    for given, data, packed in (
        (source, export, True),
        (export[:50_000], export[:50_000], True),
        (picture, picture, False),
        (b"short", b"short", False),
        (b"", b"", False),
    ):
        sha256 = originals.keep(given)
        assert original_path(originals, sha256).suffix == (".zst" if packed else "")
        assert (original_path(originals, sha256).stat().st_size < len(data)) == packed
        assert originals.read(sha256) == data
        assert max(map(len, originals.pieces(sha256)), default=0) <= PIECE_BYTES
        with originals.on_disk(sha256) as path:
            assert path.read_bytes() == data
        assert not originals.is_longer(sha256, len(data))
        assert not data or originals.is_longer(sha256, len(data) - 1)
    assert len(list(originals.all())) == 5
    assert not list((folder_of(originals) / ".copies").glob("copy-*"))


def test_what_was_kept_plainly_stays_as_it_is(originals: Originals) -> None:
    data = b"time,temp\n" * 10_000
    place = original_path(originals, sha256_of(data))
    place.parent.mkdir(parents=True)
    place.write_bytes(data)
    assert originals.keep(data) == place.name
    assert [file.name for file in place.parent.iterdir()] == [place.name]
    assert list(originals.all()) == [place.name]
    assert originals.read(place.name) == data
    with originals.on_disk(place.name) as path:
        assert path == place


@pytest.mark.parametrize("kept", [b"time,temp\n" * 10_000, b"time,temp\n"])
def test_what_is_no_longer_what_was_received_is_told_and_not_read(
    originals: Originals, kept: bytes
) -> None:
    sha256 = originals.keep(kept)
    place = original_path(originals, sha256)
    place.chmod(0o644)
    whole = place.read_bytes()
    for wrong in (whole[:-1], whole[: len(whole) // 2], b"", whole[:-3] + b"xyz"):
        place.write_bytes(wrong)
        with pytest.raises(StoreError, match="other bytes than when it was received"):
            originals.read(sha256)


def test_the_passing_copy_of_a_killed_process_goes_and_that_of_a_living_one_stays(
    originals: Originals,
) -> None:
    sha256 = originals.keep(b"time,temp\n" * 10_000)
    left = folder_of(originals) / ".copies" / "copy-left"
    left.parent.mkdir()
    left.write_bytes(b"half")
    with originals.on_disk(sha256) as one, originals.on_disk(sha256) as other:
        assert not left.exists()
        assert one != other
        assert one.read_bytes() == other.read_bytes() == originals.read(sha256)


def test_what_a_crash_left_is_swept_away_and_never_listed(originals: Originals) -> None:
    originals.keep(b"abc")
    (folder_of(originals) / "incoming.part").write_bytes(b"half")
    assert len(list(originals.all())) == 1
    originals.keep(b"def")
    assert not list(folder_of(originals).glob("*.part"))
    assert len(list(originals.all())) == 2


def test_what_arrives_stays_only_when_it_is_kept(originals: Originals) -> None:
    with originals.arriving(b"abc") as arriving:
        sha256 = arriving.keep()
    assert originals.read(sha256) == b"abc"
    assert original_path(originals, sha256).stat().st_mode & 0o777 == 0o444
    with originals.arriving(b"not understood"):
        pass
    with pytest.raises(ZeroDivisionError), originals.arriving(b"wrong"):
        _ = 1 / 0
    with originals.arriving(b"abc") as arriving:
        assert arriving.sha256() == arriving.keep() == sha256
    assert list(originals.all()) == [sha256]
    assert not list(folder_of(originals).glob("*.part"))


def test_what_arrives_on_a_disk_that_refuses_is_told_when_it_is_to_be_kept(
    originals: Originals,
) -> None:
    originals.keep(b"abc")
    original_path(originals, sha256_of(b"def")).parent.write_text("a file where a folder should be")
    with originals.arriving(b"def"):
        pass
    with pytest.raises(StoreError, match="Make room"), originals.arriving(b"def") as arriving:
        arriving.keep()
    assert not list(folder_of(originals).glob("*.part"))


def test_a_missing_original_is_told(originals: Originals) -> None:
    assert not originals.has("0" * 64)
    with pytest.raises(StoreError, match="from a backup"):
        originals.read("0" * 64)


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "originals").write_text("a file where a folder should be")
    with pytest.raises(StoreError, match="Make room or correct the permissions"):
        Originals(Folder(tmp_path / "originals")).keep(b"abc")
