"""The one place for a chart's fonts, sizes and repeatable output. Never pyplot.

A chart is drawn on a `Sheet` measured in millimetres, as on paper. ``svg`` writes a file that
carries its letters as outlines; ``inline_svg`` writes the same picture for a page, with real text
and with the inks as CSS variables, so that a dark gallery changes them.
"""

import hashlib
import io
import re
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache, lru_cache, wraps
from importlib.resources import files
from typing import Any, ParamSpec, cast

from markupsafe import Markup, escape
from matplotlib import font_manager, rc_context
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.textpath import TextToPath
from matplotlib.ticker import ScalarFormatter

from dashboards.charts.readout import boxes_attribute
from dashboards.charts.seen_points import lighten
from dashboards.inks import HAIR, INK, PAPER, SOFT, VARIABLES
from dashboards.text import wording

SERIF = ["Literata", "DejaVu Serif"]
SANS = ["Public Sans", "DejaVu Sans"]
MM_PER_INCH = 25.4
TALL_A4_MM = 190.0
WIDE_A4_MM = 277.0
PHONE_MM = 96.0

RC: Mapping[str, Any] = {
    "font.family": SANS,
    "font.size": 8.5,
    "text.color": INK,
    "axes.edgecolor": HAIR,
    "axes.facecolor": "none",
    "axes.labelcolor": SOFT,
    "axes.linewidth": 0.5,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.unicode_minus": True,
    "figure.facecolor": PAPER,
    "hatch.color": HAIR,
    "hatch.linewidth": 0.5,
    "xtick.color": HAIR,
    "ytick.color": HAIR,
    "xtick.labelcolor": SOFT,
    "ytick.labelcolor": SOFT,
    "xtick.major.size": 0.0,
    "ytick.major.size": 2.0,
    "ytick.major.width": 0.5,
    "pdf.fonttype": 42,
    "text.hinting": "none",
    "svg.hashsalt": "stilltaut",
    "path.simplify": True,
}
# Of a drawing's style: the family of its letters, which the page's own style gives, and defaults.
SAYS_NOTHING = (
    " font-family: 'Public Sans', 'DejaVu Sans';",
    "; stroke-linejoin: miter",
    " text-anchor: start;",
)
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
_lock = threading.RLock()
Parameters = ParamSpec("Parameters")


@cache
def _register_fonts() -> None:
    for path in sorted((files("dashboards") / "static" / "fonts").iterdir(), key=lambda p: p.name):
        if path.name.endswith(".ttf"):
            font_manager.fontManager.addfont(str(path))


@contextmanager
def drawing(**changes: Any) -> Iterator[None]:
    """Draw or save in our style, one thread at a time: matplotlib's settings are global."""
    with _lock:
        _register_fonts()
        with rc_context(cast(Any, {**RC, **changes})):
            yield


def drawn(chart: Callable[Parameters, Figure]) -> Callable[Parameters, Figure]:
    """Mark a function as a chart: it is run within `drawing`."""

    @wraps(chart)
    def inside(*args: Parameters.args, **kwargs: Parameters.kwargs) -> Figure:
        with drawing():
            return chart(*args, **kwargs)

    return inside


class Ticks(ScalarFormatter):
    """Numbers along an axis, with the decimal mark of the site."""

    def __init__(self) -> None:
        super().__init__()
        self._mark = wording.decimal_mark()

    def __call__(self, x: float, pos: int | None = None) -> str:
        """Return the number at a tick."""
        return str(super().__call__(x, pos)).replace(".", self._mark)


@dataclass(frozen=True)
class Sheet:
    """A figure measured in millimetres from its upper left corner."""

    figure: Figure
    width_mm: float
    height_mm: float

    @classmethod
    def new(cls, width_mm: float, height_mm: float) -> "Sheet":
        """Return an empty sheet of that size."""
        size = (width_mm / MM_PER_INCH, height_mm / MM_PER_INCH)
        return cls(Figure(figsize=size), width_mm, height_mm)

    def axes(self, left: float, top: float, width: float, height: float, **options: Any) -> Axes:
        """Return axes whose upper left corner is at (left, top) [mm]."""
        box = (
            left / self.width_mm,
            1.0 - (top + height) / self.height_mm,
            width / self.width_mm,
            height / self.height_mm,
        )
        axes = self.figure.add_axes(box, **options)
        for axis in (axes.xaxis, axes.yaxis):
            axis.set_major_formatter(Ticks())
            axis.isDefault_majfmt = True  # an axis of dates still takes its own
        return axes

    def margin(self, left: float, top: float, width: float, height: float) -> Axes:
        """Return bare axes that count millimetres from their lower left corner, for notes."""
        axes = self.axes(left, top, width, height)
        axes.set_axis_off()
        axes.set_xlim(0.0, width)
        axes.set_ylim(0.0, height)
        return axes

    def write(self, left: float, top: float, words: str, **text: Any) -> None:
        """Write words with their upper left corner at (left, top) [mm]."""
        text = {"va": "top", "ha": "left", **text}
        self.figure.text(left / self.width_mm, 1.0 - top / self.height_mm, words, **text)


def text_width_mm(words: str, size: float, family: list[str] | None = None) -> float:
    """Return the width of a line of text [mm]."""
    return _text_width_mm(words, size, tuple(family or SANS))


@lru_cache(maxsize=20_000)
def _text_width_mm(words: str, size: float, family: tuple[str, ...]) -> float:
    with _lock:
        _register_fonts()
        font = font_manager.FontProperties(family=list(family), size=size)
        width, _, _ = TextToPath().get_text_width_height_descent(words, font, ismath=False)
    return float(width) * MM_PER_INCH / 72.0


def wrapped(words: str, width_mm: float, size: float, family: list[str] | None = None) -> list[str]:
    """Return the lines into which words break at a width."""
    lines: list[str] = []
    line = ""
    for word in words.split():
        longer = f"{line} {word}".strip()
        if line and text_width_mm(longer, size, family) > width_mm:
            lines.append(line)
            line = word
        else:
            line = longer
    return [*lines, line] if line else lines


def _saved(figure: Figure, kind: str, **options: Any) -> bytes:
    buffer = io.BytesIO()
    changes = {"svg.fonttype": options.pop("fonttype", "path")}
    with drawing(**changes):
        figure.savefig(buffer, format=kind, **options)
    return buffer.getvalue()


def svg(figure: Figure) -> bytes:
    """Return a figure as an SVG file, the same bytes every time."""
    return _saved(figure, "svg", metadata={"Date": None, "Creator": None})


def png(figure: Figure, dots_per_inch: int = 150) -> bytes:
    """Return a figure as a PNG file, the same bytes every time."""
    return _saved(figure, "png", dpi=dots_per_inch, metadata={"Software": None})


def pdf(figure: Figure) -> bytes:
    """Return a figure as a PDF file, the same bytes every time."""
    return _saved(figure, "pdf", metadata={"CreationDate": None, "Creator": None, "Producer": None})


def sheet_svg(figure: Figure) -> bytes:
    """Return a figure as SVG for a sheet of paper: its letters stay letters, its ground is bare."""
    options: dict[str, Any] = {"metadata": {"Date": None, "Creator": None}, "fonttype": "none"}
    return _saved(figure, "svg", transparent=True, **options)


def inline_svg(figure: Figure, words: str = "") -> Markup:
    """Return a figure as an SVG element for a page.

    Parameters
    ----------
    figure : matplotlib Figure
        A chart of this package.
    words : str
        What the picture says, for people who do not see it.
    """
    lighten(figure)
    text = sheet_svg(figure).decode()
    text = text[text.index("<svg") :]
    for clutter in (r"<metadata>.*?</metadata>\s*", r"<style.*?</style>\s*"):
        text = re.sub(clutter, "", text, flags=re.DOTALL)
    root, rest = text.split(">", 1)
    root = re.sub(r'\s(width|height)="[^"]*"', "", root).removeprefix("<svg")
    named = f'role="img" aria-label="{escape(words)}"{boxes_attribute(figure)}'
    head = f'<svg class="chart" {named}{root}>'
    drawing = _slim(_own_ids(_as_variables(rest)))
    return Markup(head + drawing)  # our own drawing; matplotlib escapes text


def _slim(text: str) -> str:
    """Return a drawing without what says nothing: blanks, bare groups, digits no screen shows."""

    def tag(found: re.Match[str]) -> str:
        if found[0].startswith("<image"):
            return found[0]
        within = re.sub(r"\s+", " ", found[0])
        for nothing in SAYS_NOTHING:
            within = within.replace(nothing, "")
        within = re.sub(r' transform="rotate\(-?0 [^)]*\)"', "", within)
        within = re.sub(r"-?\d+\.\d{2,}", lambda one: _short(float(one[0])), within)
        return re.sub(r' d="([^"]*)"', lambda one: f' d="{_path(one[1])}"', within)

    kept: list[bool] = []

    def group(found: re.Match[str]) -> str:
        if found[0].endswith("/>"):
            return "" if found[0] in ("<g/>", "<g />") else found[0]
        if found[0] != "</g>":
            kept.append(found[0] != "<g>")
            return found[0] if kept[-1] else ""
        return found[0] if kept.pop() else ""

    text = re.sub(r"<[^>]*>", tag, re.sub(r">\s+<", "><", text))
    return re.sub(r"<g\b[^>]*>|</g>", group, text)


def _path(drawn: str) -> str:
    """Return the points of a path; one without curves tells each by its way from the one before.

    Examples
    --------
    >>> _path("M 26.93 63.46 L 27.76 62.5 L 28.31 62.5 z ")
    'M26.93 63.46l.83-.96 .55 0z'
    """
    drawn = drawn.strip()
    if re.search("[^MLz0-9. -]", drawn):
        return drawn
    return re.sub(r"M([^Mz]*)", lambda one: _steps([float(n) for n in NUMBER.findall(one[1])]),
                  drawn)  # fmt: skip


def _steps(numbers: Sequence[float]) -> str:
    """Return one stretch of a path: where it begins, then each step in hundredths, none lost."""
    hundredths = [round(100 * one) for one in numbers]
    steps = [one - was for one, was in zip(hundredths[2:], hundredths, strict=False)]
    said = " ".join(re.sub(r"^(-?)0\.", r"\1.", _short(one / 100)) for one in steps)
    begin = " ".join(_short(one / 100) for one in hundredths[:2])
    return f"M{begin}l{said.replace(' -', '-')}" if steps else f"M{begin}"


def _short(value: float) -> str:
    said = str(round(value, 2)).removesuffix(".0")
    return "0" if said == "-0" else said


def _as_variables(text: str) -> str:
    for colour, name in VARIABLES.items():
        text = re.sub(rf"{colour}\b", f"var({name}, {colour})", text, flags=re.IGNORECASE)
    return text


def _own_ids(text: str) -> str:
    """Drop names nothing refers to and make the others this picture's own."""
    used = set(re.findall(r'(?:url\(#|href="#)([^)"]+)', text))
    stamp = hashlib.sha256(text.encode()).hexdigest()[:8]

    def renamed(match: re.Match[str]) -> str:
        return f' id="{match[1]}-{stamp}"' if match[1] in used else ""

    text = re.sub(r' id="([^"]+)"', renamed, text)
    return re.sub(r'((?:url\(#|href="#)[^)"]+)', rf"\1-{stamp}", text)
