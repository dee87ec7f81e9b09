"""Works from a spreadsheet, looked at before they are kept; and a work that is like another."""

import io
import re
import shutil
from collections.abc import Callable
from html import unescape
from pathlib import Path

import httpx
import openpyxl
import pytest

from analysis.records import Span
from service.settings import Settings
from service.storage.stores import Stores
from service.storage.works import WorkRecord, prints, work_record

SHEET = [
    ["No", "Title", "Width (cm)", "Height (cm)", "Paper", "Room", "Mounting RH", "Owner"],
    ["18/7", "Weir", "150", "100.5", "fibre base", "North Gallery", "40 to 55", "the house"],
    ["18/8", "Lock keeper", "90", "60", "", "court", "", "the house"],
    ["18/9", "Quay", "wide", "60", "", "court", "", "the house"],
    ["18/10", "Mast", "90", "60", "", "Blue Room", "", "the house"],
    ["2018-02", "Orchard", "90", "60", "", "", "", "the house"],
]  # fmt: skip


@pytest.fixture
def folder(described_museum: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(described_museum, tmp_path / "museum"))


@pytest.fixture
def web(folder: Path, serve: Callable[[Path], httpx.Client]) -> httpx.Client:
    return serve(folder)


def said(page: httpx.Response) -> str:
    text = re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page.text)))
    return text.replace("\N{NO-BREAK SPACE}", " ")


def workbook() -> bytes:
    book = openpyxl.Workbook()
    for row in SHEET:
        book.active.append(
            [float(cell) if cell.replace(".", "").isdigit() else cell for cell in row]
        )
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def record(folder: Path, work_id: str) -> WorkRecord:
    with Stores.open(Settings(data_dir=folder)) as stores:
        return work_record(stores.register, work_id)


@pytest.mark.parametrize("kind", ["csv", "semicolons", "xlsx"])
def test_a_sheet_is_shown_and_then_kept(web: httpx.Client, folder: Path, kind: str) -> None:
    mark = {"csv": ",", "semicolons": ";"}.get(kind)
    data = workbook() if mark is None else "\n".join(mark.join(row) for row in SHEET).encode()
    look = web.post("/works/import/look", files={"file": (f"works.{kind}", data)})
    told = said(look)
    assert "Two works would be added; nothing is stored yet." in told
    assert "Not read: Owner." in told
    assert "Width (cm): Width of the sheet, as it hangs, in cm" in told
    assert "found 'wide', expected a number from 10 to 20000 mm" in told
    assert "found 'Blue Room', expected a room that is written down" in told
    with Stores.open(Settings(data_dir=folder)) as stores:
        before = len(prints(stores.register))
    table = unescape(
        re.findall(r'<textarea name="table" hidden>(.*?)</textarea>', look.text, re.S)[0]
    )
    assert web.post("/works/import", data={"table": table}).status_code == 422
    for _ in range(2):  # sent twice, it is there once
        kept = web.post("/works/import", data={"table": table, "who": "A. Person"})
        assert kept.status_code == 200
    with Stores.open(Settings(data_dir=folder)) as stores:
        assert len(prints(stores.register)) == before + 2
    weir = record(folder, "18/7")
    assert (weir.print.width_mm, weir.print.height_mm) == (1500.0, 1005.0)
    assert weir.mountings[0].mounted_rh_pct == Span(40.0, 55.0)
    assert weir.hangings[0].room == "north"
    lock = record(folder, "18/8")
    assert (lock.print.paper, lock.mountings) == (None, ())


def test_what_is_no_table_is_told(web: httpx.Client) -> None:
    for data in (b"", b"number,title\n", b"PK\x03\x04 not a workbook", b"\xff\xfe\x00"):
        page = web.post("/works/import/look", files={"file": ("works.xlsx", data)})
        assert page.status_code == 422
        assert "a table with headings" in said(page)


def test_a_work_like_another_is_held_framed_and_hung_as_that_is(
    web: httpx.Client, folder: Path
) -> None:
    form = web.get("/works/new?like=2018-02")
    assert 'value="2200"' in form.text
    sent = {"like": "2018-02", "work_id": "2018-03", "title": "Orchard in fog III", "who": "A"}
    sent |= {"width_mm": "2200", "height_mm": "1600", "paper": "resin-coated", "finish": "matt"}
    assert web.post("/works/new", data=sent).status_code == 303
    new, other = record(folder, "2018-03"), record(folder, "2018-02")
    assert new.mountings[-1].mounted_utc == other.mountings[-1].mounted_utc
    assert new.framings[-1].frame == other.framings[-1].frame
    assert new.hangings[-1].room == other.hangings[-1].room
    nobody = web.post("/works/new", data=sent | {"work_id": "2018-04", "like": "nothing"})
    assert nobody.status_code == 422
    with Stores.open(Settings(data_dir=folder)) as stores:
        assert "2018-04" not in [one.work_id for one in prints(stores.register)]
