"""The first hour of a new house, by hand in a browser, its submits counted (week.md §6)."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import httpx
import pytest
from playwright.sync_api import Page, Request

from service.settings import Settings
from service.storage.places import rooms, sites
from service.storage.stores import Stores

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.long]

LOGGERS = {
    "hall-a": ("Long hall", "new"),
    "hall-b": ("Long hall", "known"),
    "attic": ("Attic room", "new"),
    "stair": ("Stair gallery", "new"),
}
DAYS = 28
WORKS = 12


def export(days: int, number: int) -> bytes:
    """Return one logger's hourly readings of the last days, steady and a little damp."""
    end = datetime.now(UTC).replace(minute=0, second=0, microsecond=0)
    hours = [end - timedelta(hours=back) for back in range(24 * days, 0, -1)]
    rows = [
        f"{at:%Y-%m-%d %H:%M},20.{at.hour % 7},{45 + 3 * number + at.hour % 5}.2\n" for at in hours
    ]
    return ("Time (UTC),Temperature (°C),Relative humidity (%)\n" + "".join(rows)).encode()


class Submits:
    """How many forms a person has sent, reading and searching aside."""

    def __init__(self, page: Page) -> None:
        self.sent = 0
        page.on("request", self._count)

    def _count(self, request: Request) -> None:
        self.sent += request.method == "POST"


def take_in(page: Page, logger: str) -> None:
    """Say of the file of a logger where it comes from, and store it."""
    room, kind = LOGGERS[logger]
    entry = page.locator("article.file", has_text=f"{logger}.csv")
    entry.locator("select[name$='.logger']").select_option("+new")
    assert entry.get_by_label("Name of a new logger").input_value() == logger
    where = entry.locator("select[name$='.room']")
    if not where.is_visible():
        entry.locator("summary", has_text="A logger that hangs nowhere yet").click()
    if kind == "known":
        where.select_option(label=room)
    else:
        where.select_option("+new")
        entry.get_by_label("Name of a new room").fill(room)
        rhythm = entry.locator("select[name$='.rhythm']")
        assert rhythm.input_value() == "monthly"  # the file holds four weeks
    entry.get_by_role("button", name="Store these readings").click()
    for _ in range(120):  # the page of files that wait does not look again by itself
        stored = entry.get_by_role("link", name=f"See {room}")
        if stored.count():
            return
        page.wait_for_timeout(500)
        page.reload()
    raise TimeoutError(f"{logger}.csv was not stored within a minute")


def fill(page: Page, **texts: str) -> None:
    for name, text in texts.items():
        field = page.locator(f"form.record [name={name}]")
        if field.evaluate("one => one.tagName") == "SELECT":
            field.select_option(text)
        else:
            field.fill(text)


def send(page: Page, button: str = "Write it down") -> None:
    with page.expect_navigation():
        page.get_by_role("button", name=button).click()


def test_three_galleries_four_loggers_twelve_works(
    tmp_path: Path, serve: Callable[..., httpx.Client], open_page: Callable[..., Page]
) -> None:
    folder = tmp_path / "museum"
    page = open_page(serve(folder, draws=16), 1280, 900, timezone_id="Europe/Dublin")
    submits = Submits(page)
    page.goto("/")
    assert "Four steps lead to the first lists" in page.locator(".answer").inner_text()
    assert page.get_by_label("Time zone").input_value() == "Europe/Dublin"
    fill(page, name="The house on the quay", who="A. Person")
    send(page)
    files = [
        {"name": f"{name}.csv", "mimeType": "text/csv", "buffer": export(DAYS, number)}
        for number, name in enumerate(LOGGERS)
    ]
    page.set_input_files("input[type=file]", files)  # type: ignore[arg-type]
    page.get_by_role("button", name="Look at them").click()
    page.locator("article.file").nth(3).wait_for()
    take_in(page, "hall-a")
    page.get_by_role("link", name="See Long hall").first.click()
    assert "in Long hall" in page.locator("h1").inner_text()
    assert page.locator("svg").count()
    assert submits.sent <= 5
    page.go_back()
    page.reload()
    for logger in list(LOGGERS)[1:]:
        take_in(page, logger)
    first_work(page)
    for number in range(2, WORKS + 1):
        page.goto("/works/1/record")
        page.get_by_role("link", name="Add another like it").click()
        fill(page, work_id=str(number), title=f"Study {number}")
        send(page)
    page.goto("/round")
    assert submits.sent <= 25
    listed = page.locator("li[data-work]")
    assert listed.count() == WORKS
    page.goto("/")
    assert not page.get_by_text("The first steps").count()
    with Stores.open(Settings(data_dir=folder)) as stores:
        assert [one.zone for one in sites(stores.register)] == ["Europe/Dublin"]
        assert {one.name: one.rhythm for one in rooms(stores.register)} == {
            "Long hall": "monthly", "Attic room": "monthly", "Stair gallery": "monthly",
        }  # fmt: skip


def first_work(page: Page) -> None:
    """Write the first work down by hand: the print, how it is held, its frame, where it hangs."""
    page.goto("/")
    assert page.get_by_role("link", name="Write down the works").count() == 1
    page.goto("/works/new")
    fill(page, work_id="1", title="Study 1", width_mm="1200", height_mm="900", who="A. Person")
    send(page)
    for part in ("mounting", "framing", "hanging"):
        page.goto(f"/works/1/record/{part}")
        if part == "hanging":
            page.locator("form.record [name=room]").select_option(label="Attic room")
        send(page)
