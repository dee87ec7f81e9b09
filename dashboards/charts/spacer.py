"""The clearance drawn: a cut through glazing, spacer, wave and panel, its depth to scale."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from analysis.planning.spacer import Clearance
from analysis.results import Range
from dashboards.charts.places import spread
from dashboards.charts.style import PHONE_MM, Sheet, drawn
from dashboards.inks import FELT, GREY, HAIR, INK, MADDER, SOFT, WASH
from dashboards.text.messages import _
from dashboards.text.wording import number, range_words

GLAZING_MM, PANEL_MM, MARGIN_MM = 4.0, 8.0, 3.0
LENGTH = 100.0  # along the frame, cut short: not to scale
WAVES = 2.0
DRAWN_MM = 70.0
LABEL_MM = 9.0  # two lines of a label, and the space to the next


@dataclass(frozen=True)
class Label:
    """Words beside the cut, about what lies at a height [mm of the frame]."""

    height_mm: float
    words: str
    bold: bool = False


@drawn
def section_figure(found: Clearance) -> Figure:
    """Return the cut. Depth is to scale; where a term is not known it is left out and said."""
    width = PHONE_MM * 1.1
    page = Sheet.new(width, DRAWN_MM + 12.0)
    axes = page.axes(0.0, 1.0, width, DRAWN_MM)
    depth = found.spacer_mm.mid if found.spacer_mm else 0.0
    axes.set_axis_off()
    axes.set_xlim(-18.0, LENGTH + 86.0)
    axes.set_ylim(-PANEL_MM - MARGIN_MM, max(depth, 10.0) + GLAZING_MM + MARGIN_MM)
    labels = [_panel(axes, found.panel_bow_mm)]
    if found.wave_mm:
        labels.append(_waves(axes, found.wave_mm, found.panel_bow_mm))
    if found.spacer_mm:
        _spacer(axes, found.spacer_mm)
        labels.append(_glazing(axes, depth, found.glazing_bow_mm))
    labels += _clearance(axes, found)
    _write(axes, labels)
    _scale(axes)
    words = _("Depth to scale, length cut short. Dashed: at its worst.")
    page.write(0.0, DRAWN_MM + 3.0, words, size=9.0, color=SOFT)
    return page.figure


def _arc(bow_mm: float) -> np.typing.NDArray[np.float64]:
    """Return a bow, greatest in the middle, along the drawn length."""
    along = np.linspace(0.0, 1.0, 121)
    return np.asarray(4.0 * bow_mm * along * (1.0 - along))


def _along() -> np.typing.NDArray[np.float64]:
    return np.linspace(0.0, LENGTH, 121)


def _panel(axes: Axes, bow: Range) -> Label:
    face = _arc(bow.mid)
    axes.fill_between(_along(), -PANEL_MM, face, facecolor=WASH, edgecolor=GREY, lw=0.6)
    axes.plot(_along(), _arc(bow.high), color=GREY, lw=0.7, ls=(0, (3, 2)))
    return Label(-PANEL_MM / 2.0, _("panel, its bow\n{bow}", bow=range_words(bow, "mm", 1)))


def _spacer(axes: Axes, spacer: Range) -> None:
    for left in (-6.0, LENGTH):
        axes.add_patch(Rectangle((left, 0.0), 6.0, spacer.mid, facecolor=FELT, edgecolor=GREY,
                                 lw=0.6))  # fmt: skip
    axes.annotate(
        "",
        (-9.0, spacer.mid),
        (-9.0, 0.0),
        arrowprops={"arrowstyle": "<->", "lw": 0.6, "color": INK},
    )
    axes.text(-10.0, spacer.mid / 2.0, _("spacer {mid} mm", mid=number(spacer.mid, 1)), rotation=90,
              ha="right", va="center", size=9.0)  # fmt: skip


def _glazing(axes: Axes, depth: float, bow: Range | None) -> Label:
    mid = 0.0 if bow is None else bow.mid
    face = depth - _arc(mid)
    axes.fill_between(_along(), face, face + GLAZING_MM, facecolor=HAIR, edgecolor=GREY, lw=0.6,
                      alpha=0.6)  # fmt: skip
    words = (
        "glazing" if bow is None else _("glazing, its bow\n{bow}", bow=range_words(bow, "mm", 1))
    )
    if bow is not None:
        axes.plot(_along(), depth - _arc(bow.high), color=GREY, lw=0.7, ls=(0, (3, 2)))
    return Label(depth + GLAZING_MM / 2.0, words)


def _waves(axes: Axes, wave: Range, bow: Range) -> Label:
    ripple = 0.5 - 0.5 * np.cos(2.0 * np.pi * WAVES * np.linspace(0.0, 1.0, 121))
    axes.plot(_along(), _arc(bow.mid) + wave.mid * ripple, color=INK, lw=1.6)
    axes.plot(_along(), _arc(bow.high) + wave.high * ripple, color=MADDER, lw=0.8,
              ls=(0, (3, 2)))  # fmt: skip
    return Label(bow.mid + wave.mid / 2.0, f"waves\n{range_words(wave, 'mm', 1)}")


def _clearance(axes: Axes, found: Clearance) -> list[Label]:
    left = found.clearance_mm
    if left is None or found.wave_mm is None or found.glazing_bow_mm is None:
        return []
    at, top = 0.5 * LENGTH, (found.spacer_mm.mid if found.spacer_mm else 0.0)
    crest = found.panel_bow_mm.mid + found.wave_mm.mid
    ceiling = top - found.glazing_bow_mm.mid
    if ceiling > crest:
        axes.annotate(
            "",
            (at, ceiling),
            (at, crest),
            arrowprops={"arrowstyle": "<->", "lw": 0.8, "color": INK},
        )
    words = f"clearance\n{range_words(left, 'mm', 1)}"
    return [Label((ceiling + crest) / 2.0, words, bold=True)]


def _write(axes: Axes, labels: Sequence[Label]) -> None:
    """Write the labels from the lowest up, none over another, each led to by a thin line."""
    ordered = sorted(labels, key=lambda label: label.height_mm)
    bottom, top = axes.get_ylim()
    gap = LABEL_MM * (top - bottom) / DRAWN_MM
    steps = gap * np.arange(len(ordered))
    apart = np.array(spread([label.height_mm for label in ordered], gap)) - steps
    heights = np.clip(apart, bottom + gap / 2.0, top - gap / 2.0 - steps[-1]) + steps
    for label, height in zip(ordered, heights, strict=True):
        along = (LENGTH + 7.0, LENGTH + 9.0, LENGTH + 13.0)
        leader = np.column_stack((along, (label.height_mm, label.height_mm, height)))
        axes.add_collection(LineCollection([leader], colors=GREY, linewidths=0.5))
        axes.text(LENGTH + 14.0, height, label.words, va="center", size=9.0,
                  weight="bold" if label.bold else "normal")  # fmt: skip


def _scale(axes: Axes) -> None:
    """Draw ten millimetres of depth."""
    bottom = -PANEL_MM - MARGIN_MM + 1.0
    axes.plot([-4.0, -4.0], [bottom, bottom + 10.0], color=SOFT, lw=1.2)
    axes.text(-5.0, bottom, "10 mm", rotation=90, ha="right", va="bottom", size=8, color=SOFT)
