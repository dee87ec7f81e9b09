"""``add``, ``check`` and ``archive`` as a person runs them."""

import csv
import json
from pathlib import Path

import pandas as pd
import pyarrow.parquet as pq
import pytest

from analysis.series import FLAG_WORDS
from service.cli import main
from service.register.archive import write_archive
from service.register.file_guide import COLUMNS, column_words
from service.register.register_files import load_register
from service.settings import Settings
from service.storage.schema import Table
from service.storage.stores import Stores

EXPORT = "Time,Temp (C),RH (%)\n2025-10-31 23:00,20.5,50\n2025-11-01 00:00,20.6,51\n"


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "north.csv").write_text(EXPORT)
    return tmp_path / "data"


def run(*arguments: str | Path) -> int:
    with pytest.raises(SystemExit) as end:
        main([str(argument) for argument in arguments])
    assert isinstance(end.value.code, int)
    return end.value.code


def add(data: Path, *more: str) -> int:
    return run("add", "north.csv", "--logger", "n1", "--zone", "UTC", "--data", data, *more)


def test_add_shows_what_it_understood_and_what_it_did(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert add(data) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "north.csv: times from Time, clock UTC, oldest first"
    assert "temp_c from 'Temp (C)' [°C]: 20.5 to 20.6" in lines[1]
    assert lines[-2] == "north.csv: stored as upload 1, 2 rows read."
    assert "n1: 2 added, 0 the same, 2025-10-31 23:00 to 2025-11-01 00:00 UTC" in lines[-1]
    assert add(data) == 0
    assert "north.csv: all of these came in on" in capsys.readouterr().out


def test_add_as_json(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert add(data, "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["outcome"], told["added"], told["conflicts"]) == ("stored", 2, 0)
    assert told["sensors"][0]["months"] == ["2025-10", "2025-11"]


def test_add_says_a_conflict_needs_a_person(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert add(data) == 0
    Path("north.csv").write_text(EXPORT.replace("20.6", "25.6"))
    assert add(data) == 1
    assert "kept 20.6, this file says 25.6" in capsys.readouterr().out


def test_one_bad_file_does_not_stop_the_others(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    Path("bad.csv").write_bytes(b"\x00" * 100)
    code = run(
        "add", "bad.csv", "none.csv", "north.csv", "--logger", "n1", "--zone", "UTC", "--data", data
    )
    out, err = capsys.readouterr()
    assert code == 2
    assert len(err.splitlines()) == 2, "one line for each file that could not be taken in"
    assert all("found" in line and "expected" in line for line in err.splitlines())
    assert "north.csv: stored" in out
    with Stores.open(Settings(data_dir=data)) as stores:
        assert len(list(stores.originals.all())) == 1


def test_add_asks_for_the_clock(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("add", "north.csv", "--logger", "n1", "--data", data) == 2
    assert "--zone Europe/Oslo" in capsys.readouterr().err


def test_add_wants_pairs(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert add(data, "--column", "humidity") == 2
    assert "expected NAME=VALUE" in capsys.readouterr().err
    assert not data.exists()


def test_check_finds_all_well_or_says_what_to_do(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    add(data)
    assert run("check", "--data", data) == 0
    assert "All is well." in capsys.readouterr().out
    (month,) = (data / "readings" / "logger=n1").glob("2025-11_*.parquet")
    month.unlink()
    assert run("check", "--data", data) == 1
    out = capsys.readouterr().out
    assert "found 1 readings missing or changed" in out
    assert "stilltaut check --mend" in out
    assert run("check", "--data", data, "--mend") == 0
    assert "1 readings came back" in capsys.readouterr().out
    (month,) = (data / "readings" / "logger=n1").glob("2025-11_*.parquet")
    month.write_bytes(month.read_bytes()[:50])
    assert run("check", "--data", data) == 1
    assert month.name in capsys.readouterr().out


@pytest.mark.parametrize("command", [["check"], ["archive", "out"]])
def test_a_mistyped_folder_is_no_empty_museum(
    data: Path, capsys: pytest.CaptureFixture[str], command: list[str]
) -> None:
    assert run(*command, "--data", data) == 2
    assert "no such folder" in capsys.readouterr().err
    assert not data.exists()


def test_an_archive_is_readable_without_this_program(tmp_path: Path) -> None:
    museum = Path(__file__).parents[2] / "sample_logs" / "register"
    with Stores.open(Settings(data_dir=tmp_path / "data")) as stores:
        load_register(stores, museum)
    out = tmp_path / "out"
    Path(tmp_path / "north.csv").write_text(EXPORT)
    data = tmp_path / "data"
    assert (
        run("add", tmp_path / "north.csv", "--logger", "spare-9", "--zone", "UTC", "--data", data)
        == 0
    )
    assert run("archive", out, "--data", data) == 0
    readings = pd.read_csv(out / "readings" / "logger=spare-9" / "2025-11.csv")
    assert readings.to_dict("records") == [
        {
            "time_utc": "2025-11-01T00:00:00Z",
            "temp_c": 20.6,
            "rh_pct": 51.0,
            "flags": 0,
            "flag_words": pytest.approx(float("nan"), nan_ok=True),
        }
    ]
    parquet = pq.read_table(
        out / "readings" / "logger=spare-9" / "2025-11.parquet", partitioning=None
    )
    assert parquet["rh_pct"].to_pylist() == [51.0]
    with (out / "originals.csv").open(newline="") as lines:
        (original,) = csv.DictReader(lines)
    assert (out / "originals" / original["file"]).read_text() == EXPORT
    works = pd.read_csv(out / "register" / "works.csv")
    pd.testing.assert_frame_equal(
        works.sort_values("work_id", ignore_index=True),
        pd.read_csv(museum / "works.csv")
        .reindex(columns=works.columns)
        .sort_values("work_id", ignore_index=True),
        check_dtype=False,
    )
    uploads = pd.read_csv(out / "journal" / "uploads.csv")
    assert json.loads(uploads["understanding"][0])["time"]["zone"] == "UTC"


def test_the_archive_explains_every_file_column_and_flag(stores: Stores, tmp_path: Path) -> None:
    write_archive(stores, tmp_path / "out")
    readme = (tmp_path / "out" / "README.txt").read_text(encoding="utf-8")
    for file in COLUMNS:
        assert file in readme
        assert all(f"  {name}: {words}" in readme for name, words in column_words(file).items())
    assert all(words in readme for words in FLAG_WORDS.values())
    written = {path.stem for path in (tmp_path / "out" / "journal").iterdir()}
    in_register = {path.stem for path in (tmp_path / "out" / "register").iterdir()}
    made_anew = {"spans", "versions"}  # told by the readings and by changes to come
    workings = {"jobs", "leases", "releases", "kept_in"}  # of the program that serves
    unwritten = set(Table.metadata.tables) - written - in_register
    # telephone numbers, and what lets somebody in: they stay here
    private = {"contacts", "tokens", "sessions", "sign_in_links", "attempts", "batches"}
    assert unwritten == made_anew | workings | private
    header = (tmp_path / "out" / "journal" / "users.csv").read_text()
    assert not any(word in header for word in ("password", "factor", "recovery"))


def test_an_archive_is_never_written_over(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    add(data)
    Path("out").mkdir()
    assert run("archive", "out", "--data", data) == 0
    assert run("archive", "out", "--data", data) == 2
    assert "Name another folder" in capsys.readouterr().err
    assert not Path("out.part").exists()
