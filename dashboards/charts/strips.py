"""One thin strip a work through the week, in washes: the darker, the more probably slack."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection

from analysis.results import History, Judgement, RoomWeek, State
from dashboards.charts.days import Days
from dashboards.charts.layout import Layout
from dashboards.charts.style import text_width_mm
from dashboards.inks import FELT, HAIR, INK, MADDER, SOFT, WASH
from dashboards.marks import draw_mark
from dashboards.text.sentences import LISTINGS

Floats = npt.NDArray[np.float64]
LEVELS = np.arange(0.05, 0.96, 0.1)  # one wash of ink for every tenth of probability
WASH_ALPHA = 0.17
CORE = 0.34  # part of the strip's height that shows how probably waves are seen
LETTERS = "abcdefghijklmnopqrstuvwxyz"


@dataclass(frozen=True)
class Row:
    """One strip: the work's letter, its line on the round and its history, if it has one."""

    letter: str
    judgement: Judgement
    history: History | None


def rows(week: RoomWeek) -> list[Row]:
    """Return the strips of a week, ordered by need."""
    ordered = sorted(week.judgements, key=lambda j: LISTINGS.index(j.listing))
    return [Row(letter(n), j, week.histories.get(j.work_id)) for n, j in enumerate(ordered)]


def letter(number: int) -> str:
    """Return the letter of the n-th strip.

    Examples
    --------
    >>> letter(0), letter(25), letter(26)
    ('a', 'z', 'aa')
    """
    first, second = divmod(number, len(LETTERS))
    return (LETTERS[first - 1] if first else "") + LETTERS[second]


def runs(places: Floats, above: npt.NDArray[np.bool_]) -> list[tuple[float, float]]:
    """Return the stretches where a condition holds; each hour reaches to the next.

    Examples
    --------
    >>> runs(np.array([0.0, 1.0, 2.0, 3.0]), np.array([False, True, True, False]))
    [(1.0, 3.0)]
    """
    padded = np.concatenate([[False], above, [False]])
    turns = np.flatnonzero(padded[1:] != padded[:-1])
    step = float(np.median(np.diff(places))) if places.size > 1 else 1.0
    edges = np.append(places, places[-1] + step) if places.size else places
    return [
        (float(edges[a]), float(edges[b])) for a, b in zip(turns[::2], turns[1::2], strict=True)
    ]


def draw_strip(axes: Axes, row: Row, days: Days, bottom: float, height: float) -> None:
    """Draw one strip between two heights of axes that count hours across."""
    if row.judgement.state is State.NOT_HELD_BY_TENSION:
        middle = bottom + height / 2
        axes.plot([0, days.length_h], [middle, middle], color=HAIR, linewidth=0.5, zorder=1)
        return
    draw_history(axes, row.history, days, bottom, height)


def draw_history(
    axes: Axes, history: History | None, days: Days, bottom: float, height: float
) -> None:
    """Draw a history between two heights: hatched where nothing can be told, washes elsewhere."""
    whole = _box(0.0, days.length_h, bottom, height)
    axes.add_collection(PolyCollection([whole], facecolor=WASH, alpha=0.55, linewidth=0.0))
    if history is None or not history.time_utc.size:
        _hatch(axes, [(0.0, days.length_h)], bottom, height)
        return
    places = days.along(history.time_utc)
    _hatch(axes, runs(places, history.refused != ""), bottom, height)
    _washes(axes, places, history.p_slack, bottom, height)
    core = height * CORE
    _washes(axes, places, history.p_visible, bottom + (height - core) / 2, core, step=2)


def _washes(
    axes: Axes, places: Floats, chance: Floats, bottom: float, height: float, step: int = 1
) -> None:
    known = np.nan_to_num(chance, nan=0.0)
    boxes = [
        _box(first, last, bottom, height)
        for level in LEVELS[::step]
        for first, last in runs(places, known >= level)
    ]
    alpha = 1.0 - (1.0 - WASH_ALPHA) ** step
    axes.add_collection(
        PolyCollection(boxes, facecolor=MADDER, alpha=alpha, linewidth=0.0, antialiased=False),
        autolim=False,
    )


def _hatch(
    axes: Axes, stretches: Sequence[tuple[float, float]], bottom: float, height: float
) -> None:
    boxes = [_box(first, last, bottom, height) for first, last in stretches]
    axes.add_collection(
        PolyCollection(boxes, facecolor="none", edgecolor=FELT, hatch="//////", linewidth=0.0),
        autolim=False,
    )


def _box(first: float, last: float, bottom: float, height: float) -> list[tuple[float, float]]:
    top = bottom + height
    return [(first, bottom), (last, bottom), (last, top), (first, top)]


def label_strip(axes: Axes, row: Row, layout: Layout, bottom: float) -> None:
    """Write a strip's letter and title, and draw its mark with its word.

    ``axes`` count millimetres over the whole width of the sheet.
    """
    room = 47.0 if layout.narrow else layout.left - layout.edge - 7.0
    title = _fitted(row.judgement.title, room, layout.text)
    if layout.narrow:
        above = bottom + layout.strip + 2.6
        axes.text(layout.left - 6.0, above, row.letter, size=layout.small, color=SOFT, va="center")
        axes.text(layout.left, above, title, size=layout.text, va="center")
        draw_mark(axes, row.judgement.state, layout.left + 49.0, above - 1.4, height_mm=2.8,
                  fontsize=layout.small)  # fmt: skip
        return
    middle = bottom + layout.strip / 2
    axes.text(layout.edge, middle, row.letter, size=layout.small, color=SOFT, va="center")
    axes.text(layout.left - 2.5, middle, title, size=layout.text, va="center",
              ha="right", color=INK)  # fmt: skip
    draw_mark(axes, row.judgement.state, layout.left + layout.plot + 2.5, middle - 1.6,
              height_mm=3.2, fontsize=layout.text)  # fmt: skip


def _fitted(title: str, width_mm: float, size: float) -> str:
    shown = title
    while len(shown) > 2 and text_width_mm(shown, size) > width_mm:
        shown = shown[:-2].rstrip(" ,.…") + "…"
    return shown
