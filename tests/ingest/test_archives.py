"""Archives: each file in one is a file of its own, and bombs are refused. Samples invented here."""

import gzip
import io
import json
import zipfile
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

import pytest

from service.cli import main
from service.errors import NotUnderstoodError, QuestionError
from service.ingest.files import packed
from service.ingest.files.opened import files_in
from service.ingest.read import read_bytes

ROWS = "".join(f"2024-01-13 10:{m:02d};{20 + m / 10};{45 + m / 20}\n" for m in range(0, 60, 5))
TABLE = ("time;temp;rh\n" + ROWS).encode()


def zipped(**files: bytes) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return file.getvalue()


def test_the_only_file_with_readings_is_read_and_the_others_noted() -> None:
    data = zipped(**{"round/north.csv": TABLE, "round/about.txt": b"Read on Monday\nby hand\n"})
    found = read_bytes("round.zip", data, zone="UTC")
    assert len(found.sensors[""]) == 12
    assert found.understanding.notes[0] == (
        "Read from round/north.csv; no readings in round/about.txt."
    )


def test_a_file_without_a_name_is_damage() -> None:
    data = zipped(**{"a.csv": TABLE}).replace(b"a.csv", b"\0.csv")
    with pytest.raises(NotUnderstoodError, match="a file in it has no name"):
        read_bytes("round.zip", data, zone="UTC")


def test_of_two_files_with_readings_one_is_asked_for_and_the_answer_taken() -> None:
    data = zipped(**{"north.csv": TABLE, "store.csv": TABLE.replace(b";20.0;", b";18.0;")})
    with pytest.raises(QuestionError, match=r"readings in north\.csv, store\.csv"):
        read_bytes("round.zip", data, zone="UTC")
    found = read_bytes("round.zip", data, zone="UTC", columns={"part": "store.csv"})
    assert found.sensors[""]["temp_c"].iloc[0] == 18.0


def test_each_file_is_a_file_of_its_own_and_what_systems_add_is_passed_over() -> None:
    data = zipped(
        **{"a/n.csv": TABLE, "__MACOSX/a/._n.csv": b"x", "a/.DS_Store": b"x", "b/s.csv": TABLE}
    )
    assert [one.name for one in files_in("round.zip", data)] == [
        "round.zip/a/n.csv",
        "round.zip/b/s.csv",
    ]


def test_a_file_packed_alone_is_read() -> None:
    found = read_bytes("north.csv.gz", gzip.compress(TABLE[:100]) + gzip.compress(TABLE[100:]))
    assert found.understanding.rows.readings == 12


def test_a_path_out_of_the_archive_is_nothing_but_a_name() -> None:
    found = read_bytes("round.zip", zipped(**{"../../etc/north.csv": TABLE}), zone="UTC")
    assert found.understanding.encoding == "utf-8, ../../etc/north.csv"


def damaged() -> bytes:
    data = bytearray(zipped(**{"north.csv": TABLE}))
    data[60] ^= 0xFF
    return bytes(data)


def locked() -> bytes:
    data = bytearray(zipped(**{"north.csv": TABLE}))
    for signature, place in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        data[data.index(signature) + place] |= 1
    return bytes(data)


def declared_small() -> bytes:
    """Return an archive whose file unpacks to a thousand times the size it declares."""
    data = bytearray(zipped(**{"north.csv": bytes(10_000_000)}))
    size = (10_000_000).to_bytes(4, "little")
    for _ in range(2):
        at = data.index(size)
        data[at : at + 4] = (10_000).to_bytes(4, "little")
    return bytes(data)


REFUSED = {
    "damaged": (damaged(), "damaged"),
    "broken off": (zipped(**{"north.csv": TABLE})[:-30], "damaged"),
    "locked": (locked(), "password"),
    "an archive in it": (zipped(**{"in.zip": zipped(a=TABLE)}), "archive within the archive"),
    "no file": (zipped(), "without files"),
    "larger than declared": (declared_small(), "damaged"),
    "packed alone, broken off": (gzip.compress(TABLE)[:-20], "breaks off"),
    "packed alone, with more behind": (gzip.compress(TABLE) + b"more", "behind the archive"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_an_archive_that_cannot_be_read_is_refused_in_five_parts(name: str) -> None:
    data, found = REFUSED[name]
    with pytest.raises(NotUnderstoodError, match=found) as caught:
        read_bytes("round.zip", data, zone="UTC")
    assert caught.value.action
    assert caught.value.expected


def test_limits_of_size_and_number(monkeypatch: pytest.MonkeyPatch) -> None:
    bomb = zipped(**{"north.csv": bytes(3_000_000)})
    with monkeypatch.context() as limits:
        limits.setattr(packed, "MEMBER_BYTES", 1_000_000)
        for data in (bomb, gzip.compress(bytes(3_000_000))):
            with pytest.raises(NotUnderstoodError, match="at most 1 MB"):
                read_bytes("bomb.zip", data, zone="UTC")
        limits.setattr(packed, "UNPACKED_BYTES", 2_000_000)
        with pytest.raises(NotUnderstoodError, match="3 MB when unpacked, expected at most 2 MB"):
            read_bytes("bomb.zip", bomb, zone="UTC")
    monkeypatch.setattr(packed, "MOST_MEMBERS", 2)
    with pytest.raises(NotUnderstoodError, match="3 files, expected at most 2"):
        read_bytes("many.zip", zipped(a=TABLE, b=TABLE, c=TABLE), zone="UTC")


def test_the_commands_take_each_file_of_an_archive(tmp_path: Path) -> None:
    later = TABLE.replace(b"2024-01-13", b"2024-01-14")
    file = tmp_path / "round.zip"
    file.write_bytes(zipped(**{"one.csv": TABLE, "two.csv": later, "about.txt": b"A note\n"}))
    shown = run("read", file, "--zone", "UTC", "--json")
    assert shown.code == 2
    assert "about.txt" in shown.err
    names = ["round.zip/one.csv", "round.zip/two.csv"]
    assert [one["file"] for one in json.loads(shown.out)] == names
    options = ["--logger", "north-1", "--zone", "UTC", "--data", str(tmp_path / "data"), "--json"]
    added = run("add", file, *options)
    assert added.code == 2
    assert "about.txt" in added.err
    assert [json.loads(line)["file"] for line in added.out.splitlines()] == names
    again = run("add", file, *options)
    assert {json.loads(line)["outcome"] for line in again.out.splitlines()} == {"already there"}


@dataclass(frozen=True)
class Done:
    """What a command left behind."""

    code: int
    out: str
    err: str


def run(*arguments: str | Path) -> Done:
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err), pytest.raises(SystemExit) as ended:
        main([*map(str, arguments)])
    return Done(int(str(ended.value.code)), out.getvalue(), err.getvalue())
