"""A real Chromium, and pages in it that complain of every error, failure and foreign host."""

import contextlib
import shutil
from collections.abc import Callable, Iterator
from typing import Any
from urllib.parse import urlsplit

import httpx
import pytest
from playwright.sync_api import Browser, Page, sync_playwright

SHOWN_MS = 120_000  # a slow machine is no fault of a page
CUT = "ERR_INTERNET_DISCONNECTED"  # a test cut the connection itself
QUIET = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Chromium of this machine; the tests are skipped where there is none."""
    program = shutil.which("chromium")
    if program is None:
        pytest.skip("no chromium on this machine: install Debian's package chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=[*QUIET])
        yield browser
        browser.close()


class Watched:
    """What went wrong in a page: console errors, failed requests, requests to other hosts."""

    def __init__(self, page: Page, home: str, expected: int) -> None:
        self.page, self.home, self.wrong = page, home, list[str]()
        self.expected = expected
        page.on("console", lambda said: self._console(said.type, said.text))
        page.on("pageerror", lambda error: self.wrong.append(f"script: {error}"))
        page.on("requestfailed", lambda request: self._failed(request.url, request.failure))
        page.on("request", lambda request: self._request(request.url))
        page.on("response", lambda answer: self._response(answer.status, answer.url))

    def _console(self, kind: str, text: str) -> None:
        if CUT in text:
            return
        if kind in ("error", "warning") and f"status of {self.expected}" not in text:
            self.wrong.append(f"console: {text}")

    def _failed(self, url: str, why: str | None) -> None:
        if why not in ("net::ERR_ABORTED", f"net::{CUT}"):  # called off because the page was left
            self.wrong.append(f"failed: {url}, {why}")

    def _request(self, url: str) -> None:
        if urlsplit(url).scheme not in ("data", "blob") and not url.startswith(self.home):
            self.wrong.append(f"another host: {url}")

    def _response(self, status: int, url: str) -> None:
        if status >= 400 and status != self.expected:
            self.wrong.append(f"{status}: {url}")


@pytest.fixture
def open_page(chromium: Browser) -> Iterator[Callable[..., Page]]:
    """Return a new page of a size: ``open_page(client, 390, 844, java_script_enabled=False)``.

    At the end of the test nothing may have gone wrong in it.
    """
    watched: list[Watched] = []
    with contextlib.ExitStack() as stack:

        def opened(
            client: httpx.Client, width: int, height: int, expected: int = 200, **options: Any
        ) -> Page:
            home = str(client.base_url)
            context = chromium.new_context(
                base_url=home, viewport={"width": width, "height": height}, **options
            )
            context.set_default_timeout(SHOWN_MS)
            stack.callback(context.close)
            watched.append(Watched(context.new_page(), home, expected))
            return watched[-1].page

        yield opened
    assert [line for one in watched for line in one.wrong] == []
