"""The command ``stilltaut read``, run as a person runs it."""

import io
import json
import subprocess
import sys
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from service.cli import main

ROWS = "14.03.2024 22:00;21,5;45\n14.03.2024 22:10;21,25;45,5\n"
TOP_KEYS = ["file", "sha256", "encoding", "delimiter", "decimal", "header_lines", "time"]
TOP_KEYS += ["channels", "rows", "problems"]


@dataclass(frozen=True)
class Done:
    """What a command left behind."""

    returncode: int
    stdout: str
    stderr: str


def run(*arguments: str | Path) -> Done:
    """Run the command within this process; the last test starts a real one."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err), pytest.raises(SystemExit) as ended:
        main(["read", *map(str, arguments)])
    return Done(int(str(ended.value.code)), out.getvalue(), err.getvalue())


def written(folder: Path, text: str, name: str = "north.csv") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_a_short_table_says_what_was_understood(tmp_path: Path) -> None:
    done = run(written(tmp_path, "Zeit;Temp (°C);Feuchte (%)\n" + ROWS), "--zone", "Europe/Oslo")
    assert done.returncode == 0
    assert "2024-03-14 21:00:00 UTC to 2024-03-14 21:10:00 UTC, every 10 min" in done.stdout
    assert "dd.mm.yyyy HH:MM" in done.stdout
    assert "relative humidity  Feuchte (%)" in done.stdout


def test_without_a_zone_the_table_is_shown_and_the_zone_asked_for(tmp_path: Path) -> None:
    done = run(written(tmp_path, "Zeit;Temp (°C);Feuchte (%)\n" + ROWS))
    assert done.returncode == 1
    assert "not declared" in done.stdout
    assert "--zone" in done.stdout


def test_json_has_exactly_its_keys(tmp_path: Path) -> None:
    path = written(tmp_path, "Zeit;Temp (°C);Feuchte (%)\n" + ROWS + "broken\n")
    done = run(path, "--zone", "UTC+1", "--json")
    assert done.returncode == 1
    found: dict[str, Any] = json.loads(done.stdout)
    assert list(found) == TOP_KEYS
    assert list(found["time"]) == [
        "columns", "format", "zone", "first_utc", "last_utc", "interval_s", "order"
    ]  # fmt: skip
    assert found["channels"][0] == {
        "name": "Temp (°C)", "quantity": "temp_c", "unit": "°C", "column": "Temp (°C)",
        "readings": 2, "missing": 0, "min": 21.25, "max": 21.5,
    }  # fmt: skip
    assert found["rows"] == {
        "total": 3, "readings": 2, "unreadable": 1, "duplicate": 0, "flagged": 0
    }  # fmt: skip
    assert list(found["problems"][0]) == ["line", "column", "found", "expected", "kept"]
    assert found["problems"][0]["line"] == 4
    assert (found["delimiter"], found["decimal"], found["header_lines"]) == (";", ",", 1)


def test_temperature_and_humidity_in_two_files_are_joined(tmp_path: Path) -> None:
    warm = written(tmp_path, "time,temp\n2024-03-14 22:00,21.5\n2024-03-14 22:10,21.4\n", "t.csv")
    damp = written(tmp_path, "time,RH\n2024-03-14 22:10,45\n2024-03-14 22:20,46\n", "h.csv")
    done = run(damp, warm, "--zone", "UTC", "--json")
    assert done.returncode == 0
    found = json.loads(done.stdout)
    assert found["file"] == "t.csv + h.csv"
    assert [channel["quantity"] for channel in found["channels"]] == ["temp_c", "rh_pct"]
    assert found["time"]["last_utc"] == "2024-03-14T22:20:00Z"


def test_a_column_may_be_said(tmp_path: Path) -> None:
    path = written(tmp_path, "time;A;B\n" + ROWS)
    done = run(path, "--zone", "UTC", "--column", 'rh_pct="B"', "--column", "temp_c=A")
    assert done.returncode == 0, done.stderr
    assert run(path, "--column", "wetness=B").returncode == 2


def test_what_cannot_be_done_is_one_line_and_code_2(tmp_path: Path) -> None:
    path = written(tmp_path, "time;temp;rh\n03/04/2024 22:00;21;45\n")
    for arguments in (["--zone", "Europe/Osslo"], ["--zone", "UTC"], ["--interval", "soon"]):
        done = run(path, *arguments)
        assert done.returncode == 2
        assert "Traceback" not in done.stderr
    assert run(tmp_path / "absent.csv").returncode == 2
    ambiguous = run(path, "--zone", "UTC")
    assert ambiguous.stderr.startswith("stilltaut: north.csv, column 'time': found dates")
    assert run(path, "--zone", "UTC", "--month-first").returncode == 0


def test_a_real_process_ends_with_one_line_and_code_2(tmp_path: Path) -> None:
    path = written(tmp_path, "time;temp;rh\n03/04/2024 22:00;21;45\n")
    command = [sys.executable, "-m", "service", "read", str(path), "--zone", "Europe/Osslo"]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert "Europe/Oslo" in done.stderr
