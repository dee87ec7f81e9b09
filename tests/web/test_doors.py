"""What a page elsewhere must not be able to do, and what goes with every page."""

from collections.abc import Callable
from pathlib import Path

import httpx
import pytest

LOOK = {"grade": "1", "by": "A. Person"}


def test_every_answer_carries_the_headers(web: httpx.Client) -> None:
    for path in ("/", "/round", "/works", "/notices", "/api/round", "/static/app.css", "/nowhere"):
        headers = web.get(path).headers
        policy = headers["content-security-policy"]
        assert "script-src 'self';" in policy, path
        assert "frame-ancestors 'none'" in policy, path
        assert headers["x-content-type-options"] == "nosniff", path
        assert headers["referrer-policy"] == "same-origin", path
    assert web.get("/").headers["cache-control"] == "private, no-cache"


@pytest.mark.parametrize(
    "host", ["elsewhere.example", "127.0.0.1.elsewhere.example", "", "a b", "[::1"]
)
def test_a_name_that_is_not_ours_is_refused(web: httpx.Client, host: str) -> None:
    answer = web.get("/", headers={"host": host})
    assert answer.status_code in (400, 421)


@pytest.mark.parametrize(
    "sent",
    [
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"origin": "http://elsewhere.example"},
        {"origin": "null"},
    ],
)
def test_a_post_from_a_page_elsewhere_stores_nothing(
    serve: Callable[[Path], httpx.Client], own_museum: Path, sent: dict[str, str]
) -> None:
    own = serve(own_museum)
    before = own.get("/api/works/2016-03").json()["inspections"]
    for path in ("/works/2016-03/inspections", "/notices/people/people", "/api/uploads"):
        answer = own.post(path, data=LOOK, headers=sent)
        assert answer.status_code == 403, path
        assert "nothing was stored" in answer.text
    assert own.get("/api/works/2016-03").json()["inspections"] == before


def test_a_form_of_ours_and_a_program_are_let_in(
    serve: Callable[[Path], httpx.Client], own_museum: Path
) -> None:
    own = serve(own_museum)
    ours = {"sec-fetch-site": "same-origin", "origin": str(own.base_url).rstrip("/")}
    assert own.post("/works/2016-03/inspections", data=LOOK, headers=ours).status_code == 303
    assert own.post("/notices/people/limits", data={"by": ""}).status_code == 422


def test_further_names_are_a_setting(serve: Callable[..., httpx.Client], own_museum: Path) -> None:
    own = serve(own_museum, allowed_hosts="taut.museum.example, other.example")
    assert own.get("/static/app.css", headers={"host": "taut.museum.example"}).status_code == 200
