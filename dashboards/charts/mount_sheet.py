"""The mount sheet drawn: the panel from behind and its edge cut through, with the bench's text."""

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from analysis.planning.mount_sheet import MountSheet
from dashboards.charts.hinge import INSIDE_MM, hinge_run
from dashboards.charts.style import SERIF, Sheet, drawn, wrapped
from dashboards.inks import FELT, GREY, HAIR, INK, MADDER, SOFT, WASH
from dashboards.text.bench_sheet import BOXES, CAUTIONS, blocks
from dashboards.text.messages import _
from dashboards.text.wording import number

A4_MM = (210.0, 297.0)
LEFT_MM, COLUMN_MM, GAP_MM = 12.0, 90.0, 6.0
RIGHT_MM = LEFT_MM + COLUMN_MM + GAP_MM
SHEET_MM = 2 * COLUMN_MM + GAP_MM
PICTURE_MM, EDGE_MM = 51.0, 27.0
SIZE, SMALL, LINE_MM = 9.0, 7.5, 3.95
NAMES_MM, LONG_NAMES_MM, BOX_MM, BOXES_A_ROW = 38.0, 45.0, 8.6, 3


@drawn
def panel_drawing(sheet: MountSheet, width_mm: float = 110.0) -> Figure:
    """Return panel, print and hinges to scale, seen from behind, and the edge cut through."""
    page = Sheet.new(width_mm, PICTURE_MM + 20.0 + EDGE_MM)
    _panel(page.axes(0.0, 0.0, width_mm, PICTURE_MM + 16.0), sheet)
    _edge(page.axes(2.0, PICTURE_MM + 18.0, width_mm - 4.0, EDGE_MM), sheet)
    return page.figure


@drawn
def mount_sheet_figure(sheet: MountSheet) -> Figure:
    """Return the whole mount sheet on one upright A4 page: drawing, figures, order, boxes."""
    page = Sheet.new(*A4_MM)
    page.figure.set_facecolor("white")
    title = _("How is “{title}” mounted?", title=sheet.work.title)
    page.write(LEFT_MM, 9.0, wrapped(title, SHEET_MM, 15.0, SERIF)[0], family=SERIF, size=15)
    made = _(
        "Work {work_id}. Panel seen from behind; common practice, no source.",
        work_id=sheet.work.work_id,
    )
    page.write(LEFT_MM, 16.5, made, size=SIZE, color=SOFT)
    _panel(page.axes(LEFT_MM, 20.0, COLUMN_MM, PICTURE_MM), sheet)
    _edge(page.axes(LEFT_MM, 22.0 + PICTURE_MM, COLUMN_MM, EDGE_MM), sheet)
    sizes, hinges, tape, adhesive, order = blocks(sheet)
    left, right = 25.0 + PICTURE_MM + EDGE_MM, 20.0
    for block in (sizes, hinges, adhesive):
        right = _rows(page, RIGHT_MM, right, block.heading, block.rows)
    top = max(_rows(page, LEFT_MM, left, tape.heading, tape.rows, LONG_NAMES_MM), right)
    top = _list(page, top, order.heading, [f"{i}. {s}" for i, s in enumerate(order.steps, 1)])
    top = _list(page, top, "Cautions", [f"– {words}" for words in CAUTIONS])
    _boxes(page, top)
    return page.figure


def _panel(axes: Axes, sheet: MountSheet) -> None:
    width, height, plan = sheet.panel_width_mm, sheet.panel_height_mm, sheet.hinges
    axes.set_axis_off()
    axes.set_aspect("equal")
    edge = 0.09 * max(width, height)
    axes.set_xlim(-edge, width + edge)
    axes.set_ylim(-edge, height + edge)
    axes.add_patch(Rectangle((0, 0), width, height, facecolor=WASH, edgecolor=INK, lw=0.8))
    for x, y, across, up in hinges_behind(sheet):
        axes.add_patch(
            Rectangle((x, y), across, up, facecolor=FELT, edgecolor=GREY, lw=0.3, alpha=0.8)
        )
    words = f"{number(width)} mm", f"{number(height)} mm"
    axes.text(width / 2, -edge / 4, words[0], ha="center", va="top", size=8, color=SOFT)
    axes.text(-edge / 4, height / 2, words[1], ha="right", va="center", rotation=90, size=8)
    middle = _(
        "{count} hinges\ntaped from the middle\nof each side to the corners", count=plan.count
    )
    axes.text(width / 2, height / 2, middle, ha="center", va="center", size=SIZE, color=SOFT)


def hinges_behind(sheet: MountSheet) -> list[tuple[float, float, float, float]]:
    """Return left, bottom, width and height [mm] of each hinge as it lies behind the panel."""
    width, height, plan = sheet.panel_width_mm, sheet.panel_height_mm, sheet.hinges
    deep, long, margin = sheet.hinge_behind_mm, plan.hinge_mm, sheet.panel_shows_mm
    found = []
    for x in plan.along_width_mm:
        found += [(margin + x, 0.0, long, deep), (margin + x, height - deep, long, deep)]
    for y in plan.along_height_mm:
        found += [(0.0, margin + y, deep, long), (width - deep, margin + y, deep, long)]
    return found


def _edge(axes: Axes, sheet: MountSheet) -> None:
    """Draw the panel's edge cut through, twice life size or so: how one hinge runs."""
    thick, glue, shows = sheet.panel_thickness_mm, sheet.glue_line_mm, sheet.panel_shows_mm
    behind, inside = sheet.hinge_behind_mm, INSIDE_MM
    run = hinge_run(thick, shows, glue, behind)
    axes.set_axis_off()
    axes.set_aspect("equal")
    axes.set_xlim(-58.0, inside + 1.0)
    axes.set_ylim(-thick - 9.0, 12.0)
    axes.add_patch(Rectangle((0, -thick), inside, thick, facecolor=WASH, edgecolor=INK, lw=0.7))
    axes.plot(*zip(*run.printed, strict=True), color=INK, lw=1.8)
    axes.plot(*zip(*run.glued, *run.free, *run.fixed, strict=True), color=MADDER, lw=1.2)
    axes.plot([shows, shows + glue], [0.9, 0.9], color=MADDER, lw=2.6)
    axes.plot(*zip(*run.tape, strict=True), color=GREY, lw=1.6)
    axes.plot(*zip(*run.free, strict=True), color=MADDER, lw=5.0, alpha=0.25, zorder=0.5)
    axes.add_patch(Rectangle((shows - 7.0, 1.3), 7.0, 9.5, facecolor=FELT, edgecolor=GREY, lw=0.5))
    notes = (
        (8.0, "spacer, touches the print's edge"),
        (1.0, _("hinge, glued {glue} mm in", glue=number(glue))),
        (-thick / 2 + 1.2, _("panel {thick} mm, its edge taped", thick=number(thick))),
        (-thick / 2 - 3.0, "pale: free length, edge to bond"),
        (-thick - 3.5, _("{behind} mm behind, then tape", behind=number(behind))),
    )
    for height, words in notes:
        axes.text(-58.0, height, words, va="center", size=SMALL)


def _heading(page: Sheet, left: float, top: float, width: float, words: str) -> float:
    page.write(left, top, words, family=SERIF, size=11)
    rule = page.margin(left, top + 4.8, width, 0.4)
    rule.axhline(0.2, color=HAIR, lw=0.6)
    return top + 6.0


def _rows(
    page: Sheet,
    left: float,
    top: float,
    heading: str,
    rows: Sequence[tuple[str, str]],
    names_mm: float = NAMES_MM,
) -> float:
    top = _heading(page, left, top, COLUMN_MM, heading)
    for name, value in rows:
        page.write(left, top, name, size=SIZE, color=SOFT)
        for line in wrapped(value, COLUMN_MM - names_mm, SIZE):
            page.write(left + names_mm, top, line, size=SIZE)
            top += LINE_MM
    return top + 1.2


def _list(page: Sheet, top: float, heading: str, items: Sequence[str]) -> float:
    top = _heading(page, LEFT_MM, top, SHEET_MM, heading)
    for item in items:
        for i, line in enumerate(wrapped(item, SHEET_MM - 4.0, SIZE)):
            page.write(LEFT_MM if i == 0 else LEFT_MM + 4.0, top, line, size=SIZE)
            top += LINE_MM
    return top + 1.2


def _boxes(page: Sheet, top: float) -> None:
    """Draw the boxes to fill in, some in a row."""
    words = "Fill in at the bench, and enter it in the register"
    top = _heading(page, LEFT_MM, top, SHEET_MM, words)
    width = (SHEET_MM - (BOXES_A_ROW - 1) * GAP_MM) / BOXES_A_ROW
    for i, name in enumerate(BOXES):
        row, column = divmod(i, BOXES_A_ROW)
        left = LEFT_MM + column * (width + GAP_MM)
        axes = page.margin(left, top + row * BOX_MM, width, BOX_MM - 0.8)
        axes.plot([0.0, width], [0.2, 0.2], color=GREY, lw=0.6)
        axes.text(0.0, BOX_MM - 1.2, name, size=SMALL, color=SOFT, va="top")
