"""The figures of the German guides say the same as the others, in German."""

import tomllib
from pathlib import Path

import pytest
from bench.figures_in_german import FIGURES, german, words_of

from dashboards.text.messages import in_the_way_of
from service.web.routes.guides import figure

TABLE = tomllib.loads((FIGURES / "de.toml").read_text(encoding="utf-8"))
DRAWN = sorted(FIGURES.glob("*.svg"))


@pytest.mark.parametrize("drawn", DRAWN, ids=lambda path: path.stem)
def test_a_german_figure_has_the_words_of_the_other_in_german(drawn: Path) -> None:
    words = words_of(drawn.read_text(encoding="utf-8"))
    assert words
    written = (FIGURES / "de" / drawn.name).read_text(encoding="utf-8")
    said = [part.split(" -->")[0].strip() for part in written.split("<!-- ")[1:]]
    for word in words:
        assert german(word, TABLE).strip() in said


def test_lines_and_points_are_the_same() -> None:
    for drawn in DRAWN:
        one = drawn.read_text(encoding="utf-8")
        other = (FIGURES / "de" / drawn.name).read_text(encoding="utf-8")
        assert one.count('<use xlink:href="#m') == other.count('<use xlink:href="#m')
        assert one.count('id="line2d_') == other.count('id="line2d_')


def test_figures_have_a_comma_in_german() -> None:
    assert german("0.85", TABLE) == "0,85"
    assert german("width after / before 0.36", TABLE) == "Breite danach / davor 0,36"
    with pytest.raises(KeyError):
        german("a word that nobody translated", TABLE)


def test_a_german_house_is_sent_german_figures() -> None:
    english = (FIGURES / "learning.svg").read_bytes()
    assert figure("learning.svg").body == english
    with in_the_way_of("de_DE"):
        assert figure("learning.svg").body == (FIGURES / "de" / "learning.svg").read_bytes()
