"""One search over the house; pages compressed, marked, not sent twice, and small."""

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import httpx
import pytest

from service.settings import Settings
from service.storage.incidents import Incident, put_incident
from service.storage.statements import issue
from service.storage.stores import Stores

MARKED = (
    "/", "/round", "/rooms/north/2026-W12", "/rooms/north/2026-W12?beside=year", "/rooms/north/air",
    "/notices", "/notices/1", "/incidents", "/works", "/works/2018-02", "/works/2018-02/why",
    "/works/2018-02/record", "/works/2018-02/measured", "/works/2018-02/half-time", "/limits",
    "/measure", "/classes", "/calendar", "/instruments", "/house", "/statements", "/statements/new",
    "/plan", "/plan/mount?work=2018-02", "/plan/hang?work=2018-02", "/guides", "/guides/air",
    "/sources", "/changes", "/search?asked=fog", "/bring-in", "/gateways", "/accounts", "/account",
    "/notices/people", "/works/new", "/works/import", "/rooms/north/record",
)  # fmt: skip


def test_search_finds_works_rooms_loggers_and_notices(web: httpx.Client) -> None:
    for asked, address in (
        ("breakwater", "/works/2016-03"),
        ("2016-03", "/works/2016-03"),
        ("north gallery", "/rooms/north"),
        ("north-1", "/instruments#at-north-1"),
    ):
        assert f'href="{address}"' in web.get("/search", params={"asked": asked}).text
    assert "/notices/1" in web.get("/search", params={"asked": "gallery"}).text


def test_search_finds_incidents_and_statements(
    own_museum: Path, serve: Callable[[Path], httpx.Client]
) -> None:
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        opened = datetime(2026, 3, 20, 9, tzinfo=UTC)
        put_incident(
            stores.register, Incident("north", opened, "A", noticed="Door left ajar"), by="A"
        )
        facts = {"number": "2026-7", "title": "Climate of the North Gallery", "made": "today"}
        number = issue(
            stores.register, room="north", at_utc=opened, by="A", asked={},
            facts_of=lambda _number: facts, sheet_of=lambda _facts: b"%PDF",
        )  # fmt: skip
    client = serve(own_museum)
    found = client.get("/search", params={"asked": "door ajar"}).text
    assert 'href="/incidents/1"' in found
    found = client.get("/search", params={"asked": "2026-7 climate"}).text
    assert f'href="/statements/{number}"' in found


def test_search_for_nothing_and_for_markup(web: httpx.Client) -> None:
    assert "Nothing holds" in web.get("/search", params={"asked": "zzzz"}).text
    page = web.get("/search", params={"asked": "<script>"}).text
    assert "<script>" not in page.replace("<script src", "")
    assert "part of either" in web.get("/search").text


@pytest.mark.parametrize("address", MARKED)
def test_pages_are_small_compressed_and_marked(web: httpx.Client, address: str) -> None:
    sent = web.get(address)
    assert sent.headers["content-encoding"] == "gzip"
    assert "accept-encoding" in sent.headers["vary"].lower()
    assert len(sent.content) < 400_000
    assert sent.headers["etag"].startswith('W/"')
    again = web.get(address, headers={"If-None-Match": sent.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_a_page_as_it_was_is_not_sent_again(web: httpx.Client) -> None:
    first = web.get("/notices")
    again = web.get("/notices", headers={"If-None-Match": first.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert again.headers["cache-control"] == "private, no-cache"
    other = web.get("/notices", headers={"If-None-Match": 'W/"another"'})
    assert other.status_code == 200


def test_what_is_not_found_or_sent_as_a_form_has_no_mark(web: httpx.Client) -> None:
    assert "etag" not in web.get("/works/nothing").headers
    assert "etag" not in web.post("/statements", data={}).headers
