"""Messages are whole, with named placeholders, and Babel finds them: another language is a file."""

import ast
import gettext
import string
from collections.abc import Iterator
from pathlib import Path

import pytest
from babel.messages import Catalog
from babel.messages.extract import extract_from_file
from babel.messages.mofile import write_mo

from dashboards.text import messages, wording
from dashboards.text.messages import in_the_way_of

ROOT = Path(__file__).parents[2]
KEYWORDS = {"_": None, "N_": None, "counted": (1, 2)}
FILES = [
    path
    for package in ("dashboards", "service")
    for path in sorted((ROOT / package).rglob("*.py"))
    if "migrations" not in path.parts and path.name != "messages.py"
]


def calls(path: Path) -> Iterator[tuple[ast.Call, list[str]]]:
    """Yield the calls that word a message written there, with its forms."""
    for node in ast.walk(ast.parse(path.read_text())):
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name):
            continue
        asked = {"_": 1, "N_": 1, "counted": 2}.get(node.func.id, 0)
        forms = [one.value for one in node.args[:asked] if isinstance(one, ast.Constant)]
        if forms and all(isinstance(one, str) for one in forms):
            yield node, [str(one) for one in forms]


def named(form: str) -> set[str]:
    """Return the placeholders of a message."""
    return {name for _text, name, _spec, _how in string.Formatter().parse(form) if name is not None}


def extracted() -> Catalog:
    """Return the catalogue as `make messages` writes it."""
    catalog = Catalog()
    for path in FILES:
        for line, message, _comments, context in extract_from_file(
            "python", str(path), keywords=KEYWORDS
        ):
            catalog.add(message, None, [(str(path), line)], context=context)
    return catalog


def test_babel_finds_every_message() -> None:
    found = {one.id if isinstance(one.id, str) else one.id[0] for one in extracted() if one.id}
    written = {forms[0] for path in FILES for _node, forms in calls(path)}
    assert written
    assert written - found == set()


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_placeholder_is_named_and_given(path: Path) -> None:
    for node, forms in calls(path):
        if isinstance(node.func, ast.Name) and node.func.id == "N_":
            continue
        given = {word.arg for word in node.keywords if word.arg}
        if isinstance(node.func, ast.Name) and node.func.id == "counted":
            given.add("many")
        for form in forms:
            assert "" not in named(form), f"{path}:{node.lineno}: {form}"
            if all(word.arg for word in node.keywords):
                assert named(form) <= given, f"{path}:{node.lineno}: {form}"


def test_a_catalogue_of_another_language_is_used(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    catalog = extracted()
    german = Catalog(locale="de")
    for one in catalog:
        german.add(one.id, one.string, one.locations)
    german["cannot tell"].string = "nicht zu sagen"
    german[("{many} day", "{many} days")].string = ("{many} Tag", "{many} Tage")
    folder = tmp_path / "languages" / "de" / "LC_MESSAGES"
    folder.mkdir(parents=True)
    with (folder / f"{messages.DOMAIN}.mo").open("wb") as file:
        write_mo(file, german)
    monkeypatch.setattr(messages, "files", lambda _package: tmp_path)
    messages.catalogue.cache_clear()
    try:
        with in_the_way_of("de_DE"):
            assert isinstance(messages.catalogue("de_DE"), gettext.GNUTranslations)
            assert wording.cannot_tell() == "nicht zu sagen"
            assert wording.duration(60.0) == "2,5 Tage"
            assert wording.percent(0.001) == "under 1 %"  # not in the catalogue yet
    finally:
        messages.catalogue.cache_clear()
    assert wording.cannot_tell() == "cannot tell"
