"""What was confirmed is taken back on pages: how files are read, and that a notice was seen."""

import re
from collections.abc import Callable
from html import unescape
from pathlib import Path

import httpx
import pytest

from service.settings import Settings
from service.storage import audit
from service.storage.loggers import logger_named, remembered_choice
from service.storage.stores import Stores


@pytest.fixture
def own(own_museum: Path, serve: Callable[[Path], httpx.Client]) -> httpx.Client:
    return serve(own_museum)


def said(page: httpx.Response) -> str:
    text = unescape(re.sub(r"<[^>]+>", " ", page.text))
    return re.sub(r"\s+", " ", text.replace("\N{NO-BREAK SPACE}", " "))


def test_how_files_are_read_is_taken_back_with_a_reason(
    own: httpx.Client, own_museum: Path
) -> None:
    page = own.get("/instruments")
    assert "How its files are read, confirmed on" in said(page)
    address = "/instruments/north-1/forget"
    assert address in page.text
    assert "Forget how the files of north-1 are read?" in said(own.get(address))
    refused = own.post(address, data={"who": "A. Person"})
    assert refused.status_code == 422
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        before = remembered_choice(stores.register, "north-1")
        held = stores.readings.span("north-1")
    assert before is not None
    done = own.post(address, data={"who": "A. Person", "why": "a new logger program"})
    assert done.headers["location"] == "/instruments?saved=taken-out"
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        assert remembered_choice(stores.register, "north-1") is None
        assert stores.readings.span("north-1") == held  # what came in stays
        line = audit.trail(stores.register, "choices")[0]
    assert (line.by, (line.after or {})["taken out"]) == ("A. Person", "a new logger program")
    assert (line.before or {})["choice"]["columns"] == before["columns"]
    assert address not in own.get("/instruments").text


def test_that_a_notice_was_seen_is_taken_back(own: httpx.Client) -> None:
    number = re.findall(r"/notices/(\d+)\b", own.get("/notices").text)[0]
    own.post(f"/notices/{number}/seen", data={"by": "A. Person", "reason": "a wet floor"})
    page = own.get(f"/notices/{number}")
    assert "Seen by A. Person" in said(page)
    assert f"/notices/{number}/not-seen" in page.text
    own.post(f"/notices/{number}/not-seen")
    after = said(own.get(f"/notices/{number}"))
    assert "Seen by" not in after
    assert "I have seen it" in after
    assert own.post("/notices/999/not-seen").status_code == 422


def test_a_logger_with_readings_is_shown_under_another_name(
    own: httpx.Client, own_museum: Path
) -> None:
    form = "/rooms/north/record/instrument"
    sent = {"was_logger": "north-1", "logger": "north-1", "zone": "Europe/Dublin", "who": "A"}
    other = own.post(form, data=sent | {"logger": "by-the-door"})
    assert other.status_code == 422
    assert "the name as shown may be mended below" in said(other).casefold()
    done = own.post(form, data=sent | {"name": "By the door"})
    assert done.status_code == 303
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        named = logger_named(stores.register, "north-1")
        assert named is not None
        assert (named.logger, named.shown) == ("north-1", "By the door (north-1)")
        assert stores.readings.span("north-1") is not None
    for page in ("/rooms/north", "/rooms/north/record", "/instruments", "/bring-in"):
        assert "By the door (north-1)" in said(own.get(page)), page
