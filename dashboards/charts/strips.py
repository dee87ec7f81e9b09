"""One thin strip a work through the week, in washes: the darker, the more probably slack.

Hours that nothing was measured in are bare paper with hatching, whether they are past or to come:
the palest tint says "surely taut" and nothing else.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from markupsafe import Markup
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from analysis.results import History, Judgement, Listing, RoomWeek, State
from dashboards import links
from dashboards.charts.layout import Layout
from dashboards.charts.readout import reads
from dashboards.charts.style import text_width_mm
from dashboards.charts.time_axis import Days
from dashboards.inks import FELT, HAIR, INK, MADDER, SOFT, STATE_INKS, WASH
from dashboards.lines import StripLine
from dashboards.marks import HEIGHT, WIDTH, marks
from dashboards.text.messages import translated
from dashboards.text.sentences import LISTINGS
from dashboards.text.strip_text import (
    KEY_WORDS,
    mounted_figure,
    mounted_short,
    peak_words,
    strip_sentence,
)

Floats = npt.NDArray[np.float64]
LEVELS = np.arange(0.05, 0.96, 0.1)  # one wash of ink for every tenth of probability
WASH_ALPHA = 0.17
BASE_ALPHA = 0.55  # the palest tint: surely taut
CORE = 0.34  # part of the strip's height that shows how probably waves are seen
KEY_CHANCES = (0.1, 0.3, 0.7, 0.9)
LETTERS = "abcdefghijklmnopqrstuvwxyz"
TALL = 12.0  # height of a strip drawn for a page, where a week is as wide as its hours


@dataclass(frozen=True)
class Row:
    """One strip: the work's letter, its line on the round and its history, if it has one."""

    letter: str
    judgement: Judgement
    history: History | None


def rows(week: RoomWeek) -> list[Row]:
    """Return the strips of a week, ordered by need."""
    ordered = sorted(week.judgements, key=lambda j: (LISTINGS.index(j.listing), j.order_key))
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


def known_runs(history: History | None, days: Days) -> list[tuple[float, float]]:
    """Return the stretches of a week in which something is told of a work [h]."""
    if history is None or not history.time_utc.size:
        return []
    judged = (history.refused == "") & np.isfinite(history.p_slack)
    known = [
        (first, min(last, days.known_h)) for first, last in runs(_places(history, days), judged)
    ]
    return [(first, last) for first, last in known if last > first]


def unknown_runs(history: History | None, days: Days) -> list[tuple[float, float]]:
    """Return the rest of the week: what is bare paper with hatching [h]."""
    ends = [0.0, *(end for run in known_runs(history, days) for end in run), days.length_h]
    return [
        (first, last) for first, last in zip(ends[::2], ends[1::2], strict=True) if last > first
    ]


def _places(history: History, days: Days) -> Floats:
    return days.along(history.time_utc)


def draw_strip(axes: Axes, row: Row, days: Days, bottom: float, height: float) -> None:
    """Draw one strip between two heights of axes that count hours across; it leads to its work."""
    if row.judgement.state is State.NOT_HELD_BY_TENSION:
        middle = bottom + height / 2
        axes.plot([0, days.length_h], [middle, middle], color=HAIR, linewidth=0.5, zorder=1)
        return
    draw_history(axes, row.history, days, bottom, height)
    over = Rectangle((0.0, bottom), days.length_h, height, alpha=0.0, zorder=9)
    over.set_url(links.work(row.judgement.work_id))
    reads(over, row.judgement.work_id)
    axes.add_patch(over)


def draw_history(
    axes: Axes, history: History | None, days: Days, bottom: float, height: float
) -> None:
    """Draw a history between two heights: hatched where nothing can be told, washes elsewhere."""
    _hatch(axes, unknown_runs(history, days), bottom, height)
    judged = [_box(*run, bottom, height) for run in known_runs(history, days)]
    axes.add_collection(PolyCollection(judged, facecolor=WASH, alpha=BASE_ALPHA, linewidth=0.0))
    if history is None or not judged:
        return
    places = _places(history, days)
    _washes(axes, places, history.p_slack, bottom, height)
    core = height * CORE
    _washes(axes, places, history.p_visible, bottom + (height - core) / 2, core, step=2)


def _washes(
    axes: Axes, places: Floats, chance: Floats, bottom: float, height: float, step: int = 1
) -> None:
    layers = _layers(places, chance, step)
    boxes = [_box(*run, bottom, height) for layer in layers for run in layer]
    alpha = 1.0 - (1.0 - WASH_ALPHA) ** step
    axes.add_collection(
        PolyCollection(boxes, facecolor=MADDER, alpha=alpha, linewidth=0.0, antialiased=False),
        autolim=False,
    )


def _layers(places: Floats, chance: Floats, step: int) -> Iterator[list[tuple[float, float]]]:
    """Yield the stretches of each wash, one wash for every tenth that the chance reaches."""
    known = np.nan_to_num(chance, nan=0.0)
    for level in LEVELS[::step]:
        yield runs(places, known >= level)


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


def label_strip(axes: Axes, row: Row, layout: Layout, bottom: float, zone: str) -> None:
    """Write a strip's letter and title, its mark with its word, its highest chance and when.

    ``axes`` count millimetres over the whole width of the sheet.
    """
    judged, address = row.judgement, links.work(row.judgement.work_id)
    held = judged.state is not State.NOT_HELD_BY_TENSION
    if layout.narrow:
        above = bottom + layout.strip + 2.6
        title = fitted(judged.title, 47.0, layout.text)
        axes.text(layout.left - 6.0, above, row.letter, size=layout.small, color=SOFT, va="center")
        axes.text(layout.left, above, title, size=layout.text, va="center", url=address)
        draw_mark(axes, judged.state, layout.left + 49.0, above - 1.4, height_mm=2.8,
                  fontsize=layout.small)  # fmt: skip
        return
    title = fitted(judged.title, layout.left - layout.edge - 7.0, layout.text)
    middle = bottom + layout.strip / 2
    axes.text(layout.edge, middle, row.letter, size=layout.small, color=SOFT, va="center")
    axes.text(layout.left - 2.5, middle, title, size=layout.text, va="center",
              ha="right", color=INK, url=address)  # fmt: skip
    right = layout.left + layout.plot + 2.5
    draw_mark(axes, judged.state, right, middle - 1.6, height_mm=3.2, fontsize=layout.text)
    if held:
        mark_mm = (
            3.2 * WIDTH / HEIGHT + 1.2 + text_width_mm(translated(judged.state.value), layout.text)
        )
        said = _beside(judged, zone, layout.right - layout.edge - 5.0 - mark_mm, layout.small)
        axes.text(layout.width - layout.edge, middle, said, size=layout.small, color=SOFT,
                  va="center", ha="right")  # fmt: skip


def _beside(judged: Judgement, zone: str, width_mm: float, size: float) -> str:
    """Return the highest chance and the RH at mounting, as much of them as there is room for."""
    peak = peak_words(judged, zone)
    ways = [(peak, mounted_short(judged.work)), (peak, mounted_figure(judged.work)), (peak,)]
    said = [" · ".join(filter(None, way)) for way in ways]
    return next((one for one in said if text_width_mm(one, size) <= width_mm), said[-1])


def fitted(title: str, width_mm: float, size: float) -> str:
    """Return a title cut to a width [mm]."""
    shown = title
    while len(shown) > 2 and text_width_mm(shown, size) > width_mm:
        shown = shown[:-2].rstrip(" ,.…") + "…"
    return shown


def draw_key(axes: Axes, left: float, middle: float, layout: Layout) -> None:
    """Draw the one key of a sheet: four chances, the inner bar of waves seen, and the hatching.

    ``axes`` count millimetres.
    """
    height, at = layout.strip, left
    for chance in KEY_CHANCES:
        at = _key_box(axes, chance, 0.0, at, middle, height, layout, KEY_WORDS[chance]())
    at = _key_box(axes, 0.3, 0.9, at, middle, height, layout, KEY_WORDS["seen"]())
    box = _box(at, at + 8.0, middle - height / 2, height)
    axes.add_collection(PolyCollection([box], facecolor="none", edgecolor=FELT, hatch="//////"))
    axes.text(at + 9.2, middle, KEY_WORDS["untold"](), size=layout.small, color=SOFT, va="center")


def _key_box(
    axes: Axes,
    slack: float,
    seen: float,
    left: float,
    middle: float,
    height: float,
    layout: Layout,
    words: str,
) -> float:
    """Draw one box of the key with its words; return where the next begins [mm]."""
    places, bottom = np.array([left, left + 4.0]), middle - height / 2
    axes.add_collection(
        PolyCollection([_box(left, left + 8.0, bottom, height)], facecolor=WASH, alpha=BASE_ALPHA)
    )
    _washes(axes, places, np.full(2, slack), bottom, height)
    core = height * CORE
    _washes(axes, places, np.full(2, seen), bottom + (height - core) / 2, core, step=2)
    axes.text(left + 9.2, middle, words, size=layout.small, color=SOFT, va="center")
    return left + 9.2 + text_width_mm(words, layout.small) + 4.0


def needing_rows(week: RoomWeek) -> list[Row]:
    """Return the strips of a week without the works that can be left."""
    return [row for row in _held(week) if row.judgement.listing is not Listing.LEAVE_BE]


def _held(week: RoomWeek) -> list[Row]:
    return [row for row in rows(week) if row.judgement.state is not State.NOT_HELD_BY_TENSION]


def strip_lines(
    week: RoomWeek, *, only_needing: bool = False, most: int | None = None
) -> list[StripLine]:
    """Return the strips of a week for a page, each with its words and its picture.

    ``only_needing`` leaves out the works that can be left; ``most`` is how many are drawn.
    """
    days = Days.of(week)
    return [
        StripLine(
            work_id=row.judgement.work_id,
            title=row.judgement.title,
            state=row.judgement.state,
            picture=strip_svg(row, days),
            peak=peak_words(row.judgement, week.zone),
            mounted=mounted_short(row.judgement.work),
            sentence=strip_sentence(row.judgement, week.zone),
        )
        for row in (needing_rows(week) if only_needing else _held(week))[:most]
    ]


def strip_svg(row: Row, days: Days) -> Markup:
    """Return one strip as SVG, as wide as the room it is given."""
    history, core = row.history, TALL * CORE
    parts = [_boxes(known_runs(history, days), 0.0, TALL, "base")]
    if history is not None and history.time_utc.size:
        places = _places(history, days)
        washes = _layers(places, history.p_slack, 1)
        parts += [_boxes(layer, 0.0, TALL, "wash") for layer in washes]
        seen = _layers(places, history.p_visible, 2)
        parts += [_boxes(layer, (TALL - core) / 2, core, "core") for layer in seen]
    ruled = "".join(f"M{first:g} 0V{TALL:g}" for _, first, _ in list(days.midnights())[1:])
    parts.append(f'<path class="day" d="{ruled}"/>')
    return _svg(days.length_h, parts)


def key_svg(slack: float, seen: float) -> Markup:
    """Return one box of the key of a page."""
    count, cores = int(np.sum(slack >= LEVELS)), int(np.sum(LEVELS[::2] <= seen))
    core = TALL * CORE
    whole = [(0.0, 24.0)]
    parts = [_boxes(whole, 0.0, TALL, "base"), *[_boxes(whole, 0.0, TALL, "wash")] * count]
    parts += [_boxes(whole, (TALL - core) / 2, core, "core")] * cores
    return _svg(24.0, parts)


def unknown_svg() -> Markup:
    """Return the box of the key for hours of which nothing is known."""
    return _svg(24.0, [])


def page_key() -> list[tuple[Markup, str]]:
    """Return the one key of a page as (box, words)."""
    chances = [(key_svg(chance, 0.0), KEY_WORDS[chance]()) for chance in KEY_CHANCES]
    seen = (key_svg(0.3, 0.9), KEY_WORDS["seen"]())
    return [*chances, seen, (unknown_svg(), KEY_WORDS["untold"]())]


def _boxes(stretches: Sequence[tuple[float, float]], top: float, height: float, kind: str) -> str:
    """Return the stretches of one wash as one path; nothing where there are none."""
    drawn = "".join(f"M{a:g} {top:g}H{b:g}v{height:g}H{a:g}z" for a, b in stretches)
    return f'<path class="{kind}" d="{drawn}"/>' if drawn else ""


def _svg(width: float, parts: Sequence[str]) -> Markup:
    return Markup(
        f'<svg class="strip" viewBox="0 0 {width:g} {TALL:g}" preserveAspectRatio="none"'
        f' aria-hidden="true" focusable="false">{"".join(parts)}</svg>'
    )


def draw_mark(
    axes: Any, state: State, left: float, bottom: float, *, height_mm: float, **text: Any
) -> list[Artist]:
    """Draw the mark with its word to the right of it, in axes that count millimetres.

    Parameters
    ----------
    axes : matplotlib Axes
        One data unit must be one millimetre in both directions (`style.Sheet.margin`).
    left, bottom : float
        Lower left corner of the mark [mm].
    height_mm : float
        Height of the mark; it is three times as wide.
    **text
        Handed on to the word, for example ``fontsize``.
    """
    mark, scale = marks()[state], height_mm / HEIGHT
    ink = STATE_INKS[mark.ink]
    drawn: list[Artist] = []
    for stroke in mark.strokes:
        pen = stroke.pen * scale * 72 / 25.4
        line = Line2D(
            [left + x * scale for x, _ in stroke.points],
            [bottom + y * scale for _, y in stroke.points],
            color=ink,
            linewidth=pen,
            solid_capstyle="round",
            solid_joinstyle="round",
        )
        if stroke.dash:
            line.set_linestyle((0, tuple(d * scale * 72 / 25.4 / pen for d in stroke.dash)))
        drawn.append(axes.add_line(line))
    across, up = left + WIDTH * scale + 1.2, bottom + height_mm / 2
    drawn.append(axes.text(across, up, translated(state.value), va="center", ha="left", **text))
    return drawn
