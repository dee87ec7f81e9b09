"""The gallery's week for its wall: one page, nothing twice, nothing lost, told apart in grey."""

import io
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import httpx
import numpy as np
import pytest
from click.testing import CliRunner
from fixtures.invented_week import START, room_week
from fixtures.paper import pages_of
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image

from analysis.results import Planned, RoomWeek
from dashboards.charts.strips import rows
from dashboards.charts.tracks import DISC, Bar, track_mm
from dashboards.charts.wall import WALL_A3, WALL_A4
from dashboards.sheets.typesetting import sheet_pdf, sheet_png
from dashboards.sheets.week_sheet import PAPERS, week_sheet
from dashboards.text.event_words import event_notes
from dashboards.text.strip_text import peak_words
from service.cli import stilltaut

AT = datetime(2026, 3, 22, 22, tzinfo=UTC)
OPENING = Planned("Opening", START + timedelta(hours=39), START + timedelta(hours=44))
DELIVERY = Planned("Delivery", START + timedelta(hours=100), START + timedelta(hours=102))


@pytest.fixture(scope="module")
def busy() -> RoomWeek:
    return room_week(planned=[OPENING, DELIVERY])


def said(week: RoomWeek, paper: str) -> str:
    pages = pages_of(sheet_pdf(week_sheet(week, PAPERS[paper], AT)))
    assert len(pages) == 1
    return pages[0]


@pytest.mark.parametrize("paper", PAPERS)
def test_every_work_of_the_room_is_on_the_one_page(busy: RoomWeek, paper: str) -> None:
    text = said(busy, paper)
    for judgement in busy.judgements:
        assert judgement.title in text


def test_what_needs_a_look_has_its_strip_and_peak_on_both_papers(busy: RoomWeek) -> None:
    for paper in PAPERS:
        text = said(busy, paper)
        for row in rows(busy)[:3]:
            assert peak_words(row.judgement, busy.zone) in text


def test_an_event_is_told_once(busy: RoomWeek) -> None:
    text = said(busy, "a4")
    assert text.count("Room air rose 14 %RH") == 1
    assert text.count("“Opening”") == 1  # in the note of what happened meanwhile
    assert text.count("in the calendar: Delivery") == 1


def test_what_lies_within_an_event_and_has_its_cause_is_a_part_of_it(busy: RoomWeek) -> None:
    (whole,) = (one for one in busy.events if one.peak_value - one.from_value > 10.0)
    part = replace(
        whole,
        kind="above band",
        start_utc=whole.start_utc + timedelta(minutes=10),
        from_value=54.0,
    )
    week = replace(busy, events=[whole, part])
    first, second = event_notes(week)
    assert "probably" in first
    assert "during “Opening”" in first
    assert "was above the band (54 %RH)" in second
    assert second.endswith("; part of 1.")
    assert "probably" not in second
    assert "Opening" not in second
    for other in (
        replace(part, cause="cooling"),
        replace(part, confirmed_by=""),
        replace(part, end_utc=whole.end_utc + timedelta(hours=1)),
    ):
        assert "part of" not in event_notes(replace(week, events=[whole, other]))[1]


def test_numbers_above_the_air_cover_none_of_each_other() -> None:
    for wall in (WALL_A4, WALL_A3):
        lane_mm = track_mm([Bar(1, 0, 0.0, 1.0)], wall.layout)
        figure = Figure()
        FigureCanvasAgg(figure)
        disc = figure.text(0.5, 0.5, "2", size=wall.layout.small, weight="bold", bbox=DISC)
        patch = disc.get_bbox_patch()
        assert patch is not None
        figure.draw_without_rendering()
        assert patch.get_window_extent().height * 25.4 / figure.dpi < lane_mm


def test_sixty_works_still_make_one_page_that_names_them_all() -> None:
    week = room_week([n % 11 for n in range(11)])
    crowd = room_week(judgements=[j for _ in range(5) for j in week.judgements])
    for paper in PAPERS:
        text = said(crowd, paper)
        assert "Also to look at first" in text
        assert "Also in this room" in text


def test_a_room_without_works_has_a_sheet() -> None:
    assert "No prints hang here." in said(room_week([]), "a4")


def test_the_key_is_told_apart_in_grey(busy: RoomWeek) -> None:
    # Grey as of ITU-R BT.601, which Pillow's "L" is.
    (picture,) = sheet_png(week_sheet(busy, PAPERS["a4"], AT), 100.0)
    grey = np.asarray(Image.open(io.BytesIO(picture)).convert("L"))
    assert grey[2, 2] == 255  # white paper
    levels, counts = np.unique(grey, return_counts=True)
    broad = levels[counts > 0.0006 * grey.size]  # areas, not the edges of letters
    washes = [int(level) for level in broad if 40 < level < 252]
    assert len(washes) >= 5
    assert max(washes) - min(washes) > 100


def test_the_page_leads_to_both_sheets_and_they_are_sent(web: httpx.Client) -> None:
    page = web.get("/rooms/north/2026-W12").text
    for paper in PAPERS:
        address = f"/rooms/north/2026-W12/{paper}.pdf"
        assert address in page
        sent = web.get(address)
        assert sent.headers["content-type"] == "application/pdf"
        assert "North Gallery" in pages_of(sent.content)[0]


def test_paper_of_another_size_is_named_as_unknown(web: httpx.Client) -> None:
    answer = web.get("/rooms/north/2026-W12/a9.pdf")
    assert answer.status_code == 404
    assert "a3, a4" in answer.text


def test_the_command_writes_the_sheet(small_museum: Path, tmp_path: Path) -> None:
    out = tmp_path / "week.pdf"
    words = ["week", "north", "--data", str(small_museum), "--out", str(out), "--paper", "a3"]
    told = CliRunner().invoke(stilltaut, words)
    assert told.exit_code == 0, told.output
    assert "North Gallery" in pages_of(out.read_bytes())[0]
