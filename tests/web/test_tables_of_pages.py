"""Every page with a table offers it as CSV and XLSX, with the rows that the page shows."""

import csv
import io
import re
from collections.abc import Iterator
from datetime import datetime
from html import unescape
from pathlib import Path

import httpx
import pytest
from openpyxl import load_workbook

from analysis.parameters import tables
from dashboards.lines import Table
from service.tables.plain_tables import plain_table
from service.tables.table_files import table_bytes

WORK = "2018-02"
# Pages with a table or a list of their own, and how many of its rows the page shows; "rows" counts
# those of its tables, another pattern what stands in their place.
ROWS = "<tr><td"
PAGES = (
    ("/round", "/tables/round", r'<p class="work-title'),
    ("/notices", "/tables/notices", r'<p class="notice-line"'),
    ("/incidents", "/tables/incidents", r'<p class="notice-line"'),
    ("/limits", "/tables/limits", r'class="limit"|class="verdict"'),
    ("/works", "/tables/works", r'class="works brief all".*?</ol>'),
    ("/calendar", "/tables/calendar", 'href="/house/event\\?'),
    ("/instruments", "/tables/instruments", ""),
    ("/instruments", "/tables/checks", 'href="/house/calibration\\?'),
    ("/instruments", "/tables/side-by-side", ""),
    ("/measure", "/tables/measure", ROWS),
    ("/sources", "/tables/numbers", ROWS),
    ("/bring-in", "/tables/uploads", ROWS),
    ("/changes", "/tables/changes", ""),
    (f"/changes?work={WORK}", "/tables/changes", ""),
    ("/rooms/north/air", "/rooms/north/air", ROWS),
    ("/rooms/north/air", "/tables/rooms/north/year", ""),
    ("/rooms/north/2026-W12", "/tables/rooms/north/2026-W12/air", ""),
    ("/rooms/north/2026-W12", "/tables/rooms/north/2026-W12/works", ""),
    (f"/works/{WORK}", f"/tables/works/{WORK}/hours", ""),
    (f"/works/{WORK}", f"/works/{WORK}", ROWS),
    ("/report?from=2026-03-16&to=2026-03-22", "/report", ""),
    (f"/works/{WORK}/half-time", f"/works/{WORK}/half-time", ROWS),
    (f"/works/{WORK}/measured", f"/works/{WORK}/measured", '<td data-label="">'),
    (f"/works/{WORK}/why", f"/works/{WORK}/why", ROWS),
    (f"/plan/mount?work={WORK}", "/plan/mount", ROWS),
    (f"/plan/hang?work={WORK}", "/plan/hang", ROWS),
    (f"/plan/seal?work={WORK}", "/plan/seal", ROWS),
    (f"/plan/spacer?work={WORK}", "/plan/spacer", ROWS),
    (f"/plan/seasons?work={WORK}&summer=-5", "/plan/seasons", ROWS),
)
# Tables of what somebody has just sent, who has it as a file already; and forms of loggers' files.
ELSEWHERE = {"_file_in_hand.html", "works_import.html", "_parts.html"}


def offered(page: str, base: str, ending: str) -> list[str]:
    """Return where a page offers a table of that address."""
    found = [unescape(one) for one in re.findall(r'href="([^"]*)"', page)]
    if base.startswith("/tables/"):
        return [one for one in found if one.partition("?")[0] == f"{base}.{ending}"]
    return [one for one in found if one.startswith(base) and f"table={ending}" in one]


def rows_of(data: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(data.decode("utf-8-sig"))))


def cells(page: str) -> Iterator[list[str]]:
    """Yield the rows of a page's tables as text."""
    for row in re.findall(r"<tr>(<td.*?)</tr>", page, flags=re.DOTALL):
        found = re.findall(r"<td[^>]*>(.*?)</td>", row, flags=re.DOTALL)
        yield [plain(re.sub(r"<[^>]*>", "", one)) for one in found]


def plain(words: str) -> str:
    return unescape(words).replace("\N{NO-BREAK SPACE}", " ").strip()


@pytest.mark.parametrize(("address", "base", "shown"), PAGES)
def test_a_page_offers_its_table_with_the_rows_it_shows(
    web: httpx.Client, address: str, base: str, shown: str
) -> None:
    page = web.get(address)
    assert page.status_code == 200
    files = {ending: web.get(offered(page.text, base, ending)[0]) for ending in ("csv", "xlsx")}
    assert [one.status_code for one in files.values()] == [200, 200]
    heading, *rows = rows_of(files["csv"].content)
    assert all(len(row) == len(heading) for row in rows)
    sheet = load_workbook(io.BytesIO(files["xlsx"].content), read_only=True).active
    assert sheet is not None
    whole = list(sheet.iter_rows(values_only=True))
    assert [str(one) for one in whole[0]] == heading
    assert len(whole) - 1 == len(rows)
    if shown == ROWS:
        assert len(rows) == page.text.count("<tr><td")
    elif shown.endswith("</ol>"):
        listed = re.search(shown, page.text, flags=re.DOTALL)
        assert listed is not None
        assert len(rows) == listed[0].count("<li>")
    elif shown and base != "/tables/limits":
        assert len(rows) >= len(re.findall(shown, page.text)) > 0 or not rows


@pytest.mark.parametrize(
    "address", [f"/plan/mount?work={WORK}", f"/works/{WORK}/half-time", "/rooms/north/air"]
)
def test_the_cells_of_a_page_stand_in_its_file(web: httpx.Client, address: str) -> None:
    page = web.get(address).text
    base = address.partition("?")[0]
    _heading, *rows = rows_of(web.get(offered(page, base, "csv")[0]).content)
    for there, here in zip(cells(page), rows, strict=True):
        assert there[0] == here[0] or float(here[0]) == float(re.sub(r"[^\d.-]", "", there[0]))
        digits = [re.sub(r"\D", "", one) for one in here]
        for cell in there[1:]:
            wanted = re.sub(r"\D", "", cell)
            assert any(one.startswith(wanted.rstrip("0")) or wanted == one for one in digits), cell


def test_times_carry_their_offset_and_units_stand_in_headings(web: httpx.Client) -> None:
    heading, *rows = rows_of(web.get("/tables/rooms/north/year.csv").content)
    assert heading[1:4] == [
        "relative humidity, mean [%]", "air temperature, mean [°C]", "dew point [°C]",
    ]  # fmt: skip
    assert len(rows) > 24 * 14
    assert all(datetime.fromisoformat(row[0]).utcoffset() is not None for row in rows)
    changed = rows_of(web.get("/tables/changes.csv").content)
    assert datetime.fromisoformat(changed[1][1]).utcoffset() is not None


def test_every_number_the_estimates_use_is_in_its_table(web: httpx.Client) -> None:
    _heading, *rows = rows_of(web.get("/tables/numbers.csv").content)
    known = {
        (name, row.name): row.value
        for name, parts in tables().items()
        for part in parts.values()
        for row in part.values()
    }
    assert {(row[0], row[1]): float(row[2]) for row in rows} == known


def test_a_column_of_one_unit_is_numbers_and_others_stay_as_they_are() -> None:
    table = Table(
        ("Work", "RH", "Range", "Mixed", "Load", "Peak"),
        [
            (
                "=1+1",
                "44.5\N{NO-BREAK SPACE}%RH",
                "40 to 52 %RH",
                "3 h",
                "−1.5 N/m",
                "33 N/m (0 to 459)",
            ),
            ("b", "–", "41 to 50 %RH", "2 days", "2 N/m", "–"),
        ],
    )
    made = plain_table(table, "a")
    assert list(made.headings) == [
        "Work",
        "RH [%RH]",
        "Range [%RH]",
        "Mixed",
        "Load [N/m]",
        "Peak [N/m]",
    ]
    assert list(made.rows) == [
        ["=1+1", 44.5, "40 to 52", "3 h", -1.5, "33 (0 to 459)"],
        ["b", None, "41 to 50", "2 days", 2.0, None],
    ]
    sent = table_bytes(made, "csv", "UTC").decode("utf-8-sig")
    assert "\n'=1+1,44.5,40 to 52" in sent


def test_every_template_with_a_table_offers_it() -> None:
    folder = Path(__file__).parents[2] / "dashboards" / "templates"
    shows = re.compile(r"<table|plain_table\(")
    gives = re.compile(r"page_table\(|house_table\(|taken_away\(")
    without = [
        one.name
        for one in sorted(folder.glob("*.html"))
        if shows.search(text := one.read_text("utf-8")) and not gives.search(text)
    ]
    assert set(without) <= ELSEWHERE


def test_what_has_no_table_says_so(web: httpx.Client) -> None:
    assert web.get("/classes?table=csv").status_code == 422
    assert web.get(f"/plan/mount?work={WORK}&table=pdf").status_code == 404
    assert web.get("/tables/nothing.csv").status_code == 404
