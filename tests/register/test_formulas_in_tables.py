"""What a spreadsheet would take for a formula is marked in our tables, and comes back as it was."""

import csv
import io
from pathlib import Path

import pytest
from hypothesis import given, strategies as st

from analysis.records.room_records import Site
from service.register.file_guide import table_text
from service.register.formulas import marked, unmarked
from service.register.register_files import load_register, write_register
from service.settings import Settings
from service.storage import places
from service.storage.records import put_record
from service.storage.stores import Stores

OPENING = "=+-@\t\r"


@given(st.text(alphabet=[*OPENING, "'", "a", "1", ".", " "], max_size=12))
def test_any_text_comes_back(text: str) -> None:
    assert unmarked(marked(text)) == text


@given(st.text(min_size=1, max_size=20))
def test_no_written_text_begins_as_a_formula(text: str) -> None:
    written = marked(text)
    assert written[0] not in OPENING or float(written.split(" to ")[0]) is not None


@pytest.mark.parametrize("cell", ["-5.25", "+3", "-1e-05", "-5 to 3", "0.5"])
def test_a_number_stays_a_number(cell: str) -> None:
    assert marked(cell) == cell


@pytest.mark.parametrize("cell", ["=1+1", "@SUM(A1)", "+cmd|' /C calc'!A0", "-2+3", "\t=1", "-"])
def test_a_formula_is_written_as_text(cell: str) -> None:
    (row,) = csv.reader(io.StringIO(table_text([cell], []), newline=""))
    assert row == [cell]  # a heading is ours
    (_, row) = csv.reader(io.StringIO(table_text(["a"], [[cell]]), newline=""))
    assert row == [f"'{cell}"]


def test_a_title_in_the_register_comes_back_by_its_file(tmp_path: Path) -> None:
    title = '=HYPERLINK("http://elsewhere.example","see")'
    with Stores.open(Settings(data_dir=tmp_path / "a")) as stores:
        put_record(stores.register, Site("main", title, "Europe/Vienna"), by="x")
        write_register(stores, tmp_path / "out")
    assert "'=HYPERLINK" in (tmp_path / "out" / "sites.csv").read_text()
    with Stores.open(Settings(data_dir=tmp_path / "b")) as stores:
        load_register(stores, tmp_path / "out")
        assert [one.name for one in places.sites(stores.register)] == [title]
