"""The calendar of a house and the checks of its loggers, written down and taken out on pages."""

import re
import shutil
from collections.abc import Callable
from pathlib import Path

import httpx
import pytest

from service.settings import Settings
from service.storage.loggers import calibrations
from service.storage.places import calendar
from service.storage.stores import Stores

WHO = {"who": "A. Person"}
OPENING = WHO | {
    "kind": "opening",
    "title": "Opening of the summer show",
    "from_utc": "2026-03-26",
    "from_utc_clock": "18:00",
    "to_utc": "2026-03-26",
    "to_utc_clock": "22:00",
    "room": "north",
}


@pytest.fixture
def folder(described_museum: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(described_museum, tmp_path / "museum"))


@pytest.fixture
def web(folder: Path, serve: Callable[[Path], httpx.Client]) -> httpx.Client:
    return serve(folder)


def said(page: httpx.Response) -> str:
    text = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page.text))
    return text.replace("\N{NO-BREAK SPACE}", " ")


def test_an_opening_is_planned_corrected_and_taken_out(web: httpx.Client, folder: Path) -> None:
    assert "Plant stopped, found Monday" in said(web.get("/calendar"))
    for _ in range(2):  # the same again changes nothing
        sent = web.post("/house/event", data=OPENING)
        assert sent.headers["location"] == "/calendar?saved=written"
    page = web.get("/calendar")
    assert said(page).count("Opening of the summer show, from Thursday 26 March 2026") == 1
    assert "Until Thursday 26 March 2026, 22:00" in said(page)
    early = web.post("/house/event", data=OPENING | {"to_utc": "2026-03-18"})
    assert early.status_code == 422
    assert "more than from_utc" in said(early)
    out = re.findall(r'href="(/house/event/take-out[^"]*2026-03-26[^"]*)"', page.text)[0]
    asked = web.get(out.replace("&amp;", "&"))
    hidden = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', asked.text))
    done = web.post("/house/event/take-out", data=hidden | WHO | {"why": "it was called off"})
    assert done.headers["location"] == "/calendar?saved=taken-out"
    with Stores.open(Settings(data_dir=folder)) as stores:
        titles = [one.title for one in calendar(stores.register)]
    assert "Opening of the summer show" not in titles


def test_a_house_s_own_event_touches_every_room(web: httpx.Client, folder: Path) -> None:
    web.post("/house/event", data=OPENING | {"room": "", "kind": "weather", "title": "Storm"})
    with Stores.open(Settings(data_dir=folder)) as stores:
        assert "Storm" in [one.title for one in calendar(stores.register, "long")]


def test_a_check_against_a_reference_is_written_down(web: httpx.Client, folder: Path) -> None:
    check = {"logger": "north-1", "channel": "rh_pct", "read_1": "35", "true_1": "33"}
    half = web.post("/house/calibration", data=WHO | check | {"read_2": "77"})
    assert "both read_2 and true_2" in said(half)
    beyond = web.post("/house/calibration", data=WHO | check | {"read_1": "95"})
    assert beyond.status_code == 422
    sent = web.post("/house/calibration", data=WHO | check | {"from_utc": "2026-02-01"})
    assert sent.headers["location"] == "/instruments?saved=written"
    assert "Can our loggers be trusted?" in said(web.get("/instruments"))
    with Stores.open(Settings(data_dir=folder)) as stores:
        newest = calibrations(stores.register, "north-1")[-1]
    assert newest.layer().offset == pytest.approx(-2.0)


def test_two_loggers_side_by_side_are_compared_by_their_readings(
    own_museum: Path, serve: Callable[[Path], httpx.Client]
) -> None:
    web = serve(own_museum)
    days = {"from_utc": "2026-03-16", "to_utc": "2026-03-21"}
    same = web.post(
        "/house/side-by-side", data=WHO | days | {"logger": "north-1", "other": "north-1"}
    )
    assert "another than logger" in said(same)
    web.post("/house/side-by-side", data=WHO | days | {"logger": "north-1", "other": "court-1"})
    assert "%RH against court-1" in said(web.get("/instruments"))
