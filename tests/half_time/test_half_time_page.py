"""The page of a frame's half-time on a real server: shown, used, taken back, refused."""

import re
import shutil
from collections.abc import Callable
from html import unescape
from pathlib import Path
from typing import Any

import httpx
import pytest

from analysis.records.room_records import Place
from service.settings import Settings
from service.storage import audit, works
from service.storage.stores import Stores

FRAMED, EMPTY, OPEN, UNMEASURED = "2018-02", "2019-04", "2016-03", "2014-03"
Serve = Callable[[Path], httpx.Client]


def said(page: httpx.Response) -> str:
    """Return what a page says, without tags."""
    text = unescape(re.sub(r"<[^>]+>", " ", page.text))
    return re.sub(r"\s+", " ", text.replace("\N{NO-BREAK SPACE}", " "))


@pytest.fixture
def own(north_museum: Path, tmp_path: Path, serve: Serve) -> httpx.Client:
    """The invented museum with its frames, served, for a test to change."""
    return serve(Path(shutil.copytree(north_museum, tmp_path / "museum")))


def test_what_a_logger_in_a_frame_tells_and_what_is_said_without_one(own: httpx.Client) -> None:
    page = own.get(f"/works/{FRAMED}/half-time")
    assert page.text.count('<svg class="chart"') == 2
    text = said(page)
    for words in (
        "How fast does the frame of Orchard in fog II follow the room?",
        "Half of the way in about 21 h, probably 19 h to 23 h.",
        "logger north-frame in the frame, beside those of North Gallery",
        "Usual for its build: glazed, board back, paper-taped 4 h 18 h 3 days",
        "side by side for 24 to 48 hours",
        "Whether it does is not recorded as a distance: loggers, east wall, 1.6 m",
    ):
        assert words in text
    require_how_to_get_a_record(own)
    require_json(own)
    require_refusals(own)


def require_how_to_get_a_record(own: httpx.Client) -> None:
    text = said(own.get(f"/works/{EMPTY}/half-time"))
    for words in (
        "Nobody has measured it: half of the way may take 1.5 h to 36 h",
        "beside the room’s for 24 to 48 hours",
        "at least every 18 min, a fifth of the shortest half-time",
        "at least one half-time, better three",
    ):
        assert words in text
    assert "Use this half-time" not in text
    assert "This work has no glazing" in said(own.get(f"/works/{OPEN}/half-time"))
    assert "The record is too short" in said(own.get(f"/works/{UNMEASURED}/half-time"))


def require_json(own: httpx.Client) -> None:
    found = own.get(f"/api/works/{FRAMED}/half-time").json()
    assert found["usual_h"] == [4.0, 18.0, 72.0]
    assert found["fitted"]["bound"] == "between two bounds"
    assert found["fitted"]["sound"]
    assert found["record"]["logger"] == "north-frame"
    assert found["in_use"] is None
    empty = own.get(f"/api/works/{EMPTY}/half-time").json()
    assert (empty["fitted"], empty["record"]) == (None, None)


def require_refusals(own: httpx.Client) -> None:
    page = own.post(f"/works/{EMPTY}/half-time/use", data={"by": "A. Person"})
    assert page.status_code == 422
    assert "No logger has been in this frame" in said(page)
    page = own.post(f"/works/{EMPTY}/half-time/take-back", data={"by": "A.", "why": "none"})
    assert page.status_code == 422
    assert "none in use" in said(page)
    assert own.get("/works/nothing/half-time").status_code == 404
    assert own.get("/api/works/nothing/half-time").status_code == 404
    assert own.post(f"/works/{FRAMED}/half-time/use", data={}).status_code == 422


@pytest.mark.long
def test_used_it_stands_on_the_works_page_and_taken_back_all_is_as_before(
    own: httpx.Client, tmp_path: Path
) -> None:
    address, before = f"/works/{FRAMED}/half-time", own.get(f"/api/works/{FRAMED}").json()
    assert "Use this half-time for this work from Monday 28 October 2024" in said(own.get(address))
    answer = own.post(f"{address}/use", data={"by": " A. Person "})
    assert answer.status_code == 303
    after = said(own.get(answer.headers["location"]))
    assert "Written down: the estimate uses it from now on." in after
    assert "In use since Monday 28 October 2024: 21 h (19 h to 23 h), fitted from" in after
    assert "Use this half-time" not in after
    require_known(own, before)
    answer = own.post(f"{address}/take-back", data={"by": "B. Person", "why": "one more winter"})
    assert answer.status_code == 303
    assert "Taken back" in said(own.get(answer.headers["location"]))
    assert own.get(f"/api/works/{FRAMED}").json() == before
    with Stores.open(Settings(data_dir=tmp_path / "museum")) as stores:
        lines = audit.trail(stores.register, "overrides", 4)
        rows = works.work_record(stores.register, FRAMED).measured
    assert [line.by for line in lines] == ["B. Person"] * 2 + ["A. Person"] * 2
    assert {row.name for row in rows} == {"half_time_h", "frame_minus_logger_k"}
    assert {row.withdrawn for row in rows} == {"one more winter"}


def require_known(own: httpx.Client, before: dict[str, Any]) -> None:
    """The page of the work names the fit, and its flag goes."""
    now = own.get(f"/api/works/{FRAMED}").json()
    flags = [{flag["key"] for flag in one["bear_in_mind"]} for one in (before, now)]
    assert "not measured" in flags[0]
    assert "not measured" not in flags[1]
    page = said(own.get(f"/works/{FRAMED}"))
    assert "north-frame in the frame" in page
    assert "To bear in mind" in page
    assert "Its half-time was not measured" not in page


def test_one_bound_is_shown_and_not_offered(work: Any, serve: Serve) -> None:
    room = work.room()
    work.place(0, None, Place.IN_FRAME)
    work.bring(room.assign(rh_pct=50.0 + 0.001 * room["rh_pct"] + 0.1 * (room["temp_c"] - 20.5)))
    page = said(serve(work.stores.folder).get("/works/W1/half-time"))
    assert "Half of the way takes at least" in page
    assert "one bound is no number to use" in page
    assert "Use this half-time" not in page
