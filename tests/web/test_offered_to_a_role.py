"""Each role walks through the pages: what stands there is let in, and what is not is left out."""

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from fixtures.accounts import browser, make_accounts
from fixtures.serving import served

from service.accounts.roles import Role
from service.web.permissions import permission

STARTS = ("/", "/round", "/works", "/works/2018-02", "/works/2018-02/record", "/rooms/north/record",
          "/works/2018-02/measured", "/notices", "/notices/1", "/limits", "/plan/days", "/house",
          "/calendar", "/instruments", "/classes", "/gateways", "/accounts", "/changes", "/account",
          "/bring-in", "/notices/people", "/works/2018-02/half-time", "/rooms/north",
          "/rooms/north/air",
          "/plan", "/measure", "/incidents", "/guides", "/sources", "/no-such-page")  # fmt: skip
FORM = re.compile(r"<form\b([^>]*)>")
LINK = re.compile(r'<a\b[^>]*\bhref="(/[^"?#]*)')
ACTION = re.compile(r'\baction="(/[^"?#]*)')


@pytest.fixture(scope="module")
def pages(
    small_museum: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[dict[Role, dict[str, str]]]:
    """The pages that each role is let in to, as they stand for it."""
    folder = Path(shutil.copytree(small_museum, tmp_path_factory.mktemp("offered") / "museum"))
    sessions = make_accounts(folder)
    with served(folder, access="sign-in") as client, client:
        yield {role: walked(client, session) for role, session in sessions.items()}


def walked(client: httpx.Client, session: str) -> dict[str, str]:
    with browser(client, session) as own:
        answers = {address: own.get(address) for address in STARTS}
    return {
        address: answer.text
        for address, answer in answers.items()
        if answer.status_code in (200, 404)
    }


def offered(html: str) -> set[tuple[str, str]]:
    """Return every request that a page offers, as (method, address)."""
    forms = {
        ("POST" if 'method="post"' in one else "GET", found[1])
        for one in FORM.findall(html)
        if (found := ACTION.search(one))
    }
    return forms | {("GET", one) for one in LINK.findall(html) if not one.startswith("/static/")}


def least(method: str, address: str) -> Role:
    asked = permission(method, address)
    return Role.ADMINISTER if asked is None else asked.least or Role.LOOK


@pytest.mark.parametrize("role", list(Role))
def test_no_page_offers_what_its_reader_may_not(
    pages: dict[Role, dict[str, str]], role: Role
) -> None:
    wrong = [
        (address, method, one)
        for address, html in pages[role].items()
        for method, one in offered(html)
        if not role.may(least(method, one))
    ]
    assert wrong == []


@pytest.mark.parametrize("role", list(Role))
def test_every_page_offers_all_that_its_reader_may(
    pages: dict[Role, dict[str, str]], role: Role
) -> None:
    """What an administrator is offered is the whole page; a role misses its own part of none."""
    wrong = [
        (address, method, one)
        for address, html in pages[role].items()
        for method, one in offered(pages[Role.ADMINISTER][address])
        if role.may(least(method, one)) and (method, one) not in offered(html)
    ]
    assert wrong == []


def test_a_page_says_once_who_may_do_the_rest(pages: dict[Role, dict[str, str]]) -> None:
    who = "by an account that may"
    assert pages[Role.LOOK]["/round"].count(f"{who} care.") == 1
    assert pages[Role.LOOK]["/works/2018-02/record"].count(f"{who} keep.") == 1
    assert pages[Role.CARE]["/bring-in"].count(f"{who} administer.") == 1
    assert all(who not in html for html in pages[Role.ADMINISTER].values())
    assert who not in pages[Role.LOOK]["/guides"]


def test_nothing_is_left_empty(pages: dict[Role, dict[str, str]]) -> None:
    empty = re.compile(r"<(p|li|details|section|nav)\b[^>]*>\s*(<summary>[^<]*</summary>)?\s*</\1>")
    for role, walk in pages.items():
        whole = pages[Role.ADMINISTER]
        for address, html in walk.items():
            before = [found[0] for found in empty.finditer(whole[address])]
            assert [f[0] for f in empty.finditer(html) if f[0] not in before] == [], (role, address)
            assert "\0" not in html
