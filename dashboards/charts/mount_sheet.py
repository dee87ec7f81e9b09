"""The mount sheet drawn: the panel from behind, its hinges to scale, and the bench's text."""

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from analysis.planning.hinges import HingePlan
from analysis.planning.mount_sheet import MountSheet
from dashboards.bench_sheet import blocks
from dashboards.charts.style import SERIF, TALL_A4_MM, Sheet, drawn, wrapped
from dashboards.inks import FELT, GREY, HAIR, INK, SOFT, WASH
from dashboards.wording import number

A4_TALL_MM = 277.0
PICTURE_MM = 82.0
LINE_MM = 3.7


@drawn
def panel_drawing(sheet: MountSheet, width_mm: float = 110.0) -> Figure:
    """Return panel, print and hinges to scale, seen from behind."""
    page = Sheet.new(width_mm, PICTURE_MM)
    _draw(page.axes(2.0, 2.0, width_mm - 4.0, PICTURE_MM - 4.0), sheet)
    return page.figure


@drawn
def mount_sheet_figure(sheet: MountSheet) -> Figure:
    """Return the whole mount sheet on one upright A4 page: drawing, figures, order, cautions."""
    page = Sheet.new(TALL_A4_MM + 20.0, A4_TALL_MM + 20.0)
    page.write(10.0, 8.0, f"How is “{sheet.work.title}” mounted?", family=SERIF, size=15)
    page.write(10.0, 16.0, f"Work {sheet.work.work_id}. Panel seen from behind.", color=SOFT)
    _draw(page.axes(10.0, 22.0, 92.0, PICTURE_MM), sheet)
    sizes, hinges, tape, adhesive, order = blocks(sheet)
    top = 22.0
    for block in (sizes, hinges):
        top = _rows(page, 108.0, top, 92.0, block.heading, block.rows)
        top = _note(page, 108.0, top, 92.0, block.note)
    top = max(top, 22.0 + PICTURE_MM + 4.0)
    low = _rows(page, 10.0, top, 92.0, tape.heading, tape.rows)
    top = max(low, _rows(page, 108.0, top, 92.0, adhesive.heading, adhesive.rows))
    top = _list(page, top, order.heading, [f"{i}. {s}" for i, s in enumerate(order.steps, 1)])
    top = _list(page, top, "Cautions", sheet.cautions)
    _note(page, 10.0, top, 190.0, f"Sizes, hinges, tape, adhesive and order: {order.note}")
    return page.figure


def _draw(axes: Axes, sheet: MountSheet) -> None:
    width, height, plan = sheet.panel_width_mm, sheet.panel_height_mm, sheet.hinges
    axes.set_axis_off()
    axes.set_aspect("equal")
    edge = 0.09 * max(width, height)
    axes.set_xlim(-edge, width + edge)
    axes.set_ylim(-edge, height + edge)
    axes.add_patch(Rectangle((0, 0), width, height, facecolor=WASH, edgecolor=INK, lw=0.8))
    for x, y in _hinge_corners(plan, width, height):
        axes.add_patch(
            Rectangle((x, y), plan.hinge_mm, plan.hinge_mm, facecolor=FELT, edgecolor=GREY, lw=0.3)
        )
    words = f"{number(width)} mm", f"{number(height)} mm"
    axes.text(width / 2, -edge / 3, words[0], ha="center", va="top", size=7, color=SOFT)
    axes.text(-edge / 3, height / 2, words[1], ha="right", va="center", rotation=90, size=7)
    middle = f"{plan.count} hinges\ntaped from the middle\nof each side to the corners"
    axes.text(width / 2, height / 2, middle, ha="center", va="center", size=8, color=SOFT)


def _hinge_corners(plan: HingePlan, width: float, height: float) -> list[tuple[float, float]]:
    """Return the lower left corner of each hinge as it lies turned over on the panel's back."""
    margin = (width - plan.width_mm) / 2.0
    corners = []
    for x in plan.along_width_mm:
        corners += [(margin + x, 0.0), (margin + x, height - plan.hinge_mm)]
    for y in plan.along_height_mm:
        corners += [(0.0, margin + y), (width - plan.hinge_mm, margin + y)]
    return corners


def _heading(page: Sheet, left: float, top: float, width: float, words: str) -> float:
    page.write(left, top, words, family=SERIF, size=10.5)
    rule = page.margin(left, top + 4.6, width, 0.4)
    rule.axhline(0.2, color=HAIR, lw=0.5)
    return top + 6.2


def _rows(
    page: Sheet,
    left: float,
    top: float,
    width: float,
    heading: str,
    rows: Sequence[tuple[str, str]],
) -> float:
    top = _heading(page, left, top, width, heading)
    for name, value in rows:
        page.write(left, top, name, size=7.2, color=SOFT)
        for line in wrapped(value, width - 38.0, 7.2):
            page.write(left + 38.0, top, line, size=7.2)
            top += LINE_MM
    return top + 2.0


def _note(page: Sheet, left: float, top: float, width: float, words: str) -> float:
    for line in wrapped(words, width, 6.5):
        page.write(left, top, line, size=6.5, color=SOFT)
        top += LINE_MM - 0.5
    return top + 2.5


def _list(page: Sheet, top: float, heading: str, items: Sequence[str]) -> float:
    top = _heading(page, 10.0, top, 190.0, heading)
    for item in items:
        for i, line in enumerate(wrapped(item, 185.0, 7.6)):
            page.write(10.0 if i == 0 else 14.0, top, line, size=7.6)
            top += LINE_MM
    return top + 2.0
