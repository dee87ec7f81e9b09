"""What is no table of readings is refused in five parts, quickly, with nothing held in memory."""

import io
import tracemalloc
from pathlib import Path

import pytest

from analysis.errors import StilltautError
from service.errors import NotUnderstoodError
from service.ingest.read import read_bytes, read_file

JPEG = b"\xff\xd8\xff\xe0\x00\x10JFIF\x00" + bytes(range(256)) * 40

BAD = {
    "empty": b"",
    "blanks and line ends": b" \r\n \r\n",
    "byte order mark alone": b"\xef\xbb\xbf",
    "photograph": JPEG,
    "photograph of another kind": b"\x00\x00\x00\x18ftypheic" + bytes(200),
    "spreadsheet": b"PK\x03\x04" + bytes(100),
    "document": b"%PDF-1.7\n" + bytes(range(128)) * 10,
    "NUL bytes": bytes(50_000),
    "header and NUL bytes": b"time;temp;rh\n" + bytes(50_000),
    "random bytes": bytes((i * 7919 + i // 3) % 256 for i in range(5000)),
    "only a header": b"time;temp;rh\n",
    "header and units": b"time;temp;rh\n;C;%\n",
    "prose": b"Dear all,\nthe logger in the north gallery was moved.\nRegards\n",
    "one long line": b"21.5;" * 500_000,
    "a web page": b"<!DOCTYPE html><html><head><title>Login</title></head><body>No</body></html>",
}


@pytest.mark.parametrize("name", BAD)
def test_what_is_no_table_is_refused_in_five_parts(name: str) -> None:
    with pytest.raises(StilltautError) as caught:
        read_bytes("bad.csv", BAD[name], zone="UTC")
    problem = caught.value
    assert problem.read == "bad.csv"
    assert problem.found
    assert problem.expected
    assert problem.action
    assert len(str(problem)) < 900


def test_a_line_of_200_mb_is_refused_without_being_read(tmp_path: Path) -> None:
    path = tmp_path / "long.csv"
    with path.open("wb") as file:
        file.write(b"time;temp;rh\n2024-01-13 10:00;21;45\n")
        file.truncate(200_000_000)
        file.seek(0, io.SEEK_END)
    with path.open("r+b") as file:
        file.seek(40)
        file.write(b"5" * 6_000_000)
    tracemalloc.start()
    with pytest.raises(NotUnderstoodError, match=r"line 3.*more than 1,000,000 bytes"):
        read_file(path, zone="UTC")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 30_000_000


def test_a_long_line_further_down_is_refused_with_its_number() -> None:
    rows = b"".join(b"2024-01-13 10:%02d,21,45\n" % minute for minute in range(60))
    data = b"time,temp,rh\n" + rows * 3000 + b"x" * 1_100_000 + b"\n"
    with pytest.raises(NotUnderstoodError, match="line 180002"):
        read_bytes("late.csv", data, zone="UTC")


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(NotUnderstoodError, match="No such file"):
        read_file(tmp_path / "absent.csv")
    with pytest.raises(NotUnderstoodError, match="directory"):
        read_file(tmp_path)


HOSTILE = {
    "a year nobody measured in": b"time;temp;rh\n0001-01-01 00:00;21;45\n9999-12-31 00:00;21;45\n",
    "numbers without end": b"time;temp;rh\n1e400;1e400;1e400\n2e400;2e400;2e400\n",
    "a return within quotes": b'time;temp;rh\n2024-01-13 10:00;"2\r1";45\n' * 3,
    "returns between": b"time;temp;rh\r\n2024-01-13 10:00;21\r;45\r\n2024-01-13 10:10;21;45\r\n",
    "a column of nothing": b"time;temp;rh\n;;45\n;;46\n;;47\n",
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_fields_are_read_or_refused_in_five_parts(name: str) -> None:
    try:
        found = read_bytes("hostile.csv", HOSTILE[name], zone="Europe/Oslo")
    except StilltautError as problem:
        assert problem.action
    else:
        rows = found.understanding.rows
        assert rows.readings + rows.unreadable <= rows.total


@pytest.mark.parametrize("number", ["2e307", "-2e307", "1e400"])
@pytest.mark.parametrize("unit", ["fraction", "%"])
def test_a_number_too_large_for_any_unit_is_told_and_spoils_no_other(
    number: str, unit: str
) -> None:
    share = 100 if unit == "fraction" else 1
    cells = [f"{(45 + hour % 7) / share:.2f}" for hour in range(24)]
    cells[7] = number
    rows = "".join(f"2024-01-13 {h:02d}:00,21.{h % 10},{cell}\n" for h, cell in enumerate(cells))
    found = read_bytes(
        "large.csv", f"time,Temp (°C),Humidity ({unit})\n{rows}".encode(), zone="UTC"
    )
    rh_pct = found.sensors[""]["rh_pct"]
    assert rh_pct.isna().to_list() == [hour == 7 for hour in range(24)]
    assert rh_pct.iloc[8] == pytest.approx(46)
    assert [p.line for p in found.understanding.problems] == [9]


def test_a_year_nobody_measured_in_is_kept_apart() -> None:
    data = b"time;temp;rh\n2024-01-13 10:00;21;45\n9999-12-31 00:00;21;45\n"
    found = read_bytes("late.csv", data, zone="Europe/Oslo")
    assert found.understanding.rows.unreadable == 1
    assert found.understanding.problems[0].line == 3
