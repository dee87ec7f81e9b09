"""Messages are whole, with named placeholders, and Babel finds them: another language is a file."""

import ast
import gettext
import re
import string
from collections.abc import Iterator
from pathlib import Path

import pytest
from babel.messages import Catalog
from babel.messages.extract import extract_from_file
from babel.messages.pofile import write_po
from jinja2 import nodes

from dashboards.render import environment
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
# Attributes that are shown or read out, and what is no word of a language: a name, a unit, a hash.
SPOKEN = re.compile(r'\b(?:title|aria-label|placeholder|alt|data-label)="([^"]*)"')
OF_EVERY_LANGUAGE = {
    "stilltaut",
    "CSV",
    "XLSX",
    "SVG",
    "PNG",
    "PDF",
    "SHA",
    "mm",
    "aria",
    "invalid",
    "true",
}
TEMPLATES = sorted((ROOT / "dashboards" / "templates").rglob("*.*"))


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
    for method, paths in (("python", FILES), ("jinja2", TEMPLATES)):
        for path in paths:
            for line, message, _comments, context in extract_from_file(
                method, str(path), keywords=KEYWORDS, options={"silent": "false"}
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


def of_template(path: Path) -> Iterator[nodes.Call]:
    """Yield the messages of a template."""
    tree = environment().parse(path.read_text(), name=path.name)
    for call in tree.find_all(nodes.Call):
        if isinstance(call.node, nodes.Name) and call.node.name == "_":
            yield call


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_every_placeholder_of_a_template_is_named_and_given(path: Path) -> None:
    for call in of_template(path):
        if isinstance(call.args[0], nodes.Const):
            assert named(call.args[0].value) == {one.key for one in call.kwargs}, call.args[0].value


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_a_template_holds_no_words_that_are_no_message(path: Path) -> None:
    def lines_of(found: re.Match[str]) -> str:
        return "\n" * found[0].count("\n")

    def read_aloud(found: re.Match[str]) -> str:
        return f" {' '.join(SPOKEN.findall(found[0]))} {lines_of(found)}"

    text = re.sub(r"\{#.*?#\}|\{\{.*?\}\}|\{%.*?%\}", lines_of, path.read_text(), flags=re.DOTALL)
    text = re.sub(r"<(script|style|svg)\b.*?</\1>", lines_of, text, flags=re.DOTALL)
    text = re.sub(r"<[^<>]*>", read_aloud, text, flags=re.DOTALL)
    words = re.findall(r"[A-Za-z]{2,}", re.sub(r"&\w+;", "", text))
    assert [word for word in words if word not in OF_EVERY_LANGUAGE] == []


def test_a_catalogue_of_another_language_is_used(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    catalog = extracted()
    german = Catalog(locale="de")
    for one in catalog:
        german.add(one.id, one.string, one.locations)
    german["cannot tell"].string = "nicht zu sagen"
    german[("{many} day", "{many} days")].string = ("{many} Tag", "{many} Tage")
    folder = tmp_path / "languages"
    folder.mkdir()
    with (folder / "de.po").open("wb") as file:
        write_po(file, german)
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
