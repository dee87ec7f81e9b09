"""Four files dropped at once on a phone: understood, asked, wrong; all finished, all taken back."""

import re
from collections.abc import Callable
from pathlib import Path

import httpx
import pandas as pd
import pytest
from playwright.sync_api import Locator, Page

from service.settings import Settings
from service.storage.stores import Stores

pytestmark = [pytest.mark.browser, pytest.mark.slow]

PHONE = (390, 844)
SHOWN_MS = 60_000
HOURS = range(24)


def export(heading: str, form: str) -> str:
    """Return a day of hourly readings: ``form`` is given the hour, a warmth and a moistness."""
    rows = (form.format(h=h, t=20 + h / 10, rh=45 + h / 4, dew=8 + h / 10) for h in HOURS)
    return "\n".join([heading, *rows, ""])


FILES = {
    "north-1 week.csv": export("Time,Temp (°C),RH (%)", "2026-04-01 {h:02d}:00,{t:.1f},{rh:.2f}"),
    "store-1 week.csv": export("Time;Temp (°C);RH (%)", "2026-04-01 {h:02d}:00;{t:.1f};{rh:.2f}"),
    # Third of April, or fourth of March?
    "asked.csv": export("Time;Temp (°C);RH (%)", "03/04/2026 {h:02d}:00;{t:.1f};{rh:.2f}"),
    # The headings of temperature and dew point stand the wrong way round.
    "wrong.csv": export(
        "Time;Dew point (°C);Temp (°C)", "2026-04-02 {h:02d}:00;{t:.1f};{dew:.1f}"
    ),
}  # fmt: skip


def readings(folder: Path) -> dict[str, pd.DataFrame]:
    """Return the whole record of the loggers that the files are for."""
    with Stores.open(Settings(data_dir=folder)) as stores:
        return {name: stores.readings.load(name) for name in ("north-1", "store-1", "spare-1")}


def of(page: Page, name: str) -> Locator:
    """Return what stands on the page of one file."""
    return page.locator("article.file").filter(has=page.get_by_role("heading", name=name))


def pressed(page: Page, article: Locator, button: str) -> None:
    """Press a button of a file with a thumb, and wait for the page that follows."""
    where = article.get_by_role("button", name=button)
    box = where.bounding_box()
    assert box is not None and box["height"] >= 44
    others = page.locator("form.confirm .send").count() - 1
    if others:
        with page.expect_response(lambda answer: answer.request.method == "GET"):
            where.tap()
        article.locator(":scope:not([aria-busy])").wait_for()
        return
    with page.expect_navigation():
        where.tap()


def fits(page: Page) -> bool:
    """Return whether nothing is wider than the screen."""
    return bool(page.evaluate("document.documentElement.scrollWidth <= innerWidth"))


def test_four_files_are_finished_on_a_phone_and_taken_back(
    own_museum: Path, serve: Callable[..., httpx.Client], open_page: Callable[..., Page]
) -> None:
    before = readings(own_museum)
    client = serve(own_museum, as_if="2026-04-10T12:00+00:00")
    page = open_page(client, *PHONE, has_touch=True)
    page.set_default_timeout(SHOWN_MS)
    page.goto("/bring-in")
    page.set_input_files("input[type=file]", [
        {"name": name, "mimeType": "text/csv", "buffer": text.encode()}
        for name, text in FILES.items()
    ])  # type: ignore[arg-type]  # fmt: skip
    page.get_by_role("button", name="Look at them").tap()
    page.get_by_role("heading", name="Were these files understood?").wait_for()
    assert "three understood, to be confirmed" in page.get_by_role("status").first.inner_text()
    assert "one to be answered or corrected" in page.get_by_role("status").first.inner_text()
    assert fits(page)
    assert "--" not in page.locator("main").inner_text()

    answer_and_choose(page)
    half_typed = of(page, "wrong.csv").locator("input[name$='.new_room']")
    half_typed.evaluate(
        "field => { field.value = 'Print room'; field.closest('details').open = true }"
    )
    for name in FILES:
        if name == "wrong.csv":
            assert half_typed.input_value() == "Print room", "typed for one file, another was sent"
            half_typed.evaluate("field => { field.value = '' }")
        pressed(page, of(page, name), "Store these readings")
    page.get_by_text("Four files: four stored").wait_for()
    assert fits(page)
    after = readings(own_museum)
    assert len(after["north-1"]) == len(before["north-1"]) + 24
    assert len(after["store-1"]) == len(before["store-1"]) + 48
    assert after["spare-1"].index[0] == pd.Timestamp("2026-04-03 00:00", tz="UTC")
    taken = after["store-1"].loc["2026-04-02"]
    assert taken["temp_c"].iloc[0] == 20.0

    take_all_back(page)
    for name, frame in readings(own_museum).items():
        pd.testing.assert_frame_equal(frame, before[name])


def answer_and_choose(page: Page) -> None:
    """Answer the question of one file, and correct the columns of another, from lists."""
    asked = of(page, "asked.csv")
    asked.get_by_role("radio", name="the day comes first").tap()
    asked.locator("select[name$='.logger']").select_option("spare-1")
    asked.locator("select[name$='.zone']").select_option("UTC")
    pressed(page, asked, "Look again with these answers")
    wrong = of(page, "wrong.csv")
    wrong.get_by_text("Read it differently").tap()
    wrong.locator("select[name$='.column_1']").select_option("temp_c|°C")
    wrong.locator("select[name$='.column_2']").select_option("dew_point_c|°C")
    wrong.locator("select[name$='.logger']").select_option("store-1")
    wrong.locator("select[name$='.zone']").select_option("UTC")
    pressed(page, wrong, "Look again with these answers")
    assert "to be answered" not in page.get_by_role("status").first.inner_text()
    for name, logger in (("north-1 week.csv", "north-1"), ("store-1 week.csv", "store-1")):
        assert of(page, name).locator("select[name$='.logger']").input_value() == logger


def take_all_back(page: Page) -> None:
    """Take every upload back, from the list of those that came lately."""
    page.goto("/bring-in")
    links = page.locator("tr", has_text=re.compile("|".join(FILES))).get_by_role("link")
    addresses = [str(link.get_attribute("href")) for link in links.all()]
    assert len(addresses) == len(FILES)
    for address in addresses:
        page.goto(address)
        page.get_by_label("Your name").fill("A. Person")
        with page.expect_navigation():
            page.get_by_role("button", name="Take it back").tap()
        assert "is taken back" in page.get_by_role("heading", level=1).inner_text()
        assert fits(page)
