"""Planning pages over HTTP: each answers, with its picture and its cautions."""

from io import BytesIO

import httpx
import pytest
from pypdf import PdfReader

WORK = "2018-02"


def test_where_to_hang_names_causes_reasons_and_walls(web: httpx.Client) -> None:
    page = web.get("/plan/hang").text
    for words in ("waves seen", "near the glazing", "hinges giving way"):
        assert words in page
    assert page.count('<svg class="chart"') == 2
    assert "outside wall, solid masonry" in page


def test_of_one_work_every_wall_is_shown(web: httpx.Client) -> None:
    page = web.get(f"/plan/hang?work={WORK}").text
    assert "Over all rooms: inside wall" in page


def test_mounting_says_that_it_is_a_model(web: httpx.Client) -> None:
    page = web.get(f"/plan/mount?work={WORK}").text
    for words in ("not a published rule", "may be the best", "season", "Mounted damp"):
        assert words in page


def test_sealing_says_what_the_package_would_do(web: httpx.Client) -> None:
    page = web.get(f"/plan/seal?work={WORK}&target=20").text
    for words in ("Before you do", "above its target of 20", "colder than the package"):
        assert words in page.replace("\N{NO-BREAK SPACE}", " ")


def test_set_points_ask_first_and_answer_with_cautions(web: httpx.Client) -> None:
    asked = web.get(f"/plan/seasons?work={WORK}").text
    assert "Say what would change" in asked
    assert "<table" not in asked
    told = web.get(f"/plan/seasons?work={WORK}&summer=-6&setback=2").text
    assert "the engineer" in told
    assert "gliding over 30 days" in told.replace("\N{NO-BREAK SPACE}", " ")


def test_the_sheet_is_printed_on_one_page(web: httpx.Client) -> None:
    page = web.get(f"/plan/sheet?work={WORK}&pitch=25").text
    assert f"/plan/sheet.pdf?work={WORK}&amp;pitch=25" in page
    sheet = web.get(f"/plan/sheet.pdf?work={WORK}&pitch=25")
    assert sheet.headers["content-type"] == "application/pdf"
    assert sheet.content.startswith(b"%PDF")
    assert len(PdfReader(BytesIO(sheet.content)).pages) == 1


@pytest.mark.parametrize(
    "address",
    [
        "/plan/hang?wall=ceiling",
        f"/plan/seasons?work={WORK}&setback=40",
        f"/plan/sheet?work={WORK}&pitch=-5",
        f"/plan/spacer?work={WORK}&minimum=-1",
    ],
)
def test_what_cannot_be_is_refused_with_a_reason(web: httpx.Client, address: str) -> None:
    answer = web.get(address)
    assert answer.status_code == 422
    assert "<dt>Found</dt>" in answer.text


def test_without_an_outdoor_logger_the_next_days_are_refused_with_what_to_do(
    web: httpx.Client,
) -> None:
    page = web.get("/plan/days", params={"room": "north"})
    assert page.status_code == 422
    assert "Bring in outdoor air as a logger placed outdoors" in page.text
