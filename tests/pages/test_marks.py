"""The marks differ in shape; their inks differ in lightness and under any colour vision."""

import re
from importlib.resources import files
from itertools import combinations

import numpy as np
import numpy.typing as npt
import pytest

from analysis.results import State
from dashboards.inks import PAPER, STATE_INKS, VARIABLES
from dashboards.marks import mark_and_word, marks

Floats = npt.NDArray[np.float64]

# Machado, Oliveira, Fernandes: A physiologically-based model for simulation of color vision
# deficiency. IEEE Trans. Visualization and Computer Graphics 15(6), 2009, 1291–1298, severity 1.0.
# Values from memory; each row must add up to 1, so that white stays white. Linear RGB.
VISION = {
    "usual": [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
    "protanopia": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deuteranopia": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritanopia": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}
# IEC 61966-2-1 (sRGB): linear RGB to XYZ for D65.
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
TOLD_APART = 10.0  # CIE 1976 colour difference; about four times what is just noticed
LIGHTNESS_STEP = 7.0  # CIE 1976 lightness


def linear(ink: str) -> Floats:
    """Return linear RGB of a hexadecimal sRGB colour (IEC 61966-2-1)."""
    value = np.array([int(ink[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def lab(rgb: Floats) -> Floats:
    """Return CIE 1976 L*a*b* of linear RGB, D65."""
    white = TO_XYZ.sum(axis=1)
    ratio = TO_XYZ @ np.clip(rgb, 0, 1) / white
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("vision", VISION)
def test_inks_are_told_apart_with_any_colour_vision(vision: str) -> None:
    matrix = np.array(VISION[vision])
    assert matrix.sum(axis=1) == pytest.approx([1, 1, 1], abs=1e-5)
    seen = {name: lab(matrix @ linear(ink)) for name, ink in STATE_INKS.items()}
    for one, other in combinations(seen, 2):
        assert np.linalg.norm(seen[one] - seen[other]) > TOLD_APART, (one, other)


def page_inks(block: str) -> dict[str, str]:
    """Return the variables of one block of app.css."""
    sheet = (files("dashboards") / "static" / "app.css").read_text(encoding="utf-8")
    inside = sheet[sheet.index(block) :]
    return dict(re.findall(r"--(\w+): (#\w{6})", inside[: inside.index("}")]))


def test_pages_and_charts_share_their_inks() -> None:
    assert page_inks(":root {") == {name[2:]: ink for ink, name in VARIABLES.items()}


@pytest.mark.parametrize("vision", VISION)
def test_a_dark_gallery_has_inks_that_are_told_apart(vision: str) -> None:
    dark = page_inks(':root[data-light="night"]')
    assert dark == page_inks(':root:not([data-light="day"]) {')
    matrix = np.array(VISION[vision])
    seen = {name: lab(matrix @ linear(dark[name])) for name in STATE_INKS}
    for one, other in combinations(seen, 2):
        assert np.linalg.norm(seen[one] - seen[other]) > TOLD_APART, (one, other)
    for name in [*STATE_INKS, "ink", "soft"]:
        paper = TO_XYZ[1] @ linear(dark["paper"])
        assert (TO_XYZ[1] @ linear(dark[name]) + 0.05) / (paper + 0.05) > 4.5


def test_inks_keep_their_order_in_a_grey_print() -> None:
    lightness = sorted(lab(linear(ink))[0] for ink in STATE_INKS.values())
    assert np.diff(lightness).min() > LIGHTNESS_STEP


def test_marks_stand_out_from_paper() -> None:
    # WCAG 2.1, success criterion 1.4.11: at least 3:1 for graphical objects.
    paper = TO_XYZ[1] @ linear(PAPER)
    for ink in STATE_INKS.values():
        assert (paper + 0.05) / (TO_XYZ[1] @ linear(ink) + 0.05) > 3.0


def test_every_state_has_a_drawing_of_its_own() -> None:
    drawings = {state: mark.strokes for state, mark in marks().items()}
    assert set(drawings) == set(State)
    for one, other in combinations(State, 2):
        assert drawings[one] != drawings[other]


def test_drawings_stay_in_their_field() -> None:
    for mark in marks().values():
        for stroke in mark.strokes:
            x, y = np.array(stroke.points).T
            assert x.min() >= 0 and x.max() <= 48 and y.min() >= 0 and y.max() <= 16


def test_near_the_glazing_touches_the_line_above() -> None:
    waves, glazing = marks()[State.NEAR_GLAZING].strokes
    gap = glazing.points[0][1] - max(y for _, y in waves.points)
    assert gap < (waves.pen + glazing.pen) / 2


@pytest.mark.parametrize("state", State)
def test_a_mark_stands_with_its_word(state: State) -> None:
    html = mark_and_word(state)
    assert f'<span class="word">{state.value}</span>' in html
    assert html.count("<path") == len(marks()[state].strokes)
