"""A form of the register on a phone: wrong, corrected, kept; with scripts and without."""

from collections.abc import Callable
from pathlib import Path

import httpx
import pytest
from playwright.sync_api import Page

PHONE = (390, 844)
pytestmark = pytest.mark.browser


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no scripts"])
def test_a_form_comes_back_with_what_was_typed_and_is_kept_when_corrected(
    own_museum: Path,
    serve: Callable[[Path], httpx.Client],
    open_page: Callable[..., Page],
    scripts: bool,
) -> None:
    page = open_page(serve(own_museum), *PHONE, java_script_enabled=scripts, expected=422)
    page.goto("/works/2018-02/record")
    page.get_by_role("link", name="Add a framing").click()
    page.get_by_label("Closed on").fill("2026-03-12")
    page.get_by_label("Build of the frame").select_option("D")
    page.locator("input[name=spacer_mm]").fill("deep")
    page.get_by_label("Your name").fill("A. Person")
    page.get_by_role("button", name="Write it down").click()
    assert page.get_by_role("alert").inner_text().startswith("One field needs another look.")
    assert page.get_by_label("Closed on").input_value() == "2026-03-12"
    spacer = page.locator("input[name=spacer_mm]")
    assert spacer.input_value() == "deep"
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    spacer.fill("12,5")
    page.get_by_role("button", name="Write it down").click()
    assert page.get_by_role("status").inner_text() == "Written down. Thank you."
    assert page.get_by_text("Closed Thursday 12 March 2026").is_visible()
    assert page.get_by_text("12.5\N{NO-BREAK SPACE}mm", exact=True).is_visible()


def test_every_field_fits_a_thumb(web: httpx.Client, open_page: Callable[..., Page]) -> None:
    page = open_page(web, *PHONE)
    page.goto("/works/2018-02/record/mounting")
    fields = page.locator("form.record input:visible, form.record select:visible, button.go").all()
    boxes = [field.bounding_box() for field in fields]
    assert len(boxes) > 10
    assert all(box is not None and box["height"] >= 44 for box in boxes)
