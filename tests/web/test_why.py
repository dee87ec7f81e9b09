"""Why a work is as it is at an hour: page, JSON, command, and hours without an answer."""

import json
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from html import unescape
from pathlib import Path
from typing import Any

import httpx
import pytest
from click.testing import CliRunner
from fixtures.rounds import round_works

from analysis.results import History
from service.answers.museum import Museum
from service.answers.reasons import hour_asked, local_text
from service.cli import stilltaut
from service.settings import Settings
from service.storage.stores import Stores

WORK = "2018-02"  # resin-coated, glazed, in the North Gallery all the time
DRAWS = 60
ZONE = "Europe/Dublin"
Told = dict[str, Any]


def said(page: httpx.Response) -> str:
    """Return what a page says, without tags and without its pictures."""
    text = re.sub(r"<svg.*?</svg>", " ", page.text, flags=re.DOTALL)
    text = unescape(re.sub(r"<[^>]+>", " ", text))
    return re.sub(r"\s+", " ", text.replace("\N{NO-BREAK SPACE}", " "))


def told(web: httpx.Client, work: str = WORK, **asked: str) -> Told:
    """Return the JSON of the chain at an hour."""
    found: Told = web.get(f"/api/works/{work}/why", params=asked).json()
    return found


def numbers(told: Told) -> dict[str, Any]:
    """Return the values of the links by name."""
    return {link["name"]: link["value"] for link in told["links"]}


def test_the_page_goes_from_the_room_to_the_surface(web: httpx.Client) -> None:
    page = web.get(f"/works/{WORK}/why")
    text = said(page)
    assert "Why, at 22 March 2026, 23:00?" in text
    steps = re.findall(r"<h2>(\w+)</h2>", page.text)
    assert steps == ["Room", "Frame", "Print", "Tension", "Surface"]
    assert "Where the stretch went" in text
    assert "What would narrow it:" in text
    assert "mounted at" in page.text
    assert re.search(r"the \w+, the (more|less) \(rank correlation", text)


def test_the_answer_and_the_numbers_are_those_of_the_page_of_the_work(web: httpx.Client) -> None:
    judged = {j["work_id"]: j for j in round_works(web)}[WORK]
    found = told(web)
    assert datetime.fromisoformat(found["at_utc"]) == datetime.fromisoformat(judged["at_utc"])
    assert found["answer"] == judged["reason"]
    for name, there in (("print_rh_pct", "print_rh_pct"), ("headroom_up_pct", "headroom_up_pct")):
        value = numbers(found)[name]
        assert [value[k] for k in ("low", "mid", "high")] == pytest.approx(
            [judged[there][k] for k in ("low", "mid", "high")], rel=1e-3, abs=2e-2
        )
    page = web.get(f"/works/{WORK}")
    sentence = re.search(r"tension (\d+)\sN/m", said(page))
    picture = re.search(r">(\d+) N/m", page.text)
    assert sentence is not None
    assert picture is not None
    assert sentence[1] == picture[1]  # both of the hour that is judged


def test_an_hour_of_the_past_is_that_hour_of_the_history(
    web: httpx.Client, small_museum: Path
) -> None:
    at = datetime(2026, 3, 20, 14, tzinfo=UTC)
    found = numbers(told(web, at="2026-03-20T14:00"))
    with Stores.open(Settings(data_dir=small_museum, draws=DRAWS)) as stores:
        assessed = Museum(stores, Settings(data_dir=small_museum, draws=DRAWS)).work_over(WORK, 5)
    assert assessed is not None
    history = assessed.history
    assert isinstance(history, History)
    hour = list(history.time_utc.astype("datetime64[s]").astype(int)).index(int(at.timestamp()))
    for name in ("frame_rh_pct", "print_rh_pct", "tension_n_m", "slope_mrad", "headroom_up_pct"):
        value = [found[name][k] for k in ("low", "mid", "high")]
        assert value == pytest.approx(getattr(history, name)[hour], rel=2e-3, abs=2e-2), name


def test_the_steps_lead_an_hour_a_day_and_a_week_away(web: httpx.Client) -> None:
    page = web.get(f"/works/{WORK}/why?at=2026-03-14T14:00")
    ways = dict.fromkeys(re.findall(r'href="(/works/[^"]*/why\?at=[^"&]*)"', page.text))
    asked = [unescape(way).split("at=")[1].replace("%3A", ":") for way in ways]
    assert asked == [
        "2026-03-07T14:00",
        "2026-03-13T14:00",
        "2026-03-14T13:00",
        "2026-03-14T15:00",
        "2026-03-15T14:00",
        "2026-03-21T14:00",
    ]
    assert {web.get(unescape(way)).status_code for way in ways} == {200}


@pytest.mark.parametrize(
    ("work", "at", "words"),
    [
        (WORK, "1999-01-01T10:00", "the readings where it hung begin on"),
        (WORK, "2031-01-01T10:00", "the last reading is of 22 March 2026, 23:00"),
        ("2019-09", "2026-03-20T10:00", "bonded overall"),
        ("2012-08", "2026-03-20T10:00", "no usable readings of its room"),
    ],
)
def test_an_hour_without_an_answer_says_so_plainly(
    web: httpx.Client, work: str, at: str, words: str
) -> None:
    page = web.get(f"/works/{work}/why", params={"at": at})
    assert page.status_code == 200
    assert words in said(page)
    assert "Where the stretch went" not in page.text
    found = told(web, work, at=at)
    assert words in found["answer"]
    assert found["links"] == []


def test_before_mounting_the_day_of_mounting_is_named(web: httpx.Client) -> None:
    page = said(web.get("/works/2016-03/why?at=2026-02-09T10:00"))
    assert "Nothing can be told of that time" in page


def test_an_hour_just_after_the_readings_began_is_told_widely(web: httpx.Client) -> None:
    first = hour_asked("2026-03-02T03:00", ZONE)  # the readings have only begun
    found = told(web, at=local_text(first, ZONE))
    assert found["refused"] == ""
    assert {link["step"] for link in found["links"] if link["known"]} >= {"room", "frame", "print"}


@pytest.mark.parametrize(
    ("address", "status"),
    [
        (f"/works/{WORK}/why?at=soon", 422),
        (f"/works/{WORK}/why?at=0001-01-01", 422),
        (f"/api/works/{WORK}/why?at=2026-13-01", 422),
        ("/works/nothing/why", 404),
        ("/api/works/nothing/why", 404),
    ],
)
def test_what_cannot_be_read_is_said_in_five_parts(
    web: httpx.Client, address: str, status: int
) -> None:
    answer = web.get(address)
    assert answer.status_code == status
    assert "xpected" in answer.text


def test_the_way_there_stands_on_the_page_of_the_work(web: httpx.Client) -> None:
    assert f'href="/works/{WORK}/why"' in web.get(f"/works/{WORK}").text


@pytest.fixture
def run(small_museum: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., tuple[int, str]]:
    """Return a way to ask the command, with few draws."""
    monkeypatch.setenv("STILLTAUT_DRAWS", str(DRAWS))

    def asked(*words: str) -> tuple[int, str]:
        answer = CliRunner().invoke(
            stilltaut, ["why", *words, "--data", str(small_museum)], standalone_mode=False
        )
        assert answer.exception is None, answer.output
        return int(answer.return_value), answer.output

    return asked


def test_the_command_says_the_same(web: httpx.Client, run: Callable[..., tuple[int, str]]) -> None:
    code, text = run(WORK, "--at", "2026-03-20T14:00")
    assert code == 0
    assert "why, at 20 March 2026, 14:00" in text
    assert [word for word in text.splitlines() if word in ("room", "frame", "print")]
    code, plain = run(WORK, "--at", "2026-03-20T14:00", "--json")
    here, there = json.loads(plain), told(web, at="2026-03-20T14:00")
    instants = [datetime.fromisoformat(one.pop("at_utc")) for one in (here, there)]
    assert instants[0] == instants[1]
    assert here == there
    assert json.loads(plain)["answer"] in text


def test_the_command_ends_with_one_where_nothing_can_be_told(
    run: Callable[..., tuple[int, str]],
) -> None:
    code, text = run(WORK, "--at", "1999-01-01")
    assert code == 1
    assert "Nothing can be told of that time" in text


def test_times_come_back_as_they_are_sent_also_when_clocks_change() -> None:
    start = datetime(2025, 10, 25, 20, tzinfo=UTC)
    for hour in range(12):  # summer time ends on 26 October 2025
        at = start + timedelta(hours=hour)
        assert hour_asked(local_text(at, ZONE), ZONE) == at
