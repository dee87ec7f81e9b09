"""The pages in a real browser: sizes, scripts on and off, darkness, keyboard, paper."""

import io
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import httpx
import numpy as np
import pytest
from fixtures.accounts import make_accounts
from PIL import Image
from playwright.sync_api import Page

from service.accounts.roles import Role
from service.web.visitors import SESSION

pytestmark = [pytest.mark.browser, pytest.mark.slow]

AXE = (files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8")
Opener = Callable[..., Page]
PHONE, DESK = (390, 844), (1280, 900)
WORK = "2018-02"
PAGES = (
    "/",
    "/round",
    "/rooms/north",
    "/rooms/store",
    "/rooms/north/air",
    "/limits",
    "/report?from=2026-03-16&to=2026-03-22",
    f"/works/{WORK}",
    f"/works/{WORK}/why",
    f"/works/{WORK}/journey",
    f"/works/{WORK}/journey/crate",
    "/works",
    "/works/new",
    f"/works/{WORK}/record",
    f"/works/{WORK}/record/framing",
    f"/works/{WORK}/measured",
    f"/works/{WORK}/measured/strip",
    f"/works/{WORK}/measured/board",
    "/rooms/north/record",
    "/works/2016-03",
    "/works/2019-09",
    "/notices",
    "/notices/1",
    "/notices/people",
    "/incidents",
    "/bring-in",
    "/plan",
    f"/plan/mount?work={WORK}",
    f"/plan/hang?work={WORK}",
    f"/plan/seal?work={WORK}",
    f"/plan/spacer?work={WORK}",
    f"/plan/sheet?work={WORK}",
    "/guides",
    "/guides/air",
    "/guides/estimator",
    "/guides/validation",
    "/sources",
    "/sign-in",
    "/accounts",
    "/gateways",
    "/changes",
    "/calendar",
    "/instruments",
    "/house",
    "/measure",
    "/classes",
    "/account",
    "/works/import",
)
TERMS = {
    "room": "north", "from_utc": "2026-03-09", "to_utc": "2026-03-18", "lender": "A museum",
    "works": "Five prints", "low_rh_pct": "20", "high_rh_pct": "90", "low_temp_c": "10",
    "high_temp_c": "30", "definition": "range24", "who": "R. Registrar",
}  # fmt: skip
EXPORT = "Time,Temperature (°C),Relative humidity (%)\n" + "".join(
    f"2026-02-15 {hour:02d}:00,20.{hour % 5},4{hour % 8}.5\n" for hour in range(1, 20)
)


def grey(picture: bytes) -> np.ndarray:
    """Return a screenshot as lightness from 0 to 255."""
    return np.asarray(Image.open(io.BytesIO(picture)).convert("L"), dtype=float)


def fits(page: Page) -> bool:
    """Return whether a page is no wider than its screen."""
    return bool(page.evaluate("document.documentElement.scrollWidth <= innerWidth"))


def axe_finds(page: Page) -> list[str]:
    """Return what axe-core 4, put into a page, finds wrong: WCAG 2 A and AA, best practice."""
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    return [
        f"{one['id']}: {', '.join(str(node['target'][0]) for node in one['nodes'][:3])}"
        for one in found["violations"]
    ]


def wrong_at_both_sizes(page: Page, address: str) -> list[str]:
    """Open a page, and return what is wrong with it on a phone and on a desk."""
    page.goto(address)
    page.evaluate(AXE)
    wrong: list[str] = []
    for width, height in (PHONE, DESK):
        page.set_viewport_size({"width": width, "height": height})
        wrong += [f"{address}, {width} px: too wide"] if not fits(page) else []
        wrong += [f"{address}, {width} px: {one}" for one in axe_finds(page)]
    return wrong


@pytest.mark.long
def test_every_page_fits_its_screens_and_can_be_used_by_all(
    web: httpx.Client, open_page: Opener
) -> None:
    page = open_page(web, *PHONE)
    assert [line for address in PAGES for line in wrong_at_both_sizes(page, address)] == []


def test_pages_of_who_signed_in_fit_too(
    own_museum: Path, serve: Callable[..., httpx.Client], open_page: Opener
) -> None:
    sessions = make_accounts(own_museum)
    client = serve(own_museum, access="sign-in")
    page = open_page(client, *PHONE)
    wrong: list[str] = []
    for address, role in (
        ("/sign-in", None), ("/account", Role.LOOK), ("/round", Role.LOOK), ("/", Role.CARE),
        ("/accounts", Role.ADMINISTER), ("/changes", Role.KEEP), ("/gateways", Role.ADMINISTER),
    ):  # fmt: skip
        if role:
            cookie = {"name": SESSION, "value": sessions[role], "url": str(client.base_url)}
            page.context.add_cookies([cookie])  # type: ignore[list-item]
        wrong += wrong_at_both_sizes(page, address)
    assert wrong == []


def test_pages_of_an_incident_a_statement_and_a_search_fit_too(
    own_museum: Path, serve: Callable[..., httpx.Client], open_page: Opener
) -> None:
    client = serve(own_museum)
    opened = client.post("/notices/1/incident", data={"by": "A. Person"})
    issued = client.post("/statements", data=TERMS)
    assert (opened.status_code, issued.status_code) == (303, 303)
    addresses = (
        opened.headers["location"], "/incidents", issued.headers["location"], "/statements",
        "/statements/new?room=north", "/statements/new?corrects=1", "/search",
        "/search?asked=gallery", "/rooms/north/2026-W12?beside=year", "/rooms/north?on=1999-01-01",
    )  # fmt: skip
    page = open_page(client, *PHONE)
    assert [line for address in addresses for line in wrong_at_both_sizes(page, address)] == []


def test_the_round_is_walked_by_the_keyboard_alone(
    own_museum: Path, serve: Callable[[Path], httpx.Client], open_page: Opener
) -> None:
    page = open_page(serve(own_museum), *DESK)
    page.goto("/round")

    def until(wanted: str, most: int = 60) -> None:
        """Go on by the tabulator key until something is reached, which must be seen to be so."""
        for _ in range(most):
            page.keyboard.press("Tab")
            if page.evaluate("wanted => document.activeElement.matches(wanted)", wanted):
                shown = "getComputedStyle(document.activeElement).outlineStyle"
                assert page.evaluate(shown) == "solid"
                return
        raise AssertionError(f"{wanted} is not reached by {most} steps")

    until("li[data-work] summary")
    page.keyboard.press("Enter")
    until("input[name=by]")
    page.keyboard.type("A. Person")
    until("button[name=grade][value='0']")
    page.keyboard.press("Enter")
    page.get_by_role("status").filter(has_text="Saved:").wait_for()
    until("li[data-work] summary")


def test_the_first_screen_of_the_round_holds_the_answer_and_a_work(
    web: httpx.Client, open_page: Opener
) -> None:
    page = open_page(web, *PHONE)
    page.goto("/round")
    for what in (".answer", ".work-title >> nth=0", ".why >> nth=0"):
        box = page.locator(what).bounding_box()
        assert box is not None
        assert box["y"] + box["height"] <= PHONE[1]


def test_grade_buttons_fit_a_thumb(web: httpx.Client, open_page: Opener) -> None:
    page = open_page(web, *PHONE)
    for address in ("/round", f"/works/{WORK}"):
        page.goto(address)
        if address == "/round":
            page.locator("summary").first.click()
        buttons = page.locator("button[name=grade]:visible")
        boxes = [button.bounding_box() for button in buttons.all()]
        assert len(boxes) == 5
        assert all(box is not None and box["height"] >= 44 for box in boxes)
        assert all(box is not None and box["width"] >= 200 for box in boxes)


def test_a_name_is_typed_once(
    own_museum: Path, serve: Callable[[Path], httpx.Client], open_page: Opener
) -> None:
    page = open_page(serve(own_museum), *PHONE)
    page.goto(f"/works/{WORK}")
    page.get_by_label("Your name").fill("A. Person")
    page.locator("button[name=grade]").nth(1).click()
    assert page.locator(".saved").inner_text() == "Written down. Thank you."
    page.goto("/works/2016-03")
    assert page.get_by_label("Your name").input_value() == "A. Person"


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no scripts"])
def test_a_file_is_brought_in(
    own_museum: Path, serve: Callable[[Path], httpx.Client], open_page: Opener, scripts: bool
) -> None:
    page = open_page(serve(own_museum), *PHONE, java_script_enabled=scripts)
    page.goto("/bring-in")
    file = {"name": "week.csv", "mimeType": "text/csv", "buffer": EXPORT.encode()}
    page.set_input_files("input[type=file]", file)  # type: ignore[arg-type]
    page.get_by_label("From which logger?").select_option("north-1")
    page.get_by_role("button", name="Look at them").click()
    page.get_by_role("heading", name="Was week.csv understood?").wait_for()
    assert fits(page)
    page.get_by_role("button", name="Store these readings").click()
    # The readings lie before the record: every work in the room is judged anew.
    page.get_by_role("heading", name="week.csv: stored").wait_for(timeout=120_000)
    assert "19 new readings" in page.locator("article").inner_text()
    assert fits(page)


@pytest.mark.parametrize("data", ["2026-03-24 10:00;20;45\n2026-03-24 11:00;21;46\n", "\0" * 99])
def test_a_question_or_a_refusal_fits_a_phone(
    own_museum: Path, serve: Callable[[Path], httpx.Client], open_page: Opener, data: str
) -> None:
    page = open_page(serve(own_museum), *PHONE)
    page.goto("/bring-in")
    file = {"name": "a.csv", "mimeType": "text/csv", "buffer": data.encode()}
    page.set_input_files("input[type=file]", file)  # type: ignore[arg-type]
    page.get_by_role("button", name="Look at them").click()
    page.get_by_text("the file is kept as received").wait_for()
    assert fits(page)


def test_a_work_is_inspected_without_scripts(
    own_museum: Path, serve: Callable[[Path], httpx.Client], open_page: Opener
) -> None:
    page = open_page(serve(own_museum), *PHONE, java_script_enabled=False)
    page.goto("/round?room=north")
    entry = page.locator("li", has_text="Orchard in fog II")
    entry.locator("summary", has_text="Say what you saw").click()
    entry.get_by_label("Your name").fill("A. Person")
    entry.locator("button[name=grade]").nth(2).click()
    assert page.get_by_role("status").inner_text().startswith("Saved: Orchard in fog II, 2")
    page.goto(f"/works/{WORK}")
    page.get_by_role("button", name="withdraw").first.click()
    assert "Withdrawn" in page.get_by_role("status").inner_text()


def test_a_dark_page_is_dark_and_can_be_read(web: httpx.Client, open_page: Opener) -> None:
    page = open_page(web, *PHONE, color_scheme="dark")
    for address in ("/", "/rooms/north", f"/works/{WORK}"):
        page.goto(address)
        light = grey(page.screenshot())
        assert np.median(light) < 60.0, address
        assert np.percentile(light, 99.5) > 120.0, address
        assert light.max() < 235.0, address


def test_the_dark_gallery_is_chosen_and_kept(web: httpx.Client, open_page: Opener) -> None:
    page = open_page(web, *DESK, color_scheme="light")
    page.goto("/round")
    assert np.median(grey(page.screenshot())) > 200.0
    page.get_by_role("button", name="dark gallery").click()
    assert np.median(grey(page.screenshot())) < 60.0
    page.goto("/limits")
    assert np.median(grey(page.screenshot())) < 60.0
    page.get_by_role("button", name="light page").click()
    assert np.median(grey(page.screenshot())) > 200.0


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_small_text_stands_out_from_the_page(
    web: httpx.Client, open_page: Opener, scheme: str
) -> None:
    page = open_page(web, *DESK, color_scheme=scheme)
    page.goto("/round")
    colours = page.evaluate(
        "() => ['.facts', '.answer', '.foot a', '.state'].map(name => "
        "getComputedStyle(document.querySelector(name)).color)"
    )
    paper = page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
    for colour in colours:
        assert contrast(colour, paper) >= 4.5, colour


def contrast(first: str, second: str) -> float:
    """Return the ratio of contrast of two CSS colours (W3C, WCAG 2.2, relative luminance)."""

    def luminance(colour: str) -> float:
        channels = [
            float(part) / 255.0 for part in colour.strip("rgb()a").replace(" ", "").split(",")[:3]
        ]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
        return float(np.dot([0.2126, 0.7152, 0.0722], linear))

    light, dark = sorted((luminance(first), luminance(second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("address", ["/rooms/north", f"/plan/sheet?work={WORK}"])
def test_a_page_can_be_printed(web: httpx.Client, open_page: Opener, address: str) -> None:
    page = open_page(web, *DESK)
    page.goto(address)
    pdf = page.pdf(prefer_css_page_size=True)
    assert pdf.startswith(b"%PDF")
    assert len(pdf) > 20_000
    assert 1 <= pdf.count(b"/Type /Page\n") <= 5
    page.emulate_media(media="print")
    assert not page.locator("header nav").is_visible()
    assert not page.locator("form:visible").count()


def test_the_keyboard_reaches_everything_and_shows_where_it_is(
    web: httpx.Client, open_page: Opener
) -> None:
    page = open_page(web, *DESK)
    page.goto("/")
    seen = []
    for _ in range(12):
        page.keyboard.press("Tab")
        seen.append(page.evaluate(
            "() => { const at = document.activeElement, look = getComputedStyle(at);"
            " return [at.textContent.trim(), look.outlineStyle, parseFloat(look.outlineWidth)]; }"
        ))  # fmt: skip
    assert seen[0][0] == "To the page"
    assert [words for words, _, _ in seen[2:10]] == [
        "This week", "Round", "Notices", "Bring in", "Works", "Limits", "Plan", "Guides",
    ]  # fmt: skip
    assert all(style == "solid" and width >= 2.0 for _, style, width in seen)


def test_weeks_follow_the_arrow_keys(web: httpx.Client, open_page: Opener) -> None:
    page = open_page(web, *DESK)
    page.goto("/rooms/north")
    page.keyboard.press("ArrowLeft")
    page.wait_for_url("**/rooms/north/2026-W11")
