"""Values along the pictures in a real browser: mouse, finger, keys, both sizes, light and dark."""

import re
from collections.abc import Callable
from typing import Any

import httpx
import pytest
from playwright.sync_api import Locator, Page

pytestmark = [pytest.mark.browser, pytest.mark.slow]

Opener = Callable[..., Page]
PHONE, DESK = (390, 844), (1280, 900)
ROOM = "/rooms/north/2026-W12"
AIR = re.compile(
    r"^(Monday|Tuesday|Wednesday|Thursday|Friday|Saturday|Sunday) \d+ March 2026, \d\d:\d\d: "
    r"room air \d+ %RH( \(in doubt\))?, \d+\.\d °C, dew point −?\d+\.\d °C\.$"
)
WORK = re.compile(
    r": (slack: .+, waves: .+, spare: .+|nothing can be told.*)\.$",
)


def stage(page: Page) -> Locator:
    """Return the picture that is seen at this size."""
    return page.locator("figure.picture .stage:visible").first


def loaded(page: Page) -> None:
    """Touch the pictures of a page, and wait until what can be read of them is there."""
    with page.expect_response("**/values.json"):
        page.locator(".cursor:visible").first.focus()
    page.locator(".reading.told:visible").first.wait_for()
    page.evaluate("document.activeElement.blur()")


def told(page: Page) -> str:
    """Return what stands above the visible picture."""
    return page.locator("figure.picture .reading:visible").first.inner_text()


def heard(page: Page) -> str:
    return page.locator("[data-readable] > [role=status]").first.inner_text()


def point(page: Page, along: float, down: float) -> tuple[float, float]:
    """Return a point of the visible picture, in parts of its width and height."""
    stage(page).scroll_into_view_if_needed()
    box = stage(page).bounding_box()
    assert box is not None
    return box["x"] + along * box["width"], box["y"] + down * box["height"]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_mouse_reads_air_and_strips(web: httpx.Client, open_page: Opener, scheme: str) -> None:
    page = open_page(web, *DESK, color_scheme=scheme)
    page.goto(ROOM)
    assert told(page).startswith("Point at the picture")
    loaded(page)
    assert told(page).startswith("Point at the picture")
    page.evaluate("document.querySelector('[data-readable] > [role=status]').textContent = ''")
    page.mouse.move(*point(page, 0.4, 0.25))
    first = told(page)
    assert AIR.search(first), first
    page.mouse.move(*point(page, 0.5, 0.25))
    assert AIR.search(told(page))
    assert told(page) != first
    box = page.evaluate("JSON.parse(document.querySelector('.on-desk svg').dataset.boxes)")
    key, (left, top, width, height) = next(one for one in box.items() if one[0] != "air")
    page.mouse.move(*point(page, left + width / 2, top + height / 2))
    assert WORK.search(told(page)), key
    line = page.locator(".along:visible").first.evaluate("e => getComputedStyle(e).borderLeftColor")
    ink = page.evaluate("getComputedStyle(document.body).color")
    assert line == ink
    assert heard(page) == ""  # a pointer passing by is not read out
    page.mouse.move(1, 1)
    assert told(page).startswith("Point at the picture")


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_the_arrow_keys_read_without_leaving_the_week(
    web: httpx.Client, open_page: Opener, size: tuple[int, int]
) -> None:
    page = open_page(web, *size)
    page.goto(ROOM)
    loaded(page)
    page.locator(".cursor:visible").first.focus()
    page.keyboard.press("Home")
    assert heard(page).startswith("Monday 16 March 2026, 00:00: room air ")
    outline = "e => getComputedStyle(e).outlineStyle"
    assert page.locator(".cursor:visible").first.evaluate(outline) == "solid"
    page.keyboard.press("ArrowRight")
    second = heard(page)
    assert second != ""
    assert "Monday 16 March 2026, 00:00" not in second
    page.keyboard.press("PageDown")
    assert heard(page).startswith("Tuesday 17 March 2026")
    assert page.locator(".cursor:visible").first.get_attribute("aria-valuetext") == heard(page)
    if size == DESK:
        page.keyboard.press("ArrowDown")
        assert WORK.search(heard(page))
        assert heard(page).startswith("Tuesday 17 March 2026")
    page.keyboard.press("Escape")
    assert page.url.endswith(ROOM)


def test_a_finger_reads_and_the_page_still_scrolls(web: httpx.Client, open_page: Opener) -> None:
    page = open_page(web, *PHONE, has_touch=True, is_mobile=True)
    page.goto(ROOM)
    page.touchscreen.tap(*point(page, 0.5, 0.3))  # the values are asked for by the touch itself
    page.locator(".reading.told:visible").first.wait_for()
    first = told(page)
    assert AIR.search(first), first
    assert heard(page) == first  # a tap is read out
    session = page.context.new_cdp_session(page)

    def finger(kind: str, *at: float) -> None:
        points: list[dict[str, Any]] = [{"x": at[0], "y": at[1]}] if at else []
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    x, y = point(page, 0.3, 0.3)
    scrolled = page.evaluate("scrollY")
    finger("touchStart", x, y)
    for step in range(1, 9):
        finger("touchMove", x + 15 * step, y)
    finger("touchEnd")
    assert AIR.search(told(page))
    assert told(page) != first
    assert page.evaluate("scrollY") == scrolled
    x, y = point(page, 0.5, 0.6)
    before = page.evaluate("scrollY")
    finger("touchStart", x, y)
    for step in range(1, 9):
        finger("touchMove", x, y - 30 * step)
    finger("touchEnd")
    page.wait_for_function("from => scrollY > from + 60", arg=before)


def test_strips_are_read_by_keys_and_lead_to_their_works(
    web: httpx.Client, open_page: Opener
) -> None:
    page = open_page(web, *PHONE)
    page.goto(ROOM)
    loaded(page)
    strip = page.locator(".strips li").first
    facts = strip.locator(".facts").inner_text()
    strip.locator("a").focus()
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("PageUp")
    assert WORK.search(strip.locator(".facts").inner_text())
    assert heard(page) == strip.locator(".facts").inner_text()
    page.keyboard.press("Tab")
    assert strip.locator(".facts").inner_text() == facts
    strip.locator("a").focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/works/*")


@pytest.mark.parametrize(
    ("address", "words"),
    [
        ("/", r"room air \d+ %RH"),
        ("/works/2018-02", r"print .*%RH.*, frame .*; slack: "),
    ],
)
def test_other_pictures_are_read_too(
    web: httpx.Client, open_page: Opener, address: str, words: str
) -> None:
    page = open_page(web, *DESK)
    page.goto(address)
    page.locator(".cursor:visible").first.focus()
    page.keyboard.press("ArrowLeft")
    page.locator(".reading.told:visible").first.wait_for()
    assert re.search(words, told(page)), told(page)


def test_values_that_cannot_be_loaded_are_said_to_be_missing(
    web: httpx.Client, open_page: Opener
) -> None:
    page = open_page(web, *DESK, expected=503)
    answers = [503]
    page.route(
        "**/values.json",
        lambda route: route.fulfill(status=answers.pop()) if answers else route.continue_(),
    )
    page.goto(ROOM)
    cursor = page.locator(".cursor:visible").first
    cursor.focus()
    page.locator(".reading.told:visible").first.wait_for()
    assert told(page).startswith("The values could not be loaded.")
    page.wait_for_timeout(3_100)
    page.keyboard.press("Home")
    page.wait_for_function(
        "() => document.querySelector('.reading').textContent.includes('room air')"
    )
    assert heard(page).startswith("Monday 16 March 2026, 00:00: room air ")


def test_the_page_is_whole_without_the_script(web: httpx.Client, open_page: Opener) -> None:
    page = open_page(web, *PHONE, java_script_enabled=False)
    page.goto(ROOM)
    assert page.locator(".on-phone svg.chart").is_visible()
    assert page.locator(".reading, .cursor").count() == 0


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_fields_of_more_time_stand_out_from_their_paper(
    web: httpx.Client, open_page: Opener, scheme: str
) -> None:
    page = open_page(web, *DESK, color_scheme=scheme)
    page.goto("/rooms/north/air")
    turned = page.locator(".picture.square image").first.evaluate(
        "one => getComputedStyle(one).filter"
    )
    assert (turned != "none") == (scheme == "dark")
    page.locator(".picture.square .cursor").focus()
    page.locator(".reading.told:visible").first.wait_for()
    words = page.locator(".picture.square .reading").inner_text()
    assert re.search(r"of water: .* of the time, .*; about \d+ %RH\.$", words)
