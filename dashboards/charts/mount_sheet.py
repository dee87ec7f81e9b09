"""The mount sheet's drawing: the panel from behind and its edge cut through."""

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from analysis.planning.mount_sheet import MountSheet
from dashboards.charts.hinge import INSIDE_MM, hinge_run
from dashboards.charts.style import Sheet, drawn
from dashboards.inks import FELT, GREY, INK, MADDER, SOFT, WASH
from dashboards.text.messages import _
from dashboards.text.wording import number

PICTURE_MM, EDGE_MM = 51.0, 27.0
SIZE, SMALL = 9.0, 7.5


@drawn
def panel_drawing(sheet: MountSheet, width_mm: float = 110.0) -> Figure:
    """Return panel, print and hinges to scale, seen from behind, and the edge cut through."""
    page = Sheet.new(width_mm, PICTURE_MM + 20.0 + EDGE_MM)
    _panel(page.axes(0.0, 0.0, width_mm, PICTURE_MM + 16.0), sheet)
    _edge(page.axes(2.0, PICTURE_MM + 18.0, width_mm - 4.0, EDGE_MM), sheet)
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
        (8.0, _("spacer, touches the print's edge")),
        (1.0, _("hinge, glued {glue} mm in", glue=number(glue))),
        (-thick / 2 + 1.2, _("panel {thick} mm, its edge taped", thick=number(thick))),
        (-thick / 2 - 3.0, _("pale: free length, edge to bond")),
        (-thick - 3.5, _("{behind} mm behind, then tape", behind=number(behind))),
    )
    for height, words in notes:
        axes.text(-58.0, height, words, va="center", size=SMALL)
