"""One search over the house; pages compressed, marked, not sent twice, and small."""

import httpx
import pytest


def test_search_finds_works_rooms_loggers_and_notices(web: httpx.Client) -> None:
    for asked, address in (
        ("breakwater", "/works/2016-03"),
        ("2016-03", "/works/2016-03"),
        ("north gallery", "/rooms/north"),
        ("north-1", "/instruments"),
    ):
        assert f'href="{address}"' in web.get("/search", params={"asked": asked}).text
    assert "/notices/1" in web.get("/search", params={"asked": "gallery"}).text


def test_search_for_nothing_and_for_markup(web: httpx.Client) -> None:
    assert "Nothing holds" in web.get("/search", params={"asked": "zzzz"}).text
    page = web.get("/search", params={"asked": "<script>"}).text
    assert "<script>" not in page.replace("<script src", "")
    assert "part of either" in web.get("/search").text


@pytest.mark.parametrize("address", ["/", "/round", "/rooms/north/2026-W12", "/notices", "/works"])
def test_pages_are_small_compressed_and_marked(web: httpx.Client, address: str) -> None:
    sent = web.get(address)
    assert sent.headers["content-encoding"] == "gzip"
    assert "accept-encoding" in sent.headers["vary"].lower()
    assert len(sent.content) < 400_000
    assert sent.headers["etag"].startswith('W/"')


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
