"""German: every message is translated, with the same placeholders, and stands on the pages."""

import re
import shutil
import string
import subprocess
import sys
from collections.abc import Iterable, Iterator
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import httpx
import pytest
from babel.messages import Catalog
from babel.messages.pofile import read_po
from fixtures.languages import english_in, texts_of
from fixtures.paper import pages_of
from fixtures.serving import served

from dashboards.text.error_words import CONTEXT
from dashboards.text.messages import _, in_the_way_of
from dashboards.text.script_words import SAID
from service.settings import Settings
from service.storage.notices import notices
from service.storage.places import sites
from service.storage.records import put_record
from service.storage.stores import Stores

ROOT = Path(__file__).parents[2]
STATIC = ROOT / "dashboards" / "static"
UNTRANSLATED = 0.02  # so large a share of what errors say may wait for its translator
LONG_S = 600.0  # a slow machine is no fault of the program
PAGES = (
    "/", "/round", "/works", "/works/2018-02", "/works/2018-02/why", "/works/2018-02/record",
    "/works/2018-02/record/print", "/works/2018-02/record/mounting", "/works/new",
    "/works/2018-02/measured", "/works/2018-02/measured/strip", "/works/2018-02/measured/board",
    "/works/2018-02/measured/half_time_h", "/works/2018-02/half-time", "/works/import",
    "/rooms/north", "/rooms/north/2026-W11", "/rooms/north/air", "/rooms/north/record",
    "/rooms/north/record/band", "/rooms/north/record/instrument", "/rooms/new",
    "/limits", "/notices", "/notices/1", "/notices/people", "/incidents", "/calendar",
    "/instruments", "/house", "/house/event", "/house/calibration", "/bring-in", "/uploads/1",
    "/plan", "/plan/mount?work=2018-02", "/plan/hang", "/plan/spacer?work=2018-02",
    "/plan/seal?work=2018-02", "/plan/seasons?work=2018-02&winter=-3", "/plan/sheet?work=2018-02",
    "/measure", "/classes", "/search?q=north", "/report", "/statements", "/statements/new",
    "/account", "/accounts", "/gateways", "/changes", "/sources", "/guides", "/guides/air",
    "/guides/estimator", "/guides/planning", "/guides/validation", "/guides/doors",
    "/guides/running", "/guides/scale",
)  # fmt: skip
WRONG = (
    "/weg", "/works/none", "/rooms/north/2030-W01", "/?week=9999-W52", "/plan/mount",
    "/plan/days", "/bring-in/none", "/incidents/99", "/works/2018-02/why?at=soon", "/guides/none",
)  # fmt: skip
SHEETS = (
    "/round.pdf", "/rooms/north/2026-W12/a4.pdf", "/works/2018-02/exposure.pdf",
    "/plan/sheet.pdf?work=2018-02",
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
def house(small_museum: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[httpx.Client]:
    """The small museum, whose house writes in German."""
    folder = Path(shutil.copytree(small_museum, tmp_path_factory.mktemp("deutsch") / "museum"))
    with Stores.open(Settings(data_dir=folder)) as stores:
        for site in sites(stores.register):
            put_record(stores.register, replace(site, locale="de_DE"))
    with served(folder) as client, client:
        client.timeout = httpx.Timeout(LONG_S)
        yield client


@pytest.fixture(scope="module")
def as_told(small_museum: Path) -> list[str]:
    """What notices told stays as it was told, in the language of the house then."""
    with Stores.open(Settings(data_dir=small_museum)) as stores:
        told = [[one.headline, one.details] for one in notices(stores.register)]
    return sorted(_texts_in(told), key=len, reverse=True)


def _texts_in(value: object) -> set[str]:
    if isinstance(value, str):
        return {value} if len(value) > 8 else set()
    inner = value.values() if isinstance(value, dict) else value
    return set().union(*map(_texts_in, inner)) if isinstance(inner, Iterable) else set()


@pytest.mark.parametrize("address", PAGES)
def test_no_english_stands_on_a_german_page(
    address: str, house: httpx.Client, as_told: list[str]
) -> None:
    answer = house.get(address)
    assert answer.status_code == 200
    assert '<html lang="de">' in answer.text
    assert english_in(texts_of(answer.text), as_told) == []


@pytest.mark.parametrize("address", WRONG)
def test_no_english_stands_on_a_page_that_says_what_is_wrong(
    address: str, house: httpx.Client
) -> None:
    answer = house.get(address)
    assert answer.status_code in (404, 422)
    assert english_in(texts_of(answer.text)) == []


@pytest.mark.parametrize("address", SHEETS)
def test_no_english_stands_on_a_german_sheet(address: str, house: httpx.Client) -> None:
    assert english_in(pages_of(house.get(address).content)) == []


def test_english_is_found_where_it_stands() -> None:
    assert english_in(["Was the frame opened?", "Ist der Rahmen offen?"]) == [
        "Was the frame opened?"
    ]


def test_pages_ask_and_answer_in_german(house: httpx.Client) -> None:
    assert "Was sollen wir diese Woche ansehen?" in str(texts_of(house.get("/").text))
    asked = str(texts_of(house.get("/round").text))
    assert "Wohin gehen wir zuerst?" in asked
    assert "die Restaurierung entscheidet" in asked


def test_a_counted_noun_stands_in_its_case() -> None:
    with in_the_way_of("de_DE"):
        assert _("in about {time}", time="7,2 Tage") == "in etwa 7,2 Tagen"


def test_every_word_of_the_scripts_is_carried_by_the_page() -> None:
    said = "".join(path.read_text(encoding="utf-8") for path in STATIC.glob("*.js"))
    used = [*re.findall(r'\bword\(\s*"([^"]+)"', said), "dark gallery", "light page"]
    assert len(used) > 20
    assert set(used) == set(SAID)
