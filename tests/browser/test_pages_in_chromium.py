"""Every page in a real browser: fits a phone, asks nobody else, works without JavaScript."""

import shutil
from collections.abc import Iterator

import httpx
import pytest
from playwright.sync_api import Browser, Page, sync_playwright

CHROMIUM = shutil.which("chromium")
QUIET = ("--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync")
PHONE, DESK = {"width": 390, "height": 844}, {"width": 1280, "height": 900}
PAGES = (
    "/",
    "/round",
    "/rooms/north",
    "/rooms/north/air",
    "/works/2016-03",
    "/notices",
    "/bring-in",
    "/limits",
    "/plan",
    "/plan/mount?work=2018-02",
    "/plan/sheet?work=2018-02",
    "/guides",
    "/guides/air",
    "/sources",
)

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="chromium is not installed on this machine"),
]


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Give one Chromium for all tests of this file."""
    with sync_playwright() as player:
        started = player.chromium.launch(executable_path=CHROMIUM, args=list(QUIET))
        yield started
        started.close()


def opened(browser: Browser, web: httpx.Client, path: str, **options: object) -> Page:
    page = browser.new_page(**options)  # type: ignore[arg-type]
    page.goto(f"{web.base_url}{path}", timeout=60_000)
    return page


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize("window", [PHONE, DESK], ids=["phone", "desk"])
def test_a_page_fits_and_asks_nobody_else(
    browser: Browser, web: httpx.Client, path: str, window: dict[str, int]
) -> None:
    page = browser.new_page(viewport=window)  # type: ignore[arg-type]
    complaints: list[str] = []
    asked: list[str] = []
    page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("request", lambda request: asked.append(request.url))
    page.goto(f"{web.base_url}{path}", timeout=60_000)
    width = page.evaluate("document.documentElement.scrollWidth")
    page.close()
    assert complaints == []
    assert [url for url in asked if not url.startswith(str(web.base_url))] == []
    assert width <= window["width"]


def test_grades_are_large_enough_for_a_thumb(browser: Browser, web: httpx.Client) -> None:
    """At least 44 CSS pixels high: WCAG 2.1, success criterion 2.5.5 (from memory)."""
    page = opened(browser, web, "/works/2016-03", viewport=PHONE)
    buttons = page.locator("button[name=grade]").all()
    heights = [box["height"] for button in buttons if (box := button.bounding_box())]
    page.close()
    assert len(heights) == 5
    assert min(heights) >= 44.0


def test_the_round_works_without_javascript(browser: Browser, web: httpx.Client) -> None:
    context = browser.new_context(java_script_enabled=False, viewport=PHONE)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(f"{web.base_url}/round", timeout=60_000)
    page.get_by_text("Where do we go first?").wait_for()
    page.locator("select[name=room]").select_option("north")
    page.get_by_role("button", name="Show").click()
    assert "room=north" in page.url
    context.close()


@pytest.mark.parametrize("path", ["/rooms/north", "/plan/sheet?work=2018-02"])
def test_a_sheet_prints(browser: Browser, web: httpx.Client, path: str) -> None:
    page = opened(browser, web, path, viewport=DESK)
    printed = page.pdf(format="A4")
    page.close()
    assert printed.startswith(b"%PDF")
    assert len(printed) > 10_000


def test_the_dark_page_is_dark(browser: Browser, web: httpx.Client) -> None:
    page = opened(browser, web, "/", viewport=PHONE, color_scheme="dark")
    ground = page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
    body = page.evaluate("getComputedStyle(document.body).backgroundColor")
    page.close()
    channels = [c for c in (ground, body) if not c.endswith(", 0)")][-1]
    assert max(int(part) for part in channels.strip("rgb()").split(",")[:3]) < 80
