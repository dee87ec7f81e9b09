"""The mount sheet as blocks for a page and as plain text for the bench."""

import textwrap
from collections.abc import Sequence

from analysis.planning.hinges import HingePlan
from analysis.planning.mount_sheet import ORIGIN, AdhesiveFamily, AdhesiveRecipe, MountSheet
from dashboards.lines import SheetBlock
from dashboards.text.messages import N_, _
from dashboards.text.wording import capital, number, significant, span, with_unit

WIDTH = 78
CAUTIONS = (
    N_("A qualified conservator decides on the mount; this sheet only counts and measures."),
    N_(
        "Solvents and adhesives: in the studio only, with extraction, gloves and a written "
        "chemical "
        "plan. Ethanol burns: no flame, no spark, no hot lamp near it."
    ),
    N_("Neither adhesive brings water to the print; keep wet brushes and cloths away from it."),
    N_(
        "Touch the print by its edges with clean gloves; two people turn a large sheet, on a board."
    ),
    N_(
        "Spot-test stamps, inks and retouching before any solvent or moisture; where they run, "
        "ask a "
        "conservator."
    ),
    N_(
        "Glazed frames are heavy: two people or more, a trolley, a clear route, the place made "
        "ready "
        "before lifting."
    ),
    N_(
        "Working at height: trained staff, the right equipment, two people, the gallery closed "
        "below."
    ),
    N_("Local law, fire rules and the lender's terms come first."),
)
LAST_STEPS = (
    N_("Lay the print on the panel, the same margin showing on every side; turn the hinges over."),
    N_(
        "Tape the hinges behind from the middle of each side towards the corners, one piece as "
        "wide as "
        "the hinge on each."
    ),
    N_("Run one full strip of tape behind along each side."),
    N_("Air the hinges a day or more, until no solvent can be smelt, before glazing."),
    N_(
        "Set spacers of archival board, since they touch: each rests on the print's edge and "
        "keeps it "
        "in place; glaze and close."
    ),
    N_(
        "It is meant to stay framed; taking hinges off is a conservator's work. Fill in the boxes, "
        "enter them in the register."
    ),
)
# What to write down at the bench, so that it comes back into the register.
BOXES = (
    N_("Mounted on (day)"),
    N_("Mounted by"),
    N_("Lot of the adhesive"),
    N_("Humidity at mounting, measured, %RH"),
    N_("Temperature at mounting, °C"),
    N_("Lot of the tissue"),
    N_("Free hinge, print edge to where fixed, mm"),
    N_("Mounted damp? (yes or no)"),
    N_("Grain of the print"),
    N_("Closed on (day)"),
    N_("Closed by"),
    N_("Depth of the spacer, mm"),
    N_("Humidity at closing, measured, %RH"),
    N_("Temperature at closing, °C"),
)


def blocks(sheet: MountSheet) -> list[SheetBlock]:
    """Return the mount sheet as headed blocks: sizes, hinges, tape, adhesive, order of work."""
    return [
        SheetBlock(_("Sizes"), rows=_sizes(sheet), note=_("Panel: {origin}.", origin=_(ORIGIN))),
        SheetBlock(_("Hinges"), rows=_hinges(sheet), note=f"{capital(_(ORIGIN))}."),
        SheetBlock(_("Tape"), rows=_tapes(sheet), note=f"{capital(_(ORIGIN))}."),
        SheetBlock(_("Adhesive"), rows=_adhesive(sheet), note=f"{capital(_(ORIGIN))}."),
        SheetBlock(_("Order of work"), steps=steps(sheet), note=f"{capital(_(ORIGIN))}."),
    ]


def text(sheet: MountSheet) -> str:
    """Return the mount sheet as plain text, 78 characters wide."""
    work = sheet.work
    lines = [_("Mount sheet: {title} ({work_id})", title=work.title, work_id=work.work_id), ""]
    for block in blocks(sheet):
        lines += [block.heading, "-" * len(block.heading)]
        lines += [f"{name:<32}{value}" for name, value in block.rows]
        lines += [part for i, step in enumerate(block.steps, 1) for part in _item(f"{i:2d}.", step)]
        lines += [*textwrap.wrap(block.note, WIDTH), ""]
    lines += [_("Cautions"), "--------"]
    lines += [part for caution in CAUTIONS for part in _item(" –", _(caution))]
    lines += ["", _("To fill in, and to enter in the register"), "-" * 40]
    lines += [f"{_(box):.<48} " for box in BOXES]
    return "\n".join(lines) + "\n"


def _item(mark: str, words: str) -> list[str]:
    return textwrap.wrap(words, WIDTH, initial_indent=f"{mark} ", subsequent_indent="    ")


def _sizes(sheet: MountSheet) -> list[tuple[str, str]]:
    work = sheet.work
    panel = f"{number(sheet.panel_width_mm)} × {number(sheet.panel_height_mm)} mm"
    target = with_unit(sheet.target_rh_pct, "%RH") if sheet.target_rh_pct else _("to be agreed")
    weight = span(sheet.weight_kg.low, sheet.weight_kg.high, "kg")
    return [
        (_("Print, width × height"), f"{number(work.width_mm)} × {number(work.height_mm)} mm"),
        (_("Paper"), _(work.paper.value)),
        (
            _("Panel, cut to"),
            _(
                "{panel}, {panel_shows} mm showing on every side",
                panel=panel,
                panel_shows=number(sheet.panel_shows_mm),
            ),
        ),
        (_("Panel, thickness"), with_unit(sheet.panel_thickness_mm, "mm")),
        (_("Mount at"), target),
        (_("Panel and glazing"), _("about {weight}, without the frame", weight=weight)),
    ]


def _hinges(sheet: MountSheet) -> list[tuple[str, str]]:
    plan = sheet.hinges
    sides = _(
        "{along} top and bottom each, {up} each side",
        along=len(plan.along_width_mm),
        up=len(plan.along_height_mm),
    )
    return [
        (_("Hinges in all"), str(plan.count)),
        (_("On each side"), sides),
        (_("Hinge"), _("{hinge} mm square, one edge feathered", hinge=number(plan.hinge_mm))),
        (
            _("From start to start"),
            _(
                "{along} and {up}",
                along=_pitch(plan.along_width_mm),
                up=_pitch(plan.along_height_mm),
            ),
        ),
        (_("Neighbours overlap by"), _overlap(plan)),
        (_("Glued"), _("about {glue_line} mm in", glue_line=number(sheet.glue_line_mm))),
        (
            _("Behind the panel"),
            _(
                "about {hinge_behind} mm, once turned over",
                hinge_behind=number(sheet.hinge_behind_mm),
            ),
        ),
        (_("Share of the edge held"), with_unit(100.0 * plan.coverage, "%")),
    ]


def _pitch(starts: Sequence[float]) -> str:
    return with_unit(starts[1] - starts[0], "mm", 1) if len(starts) > 1 else _("one hinge")


def _overlap(plan: HingePlan) -> str:
    along, up = (with_unit(max(overlap, 0.0), "mm", 1) for overlap in plan.overlap_mm)
    return _("{along} and {up}; corners overlap", along=along, up=up)


def _tapes(sheet: MountSheet) -> list[tuple[str, str]]:
    return [
        (
            capital(_(tape.purpose)),
            f"{tape.pieces} × {number(tape.piece_mm)} mm = {number(tape.total_mm / 1000.0, 1)} m",
        )
        for tape in sheet.tapes
    ]


def _adhesive(sheet: MountSheet) -> list[tuple[str, str]]:
    recipe = sheet.adhesive
    if recipe is None:
        return [(_("Cannot tell"), _("practice names none for this paper; ask a conservator"))]
    names = (_("Family"), _("Mixed"), _("Applied"), _("Wait"))
    return list(zip(names, adhesive_words(recipe), strict=True))


def adhesive_words(recipe: AdhesiveRecipe) -> tuple[str, str, str, str]:
    """Return an adhesive's family, how it is mixed, applied, and how long to wait."""
    figures = {name: significant(value) for name, value in recipe.figures.items()}
    if recipe.family is AdhesiveFamily.ACRYLIC:
        return (
            _("acrylic dispersions, one firm and one soft"),
            _(
                "{firm_parts} part of the firm to {soft_parts} part of the soft, by weight",
                **figures,
            ),
            _("brushed on the hinge; once tacky, burnished down without weights"),
            _("{tacky_after_h} h, free of dust, until tacky", **figures),
        )
    return (
        _("cellulose ether in ethanol"),
        _("{cellulose_ether_pct} % cellulose ether in ethanol", **figures),
        _("the hinge applied wet, {few} or {many} at a time, under weights", **figures),
        _("about {drying_min} min to dry, under weights", **figures),
    )


def steps(sheet: MountSheet) -> list[str]:
    """Return the order of work at the bench."""
    target = sheet.target_rh_pct
    rest = (
        _(
            "Let print, tissue and panel lie single in air at the agreed humidity until they stop "
            "moving."
        )
        if target is None
        else _(
            "Let print, tissue and panel lie single in air at {rh} %RH until they stop moving.",
            rh=significant(target),
        )
    )
    cut = _(
        "Cut {count} hinges of Japanese tissue, {size} square, one edge feathered.",
        count=number(sheet.hinges.count),
        size=f"{significant(sheet.hinges.hinge_mm)} mm",
    )
    glue = _(
        "Glue the feathered edge about {depth} in, behind the print, round all four edges, "
        "overlapping at the corners; none in the middle of the sheet.",
        depth=f"{significant(sheet.glue_line_mm)} mm",
    )
    return [
        rest,
        _("Cut the panel from archival honeycomb and tape its cut edges."),
        _("Lay the print face down on clean non-woven polyester, over blotter, over a flat board."),
        cut,
        glue,
        _sticking(sheet.adhesive),
        *(_(step) for step in LAST_STEPS),
    ]


def _sticking(recipe: AdhesiveRecipe | None) -> str:
    if recipe is None:
        return _("Practice names no adhesive for this paper: ask a conservator before going on.")
    _family, mixed, applied, wait = adhesive_words(recipe)
    return _("Adhesive: {mixed}, {applied}; {wait}.", mixed=mixed, applied=applied, wait=wait)
