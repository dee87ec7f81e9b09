"""Every page answers, is sound HTML, and says in five parts what does not exist."""

import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import httpx
import pytest
from fixtures.rounds import round_works

from dashboards.text import wording
from service.web.report_answer import ReportOut
from service.web.responses import (
    Answer,
    HalfTimeOut,
    NoticeOut,
    RoomOut,
    RoomWeekOut,
    RoundOut,
    WhyOut,
    WorkOut,
)

VOID = {"meta", "link", "br", "img", "input", "hr"}
PAGES = (
    "/",
    "/?week=2026-W11",
    "/round",
    "/round?room=north",
    "/rooms/north",
    "/rooms/court/2026-W12",
    "/rooms/store",
    "/rooms/north/air",
    "/limits",
    "/report",
    "/report?from=2026-03-16&to=2026-03-22&for=facilities",
    "/measure",
    "/classes",
    "/works/2016-03",
    "/works/2016-03/why",
    "/works/2018-02/why?at=2026-03-20T14:00",
    "/works/2019-09/why",
    "/works/2018-02",
    "/works/2019-09",
    "/works/2012-08",
    "/works/2018-02/journey",
    "/works/2018-02/journey/crate",
    "/works/2018-02/half-time",
    "/works/2019-04/half-time",
    "/works/2016-03/half-time",
    "/works",
    "/works?search=gallery",
    "/works/new",
    "/works/2018-02/record",
    "/works/2018-02/record/print",
    "/works/2018-02/record/mounting",
    "/works/2018-02/record/framing?was_work_id=2018-02&was_closed_utc=2024-10-28",
    "/works/2018-02/record/hanging/take-out?was_work_id=2018-02&was_from_utc=2025-01-01",
    "/works/2018-02/measured",
    "/works/2018-02/measured/half_time_h",
    "/works/2018-02/measured/strip",
    "/works/2018-02/measured/board",
    "/works/2018-02/measured/beta_cd/withdraw?was_from_utc=",
    "/house",
    "/rooms/new",
    "/rooms/north/record",
    "/rooms/store/record",
    "/rooms/north/record/room",
    "/rooms/north/record/logger",
    "/rooms/north/record/instrument",
    "/rooms/north/record/band",
    "/notices",
    "/notices/1",
    "/bring-in",
    "/plan",
    "/plan/mount?work=2018-02",
    "/plan/hang?work=2018-02",
    "/plan/hang?wall=outside+wall,+insulated",
    "/plan/seal?work=2018-02&target=50",
    "/plan/spacer?work=2018-02&depth=12",
    "/plan/seasons?work=2018-02",
    "/plan/seasons?work=2018-02&summer=-5&setback=3",
    "/plan/sheet?work=2018-02&pitch=25&target=48",
    "/guides",
    "/guides/air",
    "/guides/doors",
    "/guides/notebook",
    "/guides/planning",
    "/guides/estimator",
    "/guides/validation",
    "/sources",
)
MISSING = (
    ("/rooms/nowhere", 404),
    ("/rooms/nowhere/air", 404),
    ("/rooms/nowhere/2026-W12.svg", 404),
    ("/rooms/north/2026-W99", 422),
    ("/rooms/north/last-week", 422),
    ("/rooms/north/2026-W12.gif", 404),
    ("/works/nothing", 404),
    ("/works/nothing/journey", 404),
    ("/works/nothing/journey/crate", 404),
    ("/works/nothing/half-time", 404),
    ("/works/nothing/record", 404),
    ("/works/nothing/record/mounting", 404),
    ("/works/2018-02/record/nothing", 404),
    ("/works/nothing/measured", 404),
    ("/works/2018-02/measured/nothing", 404),
    ("/rooms/nowhere/record", 404),
    ("/rooms/nowhere/record/band", 404),
    ("/works/%2e%2e%2fregister.db", 404),
    ("/notices/99999", 404),
    ("/notices/first", 404),
    ("/guides/nothing", 404),
    ("/guides/figures/nothing.svg", 404),
    ("/bring-in/nothing", 404),
    ("/round?room=nowhere", 404),
    ("/?week=soon", 422),
    ("/plan/mount?work=nothing", 404),
    ("/plan/mount", 422),
    ("/plan/spacer?work=2018-02&depth=deep", 422),
    ("/report?for=nobody", 404),
    ("/report?from=2026-03-16&to=soon", 422),
    ("/no-such-page", 404),
)


class Nesting(HTMLParser):
    """Checks that every element is closed in its turn, and keeps the ids and headings."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.ids: list[str] = []
        self.headings = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.ids += [str(value) for name, value in attrs if name == "id"]
        self.headings += tag == "h1"
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.ids += [str(value) for name, value in attrs if name == "id"]

    def handle_endtag(self, tag: str) -> None:
        assert self.open and self.open[-1] == tag, f"</{tag}> closes {self.open[-3:]}"
        self.open.pop()


# Forms of words that once misled; `tests/pages/test_words_of_the_list.py` has what is said now.
MISLEADING = re.compile(
    r"Behind glazing it was|may rise by|the source is indoors|too near the edge for the sensors"
    r"|the stronger, the more|[Mm]ostly offset|Status \d|Found None"
    r"|(?<![\d.,])(?<!to )1 (years|months|weeks|days|hours)\b|gone slack|\(\d+–\d+\)"
)
# "published" as what a number is says how far its source was seen. Before a word of its own it is
# a verb or says what was published.
HOW_FAR = r", (?:read|abstract read|second-hand|from memory)\b"
NOT_SAID_HOW_FAR = re.compile(rf"(?<!found )\bpublished\b(?!{HOW_FAR})(?! [a-z])")


def require_plain_words(page: httpx.Response) -> None:
    """Fail where a page says what once misled, or "published" but not how far that was seen."""
    text = re.sub(r"<(script|style)\b.*?</\1>|<[^>]+>", " ", page.text, flags=re.DOTALL)
    text = re.sub(r"[\s\N{NO-BREAK SPACE}]+", " ", text)
    for wrong in (MISLEADING, NOT_SAID_HOW_FAR):
        found = wrong.search(text)
        assert found is None, text[max(found.start() - 60, 0) : found.end() + 60]


def require_sound(page: httpx.Response) -> None:
    """Fail unless the answer is a whole HTML page with one heading and no id twice."""
    assert page.headers["content-type"].startswith("text/html")
    read = Nesting()
    read.feed(page.text)
    read.close()
    assert read.open == []
    assert read.headings == 1
    assert len(read.ids) == len(set(read.ids))
    assert "a conservator decides" in page.text
    assert "Traceback" not in page.text
    assert 'role="img" aria-label=""' not in page.text


@pytest.mark.parametrize("address", PAGES)
def test_a_page_answers_and_is_sound(web: httpx.Client, address: str) -> None:
    page = web.get(address)
    assert page.status_code == 200
    require_sound(page)
    require_plain_words(page)


@pytest.mark.parametrize(("address", "status"), MISSING)
def test_what_does_not_exist_is_said_in_five_parts(
    web: httpx.Client, address: str, status: int
) -> None:
    page = web.get(address)
    assert page.status_code == status
    require_sound(page)
    require_plain_words(page)
    for part in ("Read", "Found", "Expected"):
        assert f"<dt>{part}</dt><dd>" in page.text
    assert re.search(r'<p class="answer">\w[^<]+\.</p>', page.text)


@pytest.mark.long
def test_every_address_on_the_pages_leads_somewhere(web: httpx.Client) -> None:
    found = {
        address
        for page in (
            "/rooms/north",
            "/works/2018-02",
            "/works/2018-02/record",
            "/works/2018-02/measured",
            "/rooms/north/record",
            "/notices/1",
            "/guides",
            "/bring-in",
        )
        for address in re.findall(r'(?:href|src)="(/[^"#]*)', web.get(page).text)
    }
    assert len(found) > 20
    wrong = {a: status for a in found if (status := web.get(a).status_code) != 200}
    assert wrong == {}


@pytest.mark.parametrize(
    ("ending", "kind", "opening"),
    [
        ("svg", "image/svg+xml", b"<?xml"),
        ("png", "image/png", b"\x89PNG"),
        ("pdf", "application/pdf", b"%PDF"),
    ],
)
def test_the_week_comes_as_a_file(
    web: httpx.Client, ending: str, kind: str, opening: bytes
) -> None:
    file = web.get(f"/rooms/north/2026-W12.{ending}")
    assert file.status_code == 200
    assert file.headers["content-type"] == kind
    assert file.content.startswith(opening)
    assert len(file.content) > 5000


def test_the_wet_opening_night_stands_on_the_first_page(web: httpx.Client) -> None:
    page = re.sub(r"<[^>]+>", " ", web.get("/").text).replace("\N{NO-BREAK SPACE}", " ")
    first = [j for j in round_works(web) if j["listing"] == "look first"]
    assert f"Look first at {wording.count(len(first))} prints" in page
    assert "Room air rose 15 %RH in 2.5 h from Thursday 17:45" in page


def test_an_empty_museum_asks_for_readings(
    serve: Callable[[Path], httpx.Client], tmp_path: Path
) -> None:
    page = serve(tmp_path).get("/")
    assert page.status_code == 200
    require_sound(page)
    assert "Bring in the loggers’ files" in page.text
    assert 'action="/house"' in page.text  # the first step is taken there


def test_other_programs_get_the_same_answers(web: httpx.Client) -> None:
    described = web.get("/api/openapi.json").json()
    assert described["openapi"].startswith("3.")
    for path in described["paths"]:
        if "{" not in path and "get" in described["paths"][path]:
            assert web.get(path).status_code == 200, path
    week = web.get("/api/rooms/north/weeks/2026-W12").json()
    assert week["sentence"].startswith("Room air rose 15 %RH in 2.5 h from Thursday 17:45")
    lists = {j["work_id"]: j["listing"] for j in round_works(web)}
    assert lists["2016-03"] == "look first"
    # with as few draws as here, the north and the east may or may not have something to tell
    told = {notice["room"] for notice in web.get("/api/notices").json()}
    assert {"court"} <= told <= {"court", "east", "north"}
    problem = web.get("/api/rooms/nowhere/weeks/2026-W12")
    assert problem.status_code == 404
    assert problem.headers["content-type"] == "application/problem+json"
    members = {"type", "title", "status", "detail", "instance"}  # RFC 9457, section 3.1
    assert {*members, "read", "where", "found", "expected", "action"} <= set(problem.json())
    assert problem.json()["status"] == 404


def test_what_goes_wrong_is_described_as_a_problem_document(web: httpx.Client) -> None:
    described = web.get("/api/openapi.json").json()["paths"]
    for path, methods in described.items():
        for asked in methods.values():
            wrong = {s for s in asked["responses"] if int(s) >= 400}
            assert wrong >= {"401", "403", "422", "500"}, path
            for status in wrong:
                assert list(asked["responses"][status]["content"]) == ["application/problem+json"]
    assert "404" in described["/api/works/{work_id}"]["get"]["responses"]
    assert {"413", "415", "429", "503"} <= set(described["/api/readings"]["post"]["responses"])


ANSWERS = (
    ("/api/rooms", RoomOut),
    ("/api/rooms/north/weeks/2026-W12", RoomWeekOut),
    ("/api/round", RoundOut),
    ("/api/works/2016-03", WorkOut),
    ("/api/works/2016-03/half-time", HalfTimeOut),
    ("/api/works/2016-03/why", WhyOut),
    ("/api/notices", NoticeOut),
    ("/api/report?from=2026-03-16&to=2026-03-22", ReportOut),
)


@pytest.mark.parametrize(("path", "model"), ANSWERS)
def test_answers_hold_what_their_description_says_and_no_more(
    web: httpx.Client, path: str, model: type[Answer]
) -> None:
    answer = web.get(path)
    assert NOT_SAID_HOW_FAR.search(answer.text) is None
    found = answer.json()
    for one in found if isinstance(found, list) else [found]:
        assert undescribed(model.model_validate(one)) == []


def undescribed(answer: Answer) -> list[str]:
    """Return the names in an answer, and in what it holds, that its model does not describe."""
    names = list(answer.model_extra or {})
    for value in vars(answer).values():
        for item in value if isinstance(value, list) else [value]:
            names += undescribed(item) if isinstance(item, Answer) else []
    return names


@pytest.mark.parametrize(
    "week", ["9999-W52", "0001-W01", "2026-W54", "2026", "W12", "２０２６-W12"]
)
def test_a_week_that_is_none_is_said(web: httpx.Client, week: str) -> None:
    page = web.get("/", params={"week": week})
    assert page.status_code == 422
    assert "an ISO week such as 2026-W12" in page.text


def test_a_page_that_is_not_there_says_so_in_words(web: httpx.Client) -> None:
    page = web.get("/nowhere")
    assert page.status_code == 404
    assert "There is no such page" in page.text
    assert "Status" not in page.text
    missing = web.post("/api/uploads", data={})
    assert missing.status_code == 422
    assert missing.json()["found"] == "nothing"
    assert "None" not in missing.text
