"""The round on a phone: saved where one stands, kept without a connection, sent once."""

import io
from collections.abc import Callable
from pathlib import Path

import httpx
import pytest
from fixtures.accounts import PASSWORD, make_accounts
from PIL import Image
from playwright.sync_api import Page, Route, expect

pytestmark = [pytest.mark.browser, pytest.mark.slow]

PHONE = (390, 844)


def picture() -> bytes:
    """Return a photograph larger than is kept."""
    out = io.BytesIO()
    Image.linear_gradient("L").resize((2000, 1500)).save(out, "PNG")
    return out.getvalue()


def look(page: Page, work_id: str, grade: str) -> None:
    """Say what was seen of a work on the round, as a thumb does."""
    item = page.locator(f"#work-{work_id}")
    if item.locator("details.say").get_attribute("open") is None:
        item.locator("details.say > summary").click()
    item.get_by_label("Your name").fill("A. Person")
    item.locator(f"button[name=grade][value='{grade}']").click()


def test_a_grade_is_saved_where_one_stands_and_undone_there(
    own_museum: Path, serve: Callable[[Path], httpx.Client], open_page: Callable[..., Page]
) -> None:
    client = serve(own_museum)
    page = open_page(client, *PHONE, expected=409)
    page.goto("/round")
    first = page.locator("li[data-first=yes]").first
    work_id = str(first.get_attribute("data-work"))
    look(page, work_id, "1")
    told = page.get_by_role("status")
    expect(told).to_contain_text(", 1 (seen only in raking light)", timeout=60_000)
    expect(told).to_contain_text("Next: ")
    assert page.url.endswith("/round")
    assert page.locator(f".seen-now #work-{work_id}").count() == 1
    told.get_by_role("button", name="Undo").click()
    expect(told).to_contain_text("Taken back: ", timeout=60_000)
    assert page.locator(f".seen-now #work-{work_id}").count() == 0
    assert client.get(f"/api/works/{work_id}").json()["inspections"][-1]["withdrawn"]
    look(page, work_id, "1")
    expect(told).to_contain_text("Saved: ", timeout=60_000)
    page.locator(".seen-now", has=page.locator(f"#work-{work_id}")).locator("> summary").click()
    look(page, work_id, "2")
    expect(told).to_contain_text("or was it looked at twice?", timeout=60_000)
    told.get_by_role("button", name="It replaces the first").click()
    expect(told).to_contain_text(", 2 (", timeout=60_000)


def test_looks_wait_on_the_phone_and_are_sent_once(
    own_museum: Path, serve: Callable[[Path], httpx.Client], open_page: Callable[..., Page]
) -> None:
    client = serve(own_museum)
    page = open_page(client, *PHONE)
    page.goto("/round")
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.reload()  # the round and its files are kept from here on
    work_id = str(page.locator("li[data-first=yes]").first.get_attribute("data-work"))
    before = len(client.get(f"/api/works/{work_id}").json()["inspections"])
    page.route("**/inspections", lambda route: route.abort("internetdisconnected"))
    photograph = {"name": "look.png", "mimeType": "image/png", "buffer": picture()}
    page.locator(f"#work-{work_id} input[name=photograph]").set_input_files(photograph)  # type: ignore[arg-type]
    look(page, work_id, "1")
    expect(page.get_by_role("status")).to_contain_text("Kept on this phone: ")
    expect(page.locator("#connection")).to_contain_text("One look is kept on this phone")
    assert len(client.get(f"/api/works/{work_id}").json()["inspections"]) == before
    page.unroute("**/inspections")
    page.get_by_role("button", name="Send now").click()
    expect(page.get_by_role("status")).to_contain_text("Saved: ", timeout=60_000)
    page.reload()
    assert len(client.get(f"/api/works/{work_id}").json()["inspections"]) == before + 1
    assert page.evaluate("localStorage.getItem('looks-waiting')") == "[]"
    page.goto(f"/works/{work_id}")
    shown = page.locator("img.look")
    assert shown.count() == 1
    shown.scroll_into_view_if_needed()
    page.wait_for_function("() => document.querySelector('img.look').naturalWidth === 320")


def test_a_look_whose_answer_was_lost_counts_once(
    own_museum: Path, serve: Callable[[Path], httpx.Client], open_page: Callable[..., Page]
) -> None:
    client = serve(own_museum)
    page = open_page(client, *PHONE)
    page.goto("/round")
    work_id = str(page.locator("li[data-first=yes]").first.get_attribute("data-work"))
    before = len(client.get(f"/api/works/{work_id}").json()["inspections"])

    def lost(route: Route) -> None:
        route.fetch(max_redirects=0)  # it arrives and is written down
        route.abort("internetdisconnected")  # but nobody hears of it

    page.route("**/inspections", lost)
    look(page, work_id, "1")
    expect(page.get_by_role("status")).to_contain_text("Kept on this phone: ", timeout=60_000)
    page.unroute("**/inspections")
    page.get_by_role("button", name="Send now").click()
    expect(page.get_by_role("status")).to_contain_text("Saved: ", timeout=60_000)
    assert len(client.get(f"/api/works/{work_id}").json()["inspections"]) == before + 1


def test_where_a_browser_keeps_nothing_the_page_offers_the_printed_round(
    web: httpx.Client, open_page: Callable[..., Page]
) -> None:
    """Over plain HTTP from another machine; here the browser is only told that it is so."""
    page = open_page(web, *PHONE)
    page.add_init_script("Object.defineProperty(window, 'isSecureContext', { value: false })")
    page.goto("/round")
    expect(page.locator("#connection")).to_contain_text("take the printed round")


def test_the_round_opens_without_a_connection(
    web: httpx.Client, open_page: Callable[..., Page]
) -> None:
    page = open_page(web, *PHONE)
    page.goto("/round")
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.reload()
    page.context.set_offline(True)
    page.reload()
    assert page.get_by_role("heading", name="Where do we go first?").is_visible()
    page.context.set_offline(False)


def test_a_look_kept_by_somebody_signed_out_is_sent_when_they_are_back(
    own_museum: Path, serve: Callable[..., httpx.Client], open_page: Callable[..., Page]
) -> None:
    make_accounts(own_museum)
    page = open_page(serve(own_museum, access="sign-in"), *PHONE, expected=401)
    sign_in(page)
    work_id = str(page.locator("li[data-first=yes]").first.get_attribute("data-work"))
    page.context.clear_cookies()
    look(page, work_id, "1")
    told = page.get_by_role("status")
    expect(told).to_contain_text("You are signed out: sign in to send it.", timeout=60_000)
    sign_in(page)  # what was kept is sent by itself, with what the new forms carry
    expect(page.get_by_role("status")).to_contain_text("Saved: ", timeout=60_000)
    page.get_by_role("status").get_by_role("button", name="Undo").click()
    expect(page.get_by_role("status")).to_contain_text("Taken back: ", timeout=60_000)
    page.get_by_role("button", name="Sign out").click()
    assert page.get_by_role("heading", name="Who are you?").is_visible()


def sign_in(page: Page) -> None:
    page.goto("/sign-in?then=/round")
    page.get_by_label("Name of your account").fill("care")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    assert page.get_by_role("heading", name="Where do we go first?").is_visible()
