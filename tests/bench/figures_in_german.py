"""Write the figures of the guides with German words, from those that the benches drew.

    python -m bench.figures_in_german

Each text of a figure stands in it as outlines, with its words in a comment. The words of
``figures/de.toml`` are set in the same type at the same place; texts that stand below one another
keep the edge on which they are aligned.
"""

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath, text_to_path

import dashboards.charts.style  # noqa: F401  (its fonts)

FIGURES = Path(__file__).resolve().parents[2] / "dashboards" / "guides" / "figures"
FONTS = Path(__file__).resolve().parents[2] / "dashboards" / "static" / "fonts"
FILES = {
    "PublicSans-Regular": "public-sans-400-normal.ttf",
    "Literata-Regular": "literata-400-normal.ttf",
}
TEXT = re.compile(
    r'<g id="text_\d+">\s*<!-- (?P<words>.*?) -->\s*<g (?P<style>style="[^"]*" )?'
    r'transform="translate\((?P<x>[-\d.]+) (?P<y>[-\d.]+)\)(?P<turned> rotate\([^)]*\))? '
    r'scale\((?P<scale>[\d.]+) [-\d.]+\)">(?P<body>.*?)\n\s*</g>\s*</g>',
    re.DOTALL,
)
SIZE = 100.0  # of the outlines, before they are scaled
NEAR = 0.8  # so far from one another edges count as the same [pt]


@dataclass(frozen=True)
class Text:
    """A text of a figure: where it begins, and how wide it is."""

    words: str
    x: float
    wide: float
    turned: bool


def words_of(svg: str) -> list[str]:
    """Return the texts of a figure."""
    return [found["words"].strip() for found in TEXT.finditer(svg)]


def german(words: str, table: Mapping[str, str]) -> str:
    """Return a text in German; figures with a comma.

    Raises
    ------
    KeyError
        If the table has no such words.
    """
    text, number = re.fullmatch(r"(.*?)\s*([-−]?\d+\.\d+)?", words).groups()  # type: ignore[union-attr]
    said = table[text] if re.search(r"[^\W\d_]", text) else text
    return " ".join(filter(None, (said, number.replace(".", ",") if number else "")))


def translated(svg: str, table: Mapping[str, str]) -> str:
    """Return a figure with its words in German, each at its place."""
    texts = [_text(found) for found in TEXT.finditer(svg)]

    def set_anew(found: re.Match[str]) -> str:
        said = german(found["words"].strip(), table)
        return found[0] if said == found["words"].strip() else _set(found, said, texts)

    return TEXT.sub(set_anew, svg)


def _set(found: re.Match[str], said: str, texts: list[Text]) -> str:
    own, scale = _text(found), float(found["scale"])
    font = _font(found)
    part = 0.0 if font.startswith("Literata") else _anchor(own, texts)  # titles begin at the left
    shift = (own.wide - _width(said, font) * scale) * part
    x, y = float(found["x"]), float(found["y"])
    x, y = (x, y - shift) if found["turned"] else (x + shift, y)
    outline = " ".join(_outline(said, font))
    defined = "".join(re.findall(r"<defs>.*?</defs>", found["body"], re.DOTALL))
    place = f"translate({x:.6f} {y:.6f}){found['turned'] or ''}"
    scaled = f"scale({found['scale']} -{found['scale']})"
    drawn = f'<g {found["style"] or ""}transform="{place} {scaled}">\n<path d="{outline}"/>\n</g>'
    return f"<g>\n<!-- {said} -->\n{defined}{drawn}\n</g>"


def _text(found: re.Match[str]) -> Text:
    words = found["words"]
    wide = _width(words, _font(found)) * float(found["scale"])
    return Text(words, float(found["x"]), wide, bool(found["turned"]))


def _anchor(own: Text, texts: list[Text]) -> float:
    """Return which part of a text keeps its place: 0 its begin, 1/2 its middle, 1 its end."""
    if own.turned:
        return 0.5
    beside = [one for one in texts if one is not own and not one.turned]
    edges = {
        part: sum(abs(one.x + part * one.wide - own.x - part * own.wide) < NEAR for one in beside)
        for part in (0.0, 1.0, 0.5)
    }
    return max(edges, key=edges.__getitem__) if any(edges.values()) else 0.5


def _font(found: re.Match[str]) -> str:
    return re.search(r"#?\"?((?:PublicSans|Literata)-\w+)-", found["body"])[1]  # type: ignore[index]


@cache
def _properties(font: str) -> FontProperties:
    return FontProperties(fname=str(FONTS / FILES[font]), size=SIZE)


def _width(words: str, font: str) -> float:
    width, _height, _descent = text_to_path.get_text_width_height_descent(
        words, _properties(font), ismath=False
    )
    return float(width)


def _outline(words: str, font: str) -> Iterator[str]:
    letters = {1: "M", 2: "L", 3: "Q", 4: "C", 79: "Z"}
    path = TextPath((0, 0), words, prop=_properties(font))
    for points, code in path.iter_segments(simplify=False, curves=True):
        places = " ".join(f"{value:.1f}".rstrip("0").rstrip(".") for value in points)
        yield "Z" if code == 79 else f"{letters[int(code)]} {places}"


def main() -> None:
    """Write the German figures."""
    table = tomllib.loads((FIGURES / "de.toml").read_text(encoding="utf-8"))
    for file in sorted(FIGURES.glob("*.svg")):
        svg = translated(file.read_text(encoding="utf-8"), table)
        (FIGURES / "de" / file.name).write_text(svg, encoding="utf-8")


if __name__ == "__main__":
    main()
