"""The guides in German say what the English ones say: the same headings, figures and numbers."""

import re
from collections import Counter
from pathlib import Path

import pytest

GUIDES = Path(__file__).parents[2] / "dashboards" / "guides"
ENGLISH = sorted(GUIDES.glob("*.md"))
HEADING = re.compile(r"^(#+) ", re.MULTILINE)
FENCED = re.compile(r"^```.*?^```$", re.MULTILINE | re.DOTALL)
NUMBER = re.compile(r"\d+(?:[.,]\d+)*")


def german(path: Path) -> str:
    return (GUIDES / "de" / path.name).read_text(encoding="utf-8")


def both(path: Path) -> tuple[str, str]:
    return path.read_text(encoding="utf-8"), german(path)


def numbers(text: str, thousands: str) -> Counter[str]:
    """Return each number of a text and how often it stands there, with a point for its tenths."""
    plain = re.sub(rf"(?<=\d){re.escape(thousands)}(?=\d{{3}}(?!\d))", "", FENCED.sub("", text))
    return Counter(one.replace(",", ".") for one in NUMBER.findall(plain))


def shape(text: str) -> dict[str, object]:
    """Return what must not differ between two languages."""
    cells = [line.count("|") for line in text.splitlines() if line.startswith("|")]
    return {
        "headings": HEADING.findall(text),
        "fenced": FENCED.findall(text),
        "code": sorted(re.findall(r"`([^`\n]+)`", FENCED.sub("", text))),
        "pictures": re.findall(r"!\[[^\]]*\]\(([^)]+)\)", text),
        "links": re.findall(r"(?<!!)\[[^\]]*\]\(([^)]+)\)", text),
        "tables": cells,
        "set apart": len(re.findall(r"^    \S", text, re.MULTILINE)),
        "items": len(re.findall(r"^(?:[-*]|\d+\.) ", text, re.MULTILINE)),
        "warnings": len(re.findall(r"^> \*\*|^> ", text, re.MULTILINE)),
    }


def test_every_guide_stands_in_german_and_no_other() -> None:
    assert [path.name for path in ENGLISH] == sorted(p.name for p in (GUIDES / "de").glob("*.md"))


@pytest.mark.parametrize("path", ENGLISH, ids=lambda path: path.stem)
def test_a_german_guide_has_the_shape_of_the_english_one(path: Path) -> None:
    english, own = both(path)
    assert shape(own) == shape(english)


@pytest.mark.parametrize("path", ENGLISH, ids=lambda path: path.stem)
def test_a_german_guide_gives_the_same_numbers(path: Path) -> None:
    english, own = both(path)
    first, second = numbers(english, ","), numbers(own, ".")
    assert (first - second, second - first) == (Counter(), Counter())


@pytest.mark.parametrize("path", ENGLISH, ids=lambda path: path.stem)
def test_a_german_guide_names_the_same_sources(path: Path) -> None:
    key = re.compile(r"\b(?:[A-Z][A-Za-z]+(?:EtAl)?(?:19|20)\d\d|EN ?15757|ISO\d+|WMO8)\b")
    english, own = both(path)
    assert Counter(key.findall(own)) == Counter(key.findall(english))
