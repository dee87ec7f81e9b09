"""German keeps to one word for a thing: the table of words in DEVELOPERS.md holds everywhere."""

import re
from collections import Counter
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import pytest
from babel.messages.pofile import read_po

ROOT = Path(__file__).parents[2]
GUIDES = sorted((ROOT / "dashboards" / "guides" / "de").glob("*.md"))
CODE = re.compile(r"\{[^{}]*\}|`[^`]*`|\b\w+\.toml\b|\b[a-z]+(?:[._][a-z_]+)+\b")
DU = re.compile(r"\b(?:[Dd]u|[Dd]ich|[Dd]ir|[Dd]ein(?:e[mnrs]?)?|[Ee]uch|[Ee]ure?[mnrs]?)\b")


def table() -> Iterator[tuple[str, list[str], list[str]]]:
    """Yield the rows of the table: an English word, German ones for it, and those not used."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    _before, _heading, rest = text.partition("## German: one word for a thing")
    for line in rest.partition("\n## ")[0].splitlines():
        cells = [cell.strip() for cell in line.strip().strip("|").split("|")]
        if line.startswith("|") and cells[0] not in ("English", "---"):
            yield cells[0], cells[1].split(", "), [one for one in cells[2].split(", ") if one]


def messages() -> list[tuple[str, str]]:
    """Return every message and what it is in German, without code and placeholders."""
    source = files("dashboards.text") / "languages" / "de.po"
    with source.open("rb") as file:
        catalogue = read_po(file, locale="de")
    pairs = []
    for one in catalogue:
        english = (one.id,) if isinstance(one.id, str) else tuple(one.id or ())
        german = (one.string,) if isinstance(one.string, str) else tuple(one.string or ())
        pairs += list(zip(english, german, strict=True)) if one.id else []
    return [(CODE.sub(" ", english), CODE.sub(" ", german)) for english, german in pairs]


WORDS = list(table())
SAID = messages()


def strays(word: str, german: list[str]) -> list[tuple[str, str]]:
    """Return the messages that say a thing in English and not with its word in German."""
    said = re.compile(rf"(?i)(?<![\w-]){re.escape(word)}s?(?![\w-])")
    kept = [one.lower() for one in german]
    return [
        (english, translation)
        for english, translation in SAID
        if said.search(english) and not any(one in translation.lower() for one in kept)
    ]


def test_the_table_is_found() -> None:
    assert len(WORDS) > 25
    assert len(SAID) > 4000
    assert strays("hinge", ["Scharnier"])


@pytest.mark.parametrize(("word", "german"), [row[:2] for row in WORDS], ids=lambda one: str(one))
def test_a_thing_is_said_with_its_word(word: str, german: list[str]) -> None:
    assert strays(word, german) == []


@pytest.mark.parametrize(("word", "unused"), [(row[0], row[2]) for row in WORDS if row[2]])
def test_other_words_for_a_thing_stand_nowhere(word: str, unused: list[str]) -> None:
    wrong = re.compile(rf"\b(?:{'|'.join(map(re.escape, unused))})\b")
    guides = [line for path in GUIDES for line in path.read_text(encoding="utf-8").splitlines()]
    texts = [*(german for _english, german in SAID), *(CODE.sub(" ", line) for line in guides)]
    assert [text for text in texts if wrong.search(text)] == [], word


def test_nobody_is_addressed_as_du() -> None:
    assert [german for _english, german in SAID if DU.search(german)] == []


def test_no_message_stands_twice() -> None:
    text = (files("dashboards.text") / "languages" / "de.po").read_text(encoding="utf-8")
    keys = Counter(
        "\n".join(line for line in entry.split("\nmsgstr")[0].splitlines() if line[:1] != "#")
        for entry in text.split("\n\n")
        if "\nmsgstr" in entry
    )
    assert [key for key, times in keys.items() if times > 1] == []
