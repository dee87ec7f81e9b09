"""The mount sheet for the bench: sizes, hinges, tape, adhesive, order of work, cautions."""

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.errors import OutOfRangeError
from analysis.parameters import Parameter, parameter, table
from analysis.planning.hinges import HingePlan, hinge_plan
from analysis.results import Range
from analysis.works import Glazing, Mount, Paper, Work

ORIGIN = "common practice, no source"
CAUTIONS = (
    "A qualified conservator decides on the mount; this sheet only counts and measures.",
    "Solvents and adhesives: in the studio only, with extraction, gloves and a written chemical "
    "plan. Ethanol burns: no flame, no spark, no hot lamp near it.",
    "Neither adhesive brings water to the print; keep wet brushes and cloths away from it.",
    "Touch the print by its edges with clean gloves; two people turn a large sheet, on a board.",
    "Spot-test stamps, inks and retouching before any solvent or moisture; where they run, ask a "
    "conservator.",
    "Glazed frames are heavy: two people or more, a trolley, a clear route, the place made ready "
    "before lifting.",
    "Working at height: trained staff, the right equipment, two people, the gallery closed below.",
    "Local law, fire rules and the lender's terms come first.",
)


@dataclass(frozen=True)
class AdhesiveRecipe:
    """The adhesive that practice uses on one kind of paper."""

    family: str
    recipe: str
    application: str
    waiting: str


@dataclass(frozen=True)
class TapeLength:
    """A run of tape behind the panel [mm]."""

    purpose: str
    pieces: int
    piece_mm: float

    @property
    def total_mm(self) -> float:
        """All pieces end to end."""
        return self.pieces * self.piece_mm


@dataclass(frozen=True)
class MountSheet:
    """Everything the bench needs on one page.

    ``hinge_behind_mm`` is how far a hinge reaches behind the panel once it is turned over.
    ``adhesive`` is None where practice gives none for the paper. ``weight_kg`` is of panel and
    glazing, without the frame. ``facts`` are the table rows used, for the small print.
    """

    work: Work
    panel_width_mm: float
    panel_height_mm: float
    panel_thickness_mm: float
    panel_shows_mm: float
    hinges: HingePlan
    glue_line_mm: float
    hinge_behind_mm: float
    tapes: Sequence[TapeLength]
    adhesive: AdhesiveRecipe | None
    target_rh_pct: float | None
    weight_kg: Range
    steps: Sequence[str]
    cautions: Sequence[str]
    facts: Sequence[Parameter]


def mount_sheet(
    work: Work, *, target_rh_pct: float | None = None, pitch_mm: float | None = None
) -> MountSheet:
    """Return the mount sheet of a tension-held work.

    Parameters
    ----------
    work : Work
        Size, paper, panel and glazing are used.
    target_rh_pct : float, optional
        Humidity to mount at [%]; default the work's own, or "to be agreed".
    pitch_mm : float, optional
        From one hinge to the next [mm]; default side by side.

    Raises
    ------
    OutOfRangeError
        If a size is not above zero, the humidity no humidity, or the work not held by tension.
    """
    _require_tension_held(work)
    target = work.mounted_rh_pct if target_rh_pct is None else target_rh_pct
    _require_humidity(work, target)
    plan = hinge_plan(work.width_mm, work.height_mm, pitch_mm=pitch_mm)
    oversize = _value("panel", "oversize_mm")
    width, height = work.width_mm + oversize, work.height_mm + oversize
    thickness, glue = (
        panel_thickness_mm(work.width_mm, work.height_mm),
        _value("hinge", "glue_line_mm"),
    )
    adhesive = adhesive_for(work.paper)
    return MountSheet(
        work=work,
        panel_width_mm=width,
        panel_height_mm=height,
        panel_thickness_mm=thickness,
        panel_shows_mm=oversize / 2.0,
        hinges=plan,
        glue_line_mm=glue,
        hinge_behind_mm=max(plan.hinge_mm - glue - oversize / 2.0 - thickness, 0.0),
        tapes=_tapes(plan, width, height),
        adhesive=adhesive,
        target_rh_pct=target,
        weight_kg=_weight(work, width * height / 1e6),
        steps=_steps(plan, adhesive, target),
        cautions=CAUTIONS,
        facts=[row for group in table("mounting").values() for row in group.values()],
    )


def panel_thickness_mm(width_mm: float, height_mm: float) -> float:
    """Return the honeycomb's thickness that practice takes for a sheet of this size [mm]."""
    large = max(width_mm, height_mm) >= _value("panel", "large_from_mm")
    return _value("panel", "thickness_large_mm" if large else "thickness_mm")


def adhesive_for(paper: Paper) -> AdhesiveRecipe | None:
    """Return the adhesive that practice uses on a paper, or None where it names none."""
    if paper in (Paper.RESIN_COATED, Paper.INKJET_RESIN_COATED):
        firm, soft = _value("resin_coated", "firm_parts"), _value("resin_coated", "soft_parts")
        return AdhesiveRecipe(
            family="acrylic dispersions, one firm and one soft",
            recipe=f"{firm:g} part of the firm to {soft:g} part of the soft, by weight",
            application="brushed on the hinge; once tacky, burnished down without weights",
            waiting=f"{_value('resin_coated', 'tacky_after_h'):g} h, free of dust, until tacky",
        )
    if paper is Paper.FIBRE_BASE:
        batch = parameter("mounting", "fibre_base", "hinges_at_a_time")
        return AdhesiveRecipe(
            family="cellulose ether in ethanol",
            recipe=f"{_value('fibre_base', 'cellulose_ether_pct'):g} % cellulose ether in ethanol",
            application=f"the hinge applied wet, {batch.low:g} or {batch.high:g} at a time, "
            "under weights",
            waiting=f"about {_value('fibre_base', 'drying_min'):g} min to dry, under weights",
        )
    return None


def _value(group: str, name: str) -> float:
    return parameter("mounting", group, name).value


def _require_tension_held(work: Work) -> None:
    if work.mount is not Mount.TENSION_HELD:
        raise OutOfRangeError(
            read=f"work {work.work_id}",
            where="mount",
            found=work.mount.value,
            expected=Mount.TENSION_HELD.value,
            action="This sheet is for tension-held prints only; correct the register if it is one.",
        )


def _require_humidity(work: Work, rh_pct: float | None) -> None:
    if rh_pct is not None and not 0.0 < rh_pct < 100.0:
        raise OutOfRangeError(
            read=f"work {work.work_id}",
            where="humidity to mount at",
            found=f"{rh_pct:g} %",
            expected="a relative humidity between 0 and 100 %",
            action="Correct the option or the register.",
        )


def _tapes(plan: HingePlan, width_mm: float, height_mm: float) -> list[TapeLength]:
    return [
        TapeLength("panel edges, top and bottom", 2, width_mm),
        TapeLength("panel edges, sides", 2, height_mm),
        TapeLength("behind each hinge", plan.count, plan.hinge_mm),
        TapeLength("full strip, top and bottom", 2, width_mm),
        TapeLength("full strip, sides", 2, height_mm),
    ]


def _weight(work: Work, area_m2: float) -> Range:
    panel = parameter("mounting", "handling", "panel_kg_m2")
    thickness = parameter("mounting", "handling", "glazing_thickness_mm")
    sheet = None
    if work.glazing is not Glazing.NONE:
        sheet = parameter("mounting", "handling", f"{work.glazing.value}_kg_m2_mm")
    ends = []
    for end in ("low", "value", "high"):
        glazing = getattr(sheet, end) * getattr(thickness, end) if sheet else 0.0
        ends.append(area_m2 * (getattr(panel, end) + glazing))
    return Range(*ends)


def _steps(
    plan: HingePlan, adhesive: AdhesiveRecipe | None, target_rh_pct: float | None
) -> list[str]:
    target = "the agreed humidity" if target_rh_pct is None else f"{target_rh_pct:g} %RH"
    glue = _value("hinge", "glue_line_mm")
    sticking = (
        f"Adhesive: {adhesive.recipe}, {adhesive.application}; {adhesive.waiting}."
        if adhesive
        else "Practice names no adhesive for this paper: ask a conservator before going on."
    )
    return [
        f"Let print, tissue and panel lie single in air at {target} until they stop moving.",
        "Cut the panel from archival honeycomb and tape its cut edges.",
        "Lay the print face down on clean non-woven polyester, over blotter, over a flat board.",
        f"Cut {plan.count} hinges of Japanese tissue, {plan.hinge_mm:g} mm square, one edge "
        "feathered.",
        f"Glue the feathered edge about {glue:g} mm in, behind the print, round all four edges, "
        "overlapping at the corners; none in the middle of the sheet.",
        sticking,
        "Lay the print on the panel, the same margin showing on every side; turn the hinges over.",
        "Tape the hinges behind from the middle of each side towards the corners, one piece as "
        "wide as the hinge on each.",
        "Run one full strip of tape behind along each side.",
        "Air the hinges a day or more, until no solvent can be smelt, before glazing.",
        "Set spacers of archival board, since they touch: each rests on the print's edge and keeps "
        "it in place; glaze and close.",
        "It is meant to stay framed; taking hinges off is a conservator's work. Fill in the boxes, "
        "enter them in the register.",
    ]
