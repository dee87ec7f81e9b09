"""Tables taken away: the same answers in numbers, times with offset, nothing that runs."""

import csv
import io
from datetime import UTC, datetime

import httpx
import openpyxl
import pytest
from fixtures.invented_week import room_week
from hypothesis import example, given, strategies as st

from analysis.errors import UnknownNameError
from service.tables.table_files import FileTable, table_bytes
from service.tables.taken_away import week_table

AT = datetime(2026, 3, 29, 0, 30, tzinfo=UTC)
LINE = st.text(st.characters(min_codepoint=0x20, max_codepoint=0x2FF, exclude_characters="\x7f"))


def rows_of(data: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(data.decode("utf-8-sig"))))


def cells_of(data: bytes) -> list[list[object]]:
    sheet = openpyxl.load_workbook(io.BytesIO(data)).active
    assert sheet is not None
    assert all(cell.data_type != "f" for row in sheet.iter_rows() for cell in row)
    return [[cell.value for cell in row] for row in sheet.iter_rows()]


@given(LINE)
@example("=1+1")
@example("@SUM(A1)")
@example("+cmd|' /C calc'!A0")
@example("-2+3")
def test_no_cell_is_a_formula(written: str) -> None:
    table = FileTable("t", ["title"], [[written]])
    (cell,) = rows_of(table_bytes(table, "csv", "UTC"))[1] or [""]
    assert cell[:1] not in {"=", "@", "\t", "\r"}
    assert cell.removeprefix("'") == written.removeprefix("'")
    (value,) = cells_of(table_bytes(table, "xlsx", "UTC"))[1]
    assert (value or "") == written


def test_times_carry_their_offset_and_what_is_unknown_is_empty() -> None:
    table = FileTable("t", ["time", "value [%]", "n"], [[AT, float("nan"), 3], [None, 45.25, 0]])
    said = [["2026-03-29T01:30:00+01:00", "", "3"], ["", "45.25", "0"]]
    assert rows_of(table_bytes(table, "csv", "Europe/Amsterdam"))[1:] == said
    first, second = cells_of(table_bytes(table, "xlsx", "Europe/Amsterdam"))[1:]
    assert first == ["2026-03-29T01:30:00+01:00", None, 3]
    assert second == [None, 45.25, 0]


def test_another_kind_of_table_is_refused() -> None:
    with pytest.raises(UnknownNameError):
        table_bytes(FileTable("t", [], []), "ods", "UTC")


def test_the_hours_of_a_weeks_works_are_those_of_their_histories() -> None:
    week = room_week()
    table = week_table(week, "works")
    rows = [row for row in table.rows if row[0] == "W02"]
    history = week.histories["W02"]
    assert len(rows) == len(history.time_utc)
    assert [row[3] for row in rows] == history.p_slack.tolist()
    at = table.headings.index("RH in the frame, 50 % point [%]")
    assert [row[at] for row in rows] == history.frame_rh_pct[:, 1].tolist()
    assert all(len(row) == len(table.headings) for row in rows)


@pytest.mark.parametrize("what", ["round", "notices", "incidents", "limits"])
@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_tables_of_the_house_are_sent(web: httpx.Client, what: str, ending: str) -> None:
    sent = web.get(f"/tables/{what}.{ending}")
    assert sent.status_code == 200
    assert f'filename="{what}.{ending}"' in sent.headers["content-disposition"]
    table = rows_of(sent.content) if ending == "csv" else cells_of(sent.content)
    assert len({len(row) for row in table}) == 1


def test_the_round_as_a_table_says_what_the_interface_says(web: httpx.Client) -> None:
    said = {
        work["work_id"]: (work["listing"], work["p_visible_now"])
        for room in web.get("/api/round").json()["rooms"]
        for work in room["works"]
    }
    heading, *rows = rows_of(web.get("/tables/round.csv").content)
    found = {row[1]: (row[0], float(row[6]) if row[6] else None) for row in rows}
    for work_id, answer in said.items():
        assert found[work_id] == answer
    assert heading[6] == "chance that waves show now [0 to 1]"


def test_a_weeks_readings_are_linked_and_sent(web: httpx.Client) -> None:
    address = "/tables/rooms/north/2026-W12/air.csv"
    assert address in web.get("/rooms/north/2026-W12").text
    heading, first, *_rest = rows_of(web.get(address).content)
    assert heading[1] == "relative humidity [%]"
    assert first[0].endswith("+00:00")  # Dublin in March, before the clocks go forward
    assert 0.0 < float(first[1]) <= 100.0


def test_unknown_tables_are_named(web: httpx.Client) -> None:
    assert web.get("/tables/secrets.csv").status_code == 404
    assert web.get("/tables/rooms/north/2026-W12/secrets.csv").status_code == 404
    assert web.get("/tables/round.ods").status_code == 404
