"""An incident from its notice to its lesson, and the next notice that shows it."""

import re
from collections.abc import Callable
from pathlib import Path
from shutil import copytree

import httpx
import pytest

from service.notices.lines import lines_of
from service.settings import Settings
from service.storage.incidents import incidents
from service.storage.notices import Notice, notices, raise_notice
from service.storage.stores import Stores

pytestmark = pytest.mark.slow


@pytest.fixture
def house(
    serve: Callable[[Path], httpx.Client], small_museum: Path, tmp_path: Path
) -> tuple[httpx.Client, Path]:
    folder = copytree(small_museum, tmp_path / "museum")
    return serve(folder), folder


def of_the_court(folder: Path) -> Notice:
    with Stores.open(Settings(data_dir=folder)) as stores:
        return next(n for n in notices(stores.register, "court") if n.kind == "humidity")


def words(page: httpx.Response) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page.text).replace("\N{NO-BREAK SPACE}", " ").split())


def test_from_a_notice_to_a_lesson_that_the_next_one_shows(
    house: tuple[httpx.Client, Path],
) -> None:
    web, folder = house
    notice = of_the_court(folder)
    opened = web.post(
        f"/notices/{notice.id}/incident", data={"by": "A. Person"}, follow_redirects=True
    )
    assert opened.status_code == 200
    address = opened.url.path
    assert "Is the reading true?" in opened.text
    again = web.post(
        f"/notices/{notice.id}/incident", data={"by": "B. Other"}, follow_redirects=True
    )
    assert again.url.path == address, "one incident a notice"
    web.post(f"{address}/questions", data={"true": "yes, second meter", "by": "A. Person"})
    web.post(
        f"{address}/lines",
        data={"part": "people", "text": "engineer, by telephone", "by": "A. Person"},
    )
    page = web.get(address)
    assert "yes, second meter" in page.text
    assert "engineer, by telephone (A. Person," in page.text
    assert "at the print" in words(page), "works that hung there, with what they had of it"
    closed = web.post(
        f"{address}/close",
        data={
            "cause": "humidifier stuck",
            "state": "known",
            "lesson": "Check the humidifier's valve first.",
            "by": "A. Person",
        },
        follow_redirects=True,
    )
    assert "Learned: Check the humidifier’s valve first." in closed.text.replace("&#39;", "’")
    with Stores.open(Settings(data_dir=folder)) as stores:
        later = Notice("again", notice.kind, "court", "rose", notice.since_utc, notice.details)
        raise_notice(stores.register, later)
        lines = lines_of(stores.register, notices(stores.register, "court"))
        shown = [line.lessons for line in lines if line.lessons]
        assert [lesson for ((_, lesson),) in shown] == ["Check the humidifier's valve first."]


@pytest.mark.parametrize(
    ("post", "sent", "said"),
    [
        ("close", {"by": "A. Person", "lesson": " "}, "lesson"),
        ("close", {"by": "", "lesson": "Look."}, "your name"),
        ("lines", {"part": "actions", "text": "", "by": "A. Person"}, "actions"),
    ],
)
def test_what_is_missing_is_said_and_nothing_is_stored(
    house: tuple[httpx.Client, Path], post: str, sent: dict[str, str], said: str
) -> None:
    web, folder = house
    notice = of_the_court(folder)
    address = web.post(f"/notices/{notice.id}/incident", data={"by": "A."}).headers["location"]
    page = web.post(f"{address}/{post}", data=sent)
    assert page.status_code == 422
    assert f"{said}: nothing" in page.text
    with Stores.open(Settings(data_dir=folder)) as stores:
        (one,) = incidents(stores.register)
    assert one.closed_utc is None
    assert "actions" not in one.details
    assert web.get("/incidents/999").status_code == 404
