"""The edge of a sheet seen from the side: the drawn mark of each state, and its word.

The mark is one geometry for web pages (SVG) and charts (matplotlib lines). A mark never stands
without its word, so both functions that draw one also write the other.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from markupsafe import Markup

from analysis.results import State
from dashboards.inks import STATE_INKS
from dashboards.text.messages import translated

Points = tuple[tuple[float, float], ...]

WIDTH, HEIGHT = 48.0, 16.0
LEFT, RIGHT, MIDDLE = 3.0, 45.0, 8.0
WAVES = 3


@dataclass(frozen=True)
class Stroke:
    """One pen stroke in a field of 48 × 16, y upwards; pen width in the same units."""

    points: Points
    pen: float = 1.6
    dash: tuple[float, float] | None = None


@dataclass(frozen=True)
class Mark:
    """The strokes of a state's mark and the name of its ink."""

    strokes: Sequence[Stroke]
    ink: str


def _line(*points: tuple[float, float]) -> Points:
    return points


def _curve(height: float, waves: float, first: float = LEFT, last: float = RIGHT) -> Points:
    along = np.linspace(0.0, 1.0, 37)  # of three waves, each peak is a point
    up = MIDDLE + height * np.sin(2 * np.pi * waves * along)
    across = first + (last - first) * along
    return tuple(zip(across.round(2).tolist(), up.round(2).tolist(), strict=True))


def _uprights() -> tuple[Stroke, Stroke]:
    left, right = _line((LEFT, 2.5), (LEFT, 13.5)), _line((RIGHT, 2.5), (RIGHT, 13.5))
    return Stroke(left, 2.0), Stroke(right, 2.0)


def _leaning() -> tuple[Stroke, Stroke]:
    left, right = _line((1.5, 2.0), (10.5, 14.0)), _line((46.5, 2.0), (37.5, 14.0))
    return Stroke(left, 2.2), Stroke(right, 2.2)


def _ripple() -> Points:
    flat = _line((LEFT, MIDDLE), (15.0, MIDDLE))
    along = np.linspace(0.0, 1.0, 31)
    up = MIDDLE + 4.2 * np.sin(np.pi * along) ** 2
    across = 15.0 + 18.0 * along
    hump = tuple(zip(across.round(2).tolist(), up.round(2).tolist(), strict=True))
    return (*flat, *hump, (RIGHT, MIDDLE))


@cache
def marks() -> Mapping[State, Mark]:
    """Return the mark of every state."""
    straight = _line((LEFT, MIDDLE), (RIGHT, MIDDLE))
    heavy = 2.4
    near = tuple((x, y - 2.0) for x, y in _curve(5.0, WAVES))
    return {
        State.TAUT: Mark((Stroke(straight), *_uprights()), "grey"),
        State.EASING: Mark((Stroke(_ripple(), 1.8), *_uprights()), "ochre"),
        State.SLACK: Mark((Stroke(_curve(5.2, WAVES), 2.0), *_uprights()), "madder"),
        State.NEAR_GLAZING: Mark(
            (Stroke(near, heavy), Stroke(_line((0.0, 12.9), (WIDTH, 12.9)), heavy)), "madder"
        ),
        State.HINGES: Mark((Stroke(_line((6.0, MIDDLE), (42.0, MIDDLE))), *_leaning()), "indigo"),
        State.CANNOT_TELL: Mark((Stroke(straight, 1.6, (5.0, 4.0)),), "grey"),
        State.NOT_HELD_BY_TENSION: Mark(
            (Stroke(straight), Stroke(_line((LEFT, 5.0), (RIGHT, 5.0)), 2.6)), "grey"
        ),
    }


def _path(points: Points) -> str:
    steps = [f"{x:g} {HEIGHT - y:g}" for x, y in points]
    return "M" + "L".join(steps)


def _strokes(mark: Mark) -> str:
    return "".join(
        f'<path d="{_path(s.points)}" stroke-width="{s.pen:g}"'
        + (f' stroke-dasharray="{s.dash[0]:g} {s.dash[1]:g}"' if s.dash else "")
        + "/>"
        for s in mark.strokes
    )


def mark_svg(state: State) -> Markup:
    """Return the mark alone as SVG, hidden from screen readers, which are given the word."""
    paths = _strokes(marks()[state])
    return Markup(
        f'<svg class="mark" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" width="48" height="16"'
        f' aria-hidden="true" focusable="false">{paths}</svg>'
    )


def mark_picture(state: State) -> bytes:
    """Return the mark alone as a finished SVG, in its ink, for paper."""
    mark = marks()[state]
    paths = _strokes(mark)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-2 -2 {WIDTH + 4:g} {HEIGHT + 4:g}"'
        f' width="52" height="20"><g fill="none" stroke="{STATE_INKS[mark.ink]}"'
        f' stroke-linecap="round" stroke-linejoin="round">{paths}</g></svg>'
    ).encode()


def mark_and_word(state: State, words: str = "") -> Markup:
    """Return the mark with its word, for a page; ``words`` says more than the word where needed."""
    ink = marks()[state].ink
    return Markup('<span class="state ink-{}">{}<span class="word">{}</span></span>').format(
        ink, mark_svg(state), words or translated(state.value)
    )
