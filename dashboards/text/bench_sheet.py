"""The mount sheet as blocks for a page and as plain text for the bench."""

import textwrap
from collections.abc import Sequence

from analysis.planning.hinges import HingePlan
from analysis.planning.mount_sheet import ORIGIN, MountSheet
from dashboards.lines import SheetBlock
from dashboards.text.wording import number, span, with_unit

WIDTH = 78
# What to write down at the bench, so that it comes back into the register.
BOXES = (
    "Mounted on (day)",
    "Mounted by",
    "Lot of the adhesive",
    "Humidity at mounting, measured, %RH",
    "Temperature at mounting, °C",
    "Lot of the tissue",
    "Free hinge, print edge to where fixed, mm",
    "Mounted damp? (yes or no)",
    "Grain of the print",
    "Closed on (day)",
    "Closed by",
    "Depth of the spacer, mm",
    "Humidity at closing, measured, %RH",
    "Temperature at closing, °C",
)


def blocks(sheet: MountSheet) -> list[SheetBlock]:
    """Return the mount sheet as headed blocks: sizes, hinges, tape, adhesive, order of work."""
    return [
        SheetBlock("Sizes", rows=_sizes(sheet), note=f"Panel: {ORIGIN}."),
        SheetBlock("Hinges", rows=_hinges(sheet), note=f"{ORIGIN.capitalize()}."),
        SheetBlock("Tape", rows=_tapes(sheet), note=f"{ORIGIN.capitalize()}."),
        SheetBlock("Adhesive", rows=_adhesive(sheet), note=f"{ORIGIN.capitalize()}."),
        SheetBlock("Order of work", steps=sheet.steps, note=f"{ORIGIN.capitalize()}."),
    ]


def text(sheet: MountSheet) -> str:
    """Return the mount sheet as plain text, 78 characters wide."""
    work = sheet.work
    lines = [f"Mount sheet: {work.title} ({work.work_id})", ""]
    for block in blocks(sheet):
        lines += [block.heading, "-" * len(block.heading)]
        lines += [f"{name:<32}{value}" for name, value in block.rows]
        lines += [part for i, step in enumerate(block.steps, 1) for part in _item(f"{i:2d}.", step)]
        lines += [*textwrap.wrap(block.note, WIDTH), ""]
    lines += ["Cautions", "--------"]
    lines += [part for caution in sheet.cautions for part in _item(" –", caution)]
    lines += ["", "To fill in, and to enter in the register", "-" * 40]
    lines += [f"{box:.<48} " for box in BOXES]
    return "\n".join(lines) + "\n"


def _item(mark: str, words: str) -> list[str]:
    return textwrap.wrap(words, WIDTH, initial_indent=f"{mark} ", subsequent_indent="    ")


def _sizes(sheet: MountSheet) -> list[tuple[str, str]]:
    work = sheet.work
    panel = f"{number(sheet.panel_width_mm)} × {number(sheet.panel_height_mm)} mm"
    target = with_unit(sheet.target_rh_pct, "%RH") if sheet.target_rh_pct else "to be agreed"
    weight = span(sheet.weight_kg.low, sheet.weight_kg.high, "kg")
    return [
        ("Print, width × height", f"{number(work.width_mm)} × {number(work.height_mm)} mm"),
        ("Paper", work.paper.value),
        ("Panel, cut to", f"{panel}, {number(sheet.panel_shows_mm)} mm showing on every side"),
        ("Panel, thickness", with_unit(sheet.panel_thickness_mm, "mm")),
        ("Mount at", target),
        ("Panel and glazing", f"about {weight}, without the frame"),
    ]


def _hinges(sheet: MountSheet) -> list[tuple[str, str]]:
    plan = sheet.hinges
    sides = f"{len(plan.along_width_mm)} top and bottom each, {len(plan.along_height_mm)} each side"
    return [
        ("Hinges in all", str(plan.count)),
        ("On each side", sides),
        ("Hinge", f"{number(plan.hinge_mm)} mm square, one edge feathered"),
        (
            "From start to start",
            f"{_pitch(plan.along_width_mm)} and {_pitch(plan.along_height_mm)}",
        ),
        ("Neighbours overlap by", _overlap(plan)),
        ("Glued", f"about {number(sheet.glue_line_mm)} mm in"),
        ("Behind the panel", f"about {number(sheet.hinge_behind_mm)} mm, once turned over"),
        ("Share of the edge held", with_unit(100.0 * plan.coverage, "%")),
    ]


def _pitch(starts: Sequence[float]) -> str:
    return with_unit(starts[1] - starts[0], "mm", 1) if len(starts) > 1 else "one hinge"


def _overlap(plan: HingePlan) -> str:
    along, up = (with_unit(max(overlap, 0.0), "mm", 1) for overlap in plan.overlap_mm)
    return f"{along} and {up}; corners overlap"


def _tapes(sheet: MountSheet) -> list[tuple[str, str]]:
    return [
        (
            tape.purpose.capitalize(),
            f"{tape.pieces} × {number(tape.piece_mm)} mm = {number(tape.total_mm / 1000.0, 1)} m",
        )
        for tape in sheet.tapes
    ]


def _adhesive(sheet: MountSheet) -> list[tuple[str, str]]:
    recipe = sheet.adhesive
    if recipe is None:
        return [("Cannot tell", "practice names none for this paper; ask a conservator")]
    return [
        ("Family", recipe.family),
        ("Mixed", recipe.recipe),
        ("Applied", recipe.application),
        ("Wait", recipe.waiting),
    ]
