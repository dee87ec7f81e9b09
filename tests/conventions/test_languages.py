"""German: every message is translated, with the same placeholders, and stands on the pages."""

import re
import shutil
import string
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from html import unescape
from importlib.resources import files
from pathlib import Path

import httpx
import pytest
from babel.messages import Catalog
from babel.messages.pofile import read_po
from fixtures.serving import served

from dashboards.text.error_words import CONTEXT
from dashboards.text.messages import in_the_way_of, translated
from service.settings import Settings
from service.storage.notices import open_notices
from service.storage.places import sites
from service.storage.records import put_record
from service.storage.stores import Stores

ROOT = Path(__file__).parents[2]
UNTRANSLATED = 0.02  # so large a share of what errors say may wait for its translator
LONG_S = 600.0  # a slow machine is no fault of the program
PAGES = (
    "/", "/round", "/works", "/works/2018-02", "/works/2018-02/why", "/works/2018-02/record",
    "/rooms/north", "/rooms/north/air", "/limits", "/notices", "/notices/1", "/notices/people",
    "/bring-in", "/plan", "/measure", "/classes", "/incidents", "/account", "/accounts",
    "/gateways", "/works/2018-02/measured", "/works/2018-02/half-time", "/works/import",
    "/report?from=2026-03-16&to=2026-03-22",
)  # fmt: skip


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Catalog:
    """Every message of program and templates, as `make messages` gathers them."""
    found = tmp_path_factory.mktemp("messages") / "all.pot"
    command = [sys.executable, "-m", "babel.messages.frontend", "-q", "extract", "-F",
               "pyproject.toml", "-k", "_", "-k", "N_", "-k", "counted:1,2", "-o", str(found),
               "analysis", "dashboards", "service"]  # fmt: skip
    subprocess.run(command, cwd=ROOT, check=True)
    with found.open("rb") as file:
        return read_po(file)


@pytest.fixture(scope="module")
def german() -> Catalog:
    with (files("dashboards.text") / "languages" / "de.po").open("rb") as file:
        return read_po(file, locale="de")


def forms(message: object) -> tuple[str, ...]:
    return (message,) if isinstance(message, str) else tuple(message or ())  # type: ignore[arg-type]


def placeholders(form: str) -> set[str]:
    return {name for _text, name, _spec, _how in string.Formatter().parse(form) if name}


def untranslated(written: Catalog, german: Catalog, context: str | None) -> list[object]:
    every = [one.id for one in written if one.id and one.context == context]
    known = [german.get(one, context) for one in every]
    return [one for one, found in zip(every, known, strict=True) if not found or not found.string]


def test_every_message_is_translated(written: Catalog, german: Catalog) -> None:
    assert untranslated(written, german, None) == []


def test_nearly_everything_that_errors_say_is_translated(written: Catalog, german: Catalog) -> None:
    every = [one for one in written if one.context == CONTEXT]
    missing = untranslated(written, german, CONTEXT)
    assert len(every) > 500
    assert len(missing) <= UNTRANSLATED * len(every), missing


def test_every_translation_keeps_its_placeholders(german: Catalog) -> None:
    wrong = [
        (form, said)
        for one in german
        if one.id
        for form, said in zip(forms(one.id), forms(one.string), strict=True)
        if placeholders(form) != placeholders(said)
    ]
    assert wrong == []


@pytest.fixture(scope="module")
def pages(
    small_museum: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[dict[str, httpx.Response]]:
    """Pages of the small museum, whose house writes in German."""
    folder = Path(shutil.copytree(small_museum, tmp_path_factory.mktemp("deutsch") / "museum"))
    with Stores.open(Settings(data_dir=folder)) as stores:
        for site in sites(stores.register):
            put_record(stores.register, replace(site, locale="de_DE"))
    with served(folder) as client, client:
        yield {address: client.get(address, timeout=LONG_S) for address in PAGES}


def text_of(html: str) -> str:
    words = re.sub(r"<(script|style)\b.*?</\1>|<[^>]*>", "\n", html, flags=re.DOTALL)
    return unescape(words).replace("\N{NO-BREAK SPACE}", " ")


def test_no_english_message_stands_on_a_german_page(
    pages: dict[str, httpx.Response], german: Catalog, small_museum: Path
) -> None:
    """Whole sentences are looked for, so that a name of a house cannot be taken for one.

    What a notice told stays as it was told, in the language of the house then.
    """
    with Stores.open(Settings(data_dir=small_museum)) as stores:
        as_told = str([one.details for one in open_notices(stores.register)])
    sentences = [
        form
        for one in german
        for form in forms(one.id)
        if form.count(" ") >= 3 and not placeholders(form) and in_german(form) != form
    ]
    assert len(sentences) > 200
    wrong = []
    for address, answer in pages.items():
        assert answer.status_code == 200, address
        assert '<html lang="de">' in answer.text
        text = text_of(answer.text)
        wrong += [(address, one) for one in sentences if one in text and one not in as_told]
    assert wrong == []


def in_german(message: str) -> str:
    with in_the_way_of("de_DE"):
        return translated(message)


def test_pages_ask_and_answer_in_german(pages: dict[str, httpx.Response]) -> None:
    assert "Was sollen wir diese Woche ansehen?" in text_of(pages["/"].text)
    assert "Wohin gehen wir zuerst?" in text_of(pages["/round"].text)
    assert "Rundgang" in text_of(pages["/notices"].text)
    assert "die Restaurierung entscheidet" in text_of(pages["/round"].text)
