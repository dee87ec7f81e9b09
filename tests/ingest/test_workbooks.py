"""Workbooks are read as the tables in them, or refused in five parts. Samples invented here."""

import datetime as dt
import io
import re
import zipfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import openpyxl
import pytest
import statsmodels
import xlwt
from openpyxl.utils.datetime import MAC_EPOCH

from analysis.errors import StilltautError, UnknownNameError
from service.errors import NotUnderstoodError, QuestionError
from service.ingest.files import workbook
from service.ingest.files.sheet_records import disagreements
from service.ingest.read import FileReading, read_bytes

START = dt.datetime.fromisoformat("2024-01-13T22:00")
TIMES = [START + dt.timedelta(minutes=10 * i) for i in range(40)]
TEMP_C = [round(20 + i / 10, 1) for i in range(40)]
RH_PCT = [45 + i / 20 for i in range(40)]
HEAD = ["Date and time", "Temperature (°C)", "RH (%)"]
ROWS: list[list[Any]] = [list(row) for row in zip(TIMES, TEMP_C, RH_PCT, strict=True)]


def book(**sheets: Sequence[Sequence[Any]]) -> bytes:
    made = openpyxl.Workbook()
    made.remove(made.active)
    for name, rows in sheets.items():
        sheet = made.create_sheet(name)
        for row in rows:
            sheet.append(row)
    return saved(made)


def saved(made: Any) -> bytes:
    file = io.BytesIO()
    made.save(file)
    return file.getvalue()


def old_book() -> bytes:
    made = xlwt.Workbook()
    sheet = made.add_sheet("Readings")
    style = xlwt.easyxf(num_format_str="YYYY-MM-DD hh:mm")
    for column, heading in enumerate(HEAD):
        sheet.write(0, column, heading)
    for number, (time, temp, rh) in enumerate(ROWS, 1):
        sheet.write(number, 0, time, style)
        sheet.write(number, 1, temp)
        sheet.write(number, 2, rh)
    return saved(made)


def epoch_of_1904() -> bytes:
    made = openpyxl.Workbook()
    made.epoch = MAC_EPOCH
    for row in [HEAD, *ROWS]:
        made.active.append(row)
    return saved(made)


BOOKS = {
    "XLSX": book(Readings=[HEAD, *ROWS]),
    "XLS": old_book(),
    "dates counted from 1904": epoch_of_1904(),
    "a preamble, and an empty column before": book(
        A=[["Hall"], [], [None, *HEAD], *[[None, *row] for row in ROWS]]
    ),
    "times as text": book(A=[HEAD, *[[f"{t:%d.%m.%Y %H:%M}", *rest] for t, *rest in ROWS]]),
    "date and clock apart": book(
        A=[["Date", "Clock", *HEAD[1:]], *[[t.date(), t.time(), *r] for t, *r in ROWS]]
    ),
    "numbers as text with decimal commas": book(
        A=[HEAD, *[[t, f"{a}".replace(".", ","), f"{b}".replace(".", ",")] for t, a, b in ROWS]]
    ),
    "a chart's numbers on a second sheet": book(
        Readings=[HEAD, *ROWS], Notes=[["Seen by", "the registrar"], ["on", dt.date(2024, 2, 1)]]
    ),
}


def assert_the_series(found: FileReading) -> None:
    frame = found.sensors[""]
    assert [f"{t:%Y-%m-%d %H:%M:%S}" for t in frame.index] == [str(t) for t in TIMES]
    assert frame["temp_c"].tolist() == TEMP_C
    assert frame["rh_pct"].tolist() == RH_PCT
    assert not found.understanding.problems


@pytest.mark.parametrize("name", BOOKS)
def test_a_workbook_gives_the_series_in_it(name: str) -> None:
    assert_the_series(read_bytes("book.xlsx", BOOKS[name], zone="UTC"))


def test_of_two_sheets_with_readings_one_is_asked_for_and_the_answer_taken() -> None:
    data = book(Hall=[HEAD, *ROWS], Store=[HEAD, *[[t, a - 2, b] for t, a, b in ROWS]])
    with pytest.raises(QuestionError, match="readings in Hall, Store") as asked:
        read_bytes("book.xlsx", data, zone="UTC")
    assert "--column part='Hall'" in asked.value.action
    found = read_bytes("book.xlsx", data, zone="UTC", columns={"part": "Store"})
    assert found.sensors[""]["temp_c"].iloc[0] == 18.0
    again = read_bytes("next.xlsx", data, zone="UTC", choice=found.choice)
    assert again.sensors[""]["temp_c"].iloc[0] == 18.0
    with pytest.raises(UnknownNameError, match="one of Hall, Store"):
        read_bytes("book.xlsx", data, zone="UTC", columns={"part": "Attic"})


def test_a_remembered_sheet_does_not_stand_in_the_way_of_another_file() -> None:
    first = read_bytes("book.xlsx", BOOKS["a chart's numbers on a second sheet"], zone="UTC")
    renamed = book(March=[HEAD, *ROWS])
    assert_the_series(read_bytes("march.xlsx", renamed, zone="UTC", choice=first.choice))


def test_the_sheet_taken_and_those_that_hold_none_are_noted() -> None:
    found = read_bytes("book.xlsx", BOOKS["a chart's numbers on a second sheet"], zone="UTC")
    assert found.understanding.notes[0] == "Read from Readings; no readings in Notes."
    assert found.understanding.encoding == "workbook (XLSX), Readings"


def test_a_clock_a_millisecond_off_by_rounding_is_the_second_it_was() -> None:
    serial = [45304 + (22 * 6 + i) / 144 for i in range(40)]
    rows = [[s, a, b] for s, (_, a, b) in zip(serial, ROWS, strict=True)]
    made = openpyxl.Workbook()
    for row in [HEAD, *rows]:
        made.active.append(row)
    for (cell,) in made.active["A2":"A41"]:
        cell.number_format = "yyyy-mm-dd hh:mm"
    assert_the_series(read_bytes("serial.xlsx", saved(made), zone="UTC"))


def test_a_problem_names_the_row_of_the_sheet() -> None:
    rows = [["Hall"], [], HEAD, *ROWS]
    rows[20] = [TIMES[17], "broken", 45]
    found = read_bytes("book.xlsx", book(A=rows), zone="UTC")
    assert [problem.line for problem in found.understanding.problems] == [21]


def with_byte(data: bytes, member: str) -> bytes:
    """Return a workbook one byte of a part of which was changed within the archive."""
    start = zipfile.ZipFile(io.BytesIO(data)).getinfo(member).header_offset + 300
    return data[:start] + bytes([data[start] ^ 0xFF]) + data[start + 1 :]


def corners() -> bytes:
    made = openpyxl.Workbook()
    made.active["A1"] = made.active["XFD1048576"] = 1
    return saved(made)


def without_sheets() -> bytes:
    return book(Empty=[])


REFUSED = {
    "two cells in far corners": (corners(), "too many cells"),
    "one byte changed": (with_byte(BOOKS["XLSX"], "xl/worksheets/sheet1.xml"), "damaged"),
    "broken off": (BOOKS["XLSX"][:-300], "damaged"),
    "nothing in it": (without_sheets(), "without a filled sheet"),
    "an old document of another kind": (workbook.OLD_SIGNATURE + bytes(4000), "no workbook"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_workbook_that_cannot_be_read_is_refused_in_five_parts(name: str) -> None:
    data, found = REFUSED[name]
    with pytest.raises(NotUnderstoodError, match=found) as caught:
        read_bytes("bad.xlsx", data, zone="UTC")
    assert caught.value.action
    assert caught.value.expected


def test_limits_of_size_and_sheets(monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as limits:
        limits.setattr(workbook, "UNPACKED_BYTES", 1000)
        with pytest.raises(NotUnderstoodError, match="MB when unpacked"):
            read_bytes("big.xlsx", BOOKS["XLSX"], zone="UTC")
    with monkeypatch.context() as limits:
        limits.setattr(workbook, "MOST_SHEETS", 1)
        with pytest.raises(NotUnderstoodError, match="over 1 sheets"):
            read_bytes("many.xlsx", book(A=[HEAD], B=[HEAD]), zone="UTC")
    with monkeypatch.context() as limits:
        limits.setattr(workbook, "MEMORY_BYTES", 1_000)
        with pytest.raises(StilltautError, match="too much memory"):
            read_bytes("heavy.xlsx", BOOKS["XLSX"], zone="UTC")


def damaged(at: int, shift: int, new: bytes) -> bytes:
    """Return the older workbook with bytes changed in one of its records of numbers."""
    data = old_book()
    places = [m.start() for m in re.finditer(rb"\x03\x02\x0e\x00|\x7e\x02\x0a\x00", data)]
    place = places[at] + shift
    return data[:place] + new + data[place + len(new) :]


DISAGREEING = {
    "an end before the end": (damaged(20, 0, b"\x0a\x00"), "an end of the sheet behind row 22"),
    "a row far behind the last": (damaged(20, 4, b"\x02\x28"), "a cell in row 10,243"),
    "another row that exists": (damaged(20, 4, b"\x0c\x00"), "a cell of row 13, column 1 between"),
    "another column that exists": (damaged(20, 6, b"\x01\x00"), "a cell of row 23, column 2 "),
    "a column that does not exist": (damaged(20, 6, b"\x07\x00"), "a cell in column 8 of row 23"),
    "a record of no known kind": (damaged(20, 0, b"\x77\x77"), "a record of kind 30583"),
}


@pytest.mark.parametrize("name", DISAGREEING)
def test_an_older_workbook_that_disagrees_with_itself_is_asked_about(name: str) -> None:
    data, found = DISAGREEING[name]
    with pytest.raises(StilltautError) as caught:
        read_bytes("moved.xls", data, zone="UTC")
    assert found in caught.value.found
    assert isinstance(caught.value, QuestionError)
    said = caught.value.answers[0].columns
    reading = read_bytes("moved.xls", data, zone="UTC", columns=said)
    assert reading.understanding.rows.readings > 15
    assert "damage" not in reading.choice.columns


def test_rows_that_an_older_workbook_says_it_has_and_has_not_are_asked_about() -> None:
    data = old_book()
    # DIMENSIONS: the row behind the last.
    place = data.index(b"\x00\x02\x0e\x00") + 8
    more = data[:place] + (60).to_bytes(4, "little") + data[place + 4 :]
    with pytest.raises(QuestionError, match="says it has 60 rows, and 41 of them"):
        read_bytes("more.xls", more, zone="UTC")
    assert not read_bytes("whole.xls", data, zone="UTC").understanding.notes[1:]


def test_whole_workbooks_of_other_programs_disagree_in_nothing() -> None:
    # Published by a bank, saved by a spreadsheet program; they come with statsmodels.
    folder = Path(statsmodels.__file__).parent / "tsa/statespace/tests/results/frbny_nowcast"
    books = sorted(folder.rglob("*.xls"))
    if not books:
        pytest.skip("statsmodels was installed without the data of its tests")
    for path in books:
        assert disagreements(path.read_bytes()) == (None,)


def test_a_heading_moved_off_its_column_is_noted() -> None:
    rows = [[f"2026-03-24 {h:02d}:00", 20 + h / 10, 45 + h] for h in range(24)]
    headings = ["Time", "", "Relative humidity (%)", *[""] * 20, "Temperature (°C)"]
    found = read_bytes("moved.xlsx", book(A=[headings, *rows]), zone="UTC")
    assert any("'Temperature (°C)' holds no temperature" in n for n in found.understanding.notes)
