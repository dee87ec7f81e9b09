"""The mount sheet for the bench: one upright A4 page, with boxes to fill in."""

from dataclasses import asdict

from analysis.planning.mount_sheet import MountSheet
from dashboards.charts.mount_sheet import panel_drawing
from dashboards.sheets.typesetting import Sheet
from dashboards.text.bench_sheet import BOXES, CAUTIONS, blocks
from dashboards.text.messages import _


def bench_sheet(sheet: MountSheet) -> Sheet:
    """Return a mount sheet ready to be set."""
    sizes, hinges, tape, adhesive, order = (asdict(block) for block in blocks(sheet))
    facts = {
        "title": _("How is “{title}” mounted?", title=sheet.work.title),
        "made": _(
            "Work {work_id}. Panel seen from behind; common practice, no source.",
            work_id=sheet.work.work_id,
        ),
        "picture_words": _("Panel, print and hinges to scale, and the panel’s edge cut through."),
        "left": [tape],
        "right": [sizes, hinges, adhesive],
        "order": order,
        "cautions_heading": _("Cautions"),
        "cautions": [_(words) for words in CAUTIONS],
        "boxes_heading": _("Fill in at the bench, and enter it in the register"),
        "boxes": [_(words) for words in BOXES],
    }
    return Sheet("mount", facts, {"panel": panel_drawing(sheet)})
