"""The mount sheet for the bench: sizes, hinges, tape, adhesive, order of work, cautions."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from analysis.errors import OutOfRangeError
from analysis.parameters import Parameter, parameter, table
from analysis.planning.hinges import HingePlan, hinge_plan
from analysis.planning.year import require_tension_held
from analysis.results import Range
from analysis.works import Glazing, Paper, Work

ORIGIN = "common practice, no source"


class AdhesiveFamily(StrEnum):
    """What practice sticks hinges with."""

    ACRYLIC = "acrylic dispersions"
    CELLULOSE_ETHER = "cellulose ether in ethanol"


@dataclass(frozen=True)
class AdhesiveRecipe:
    """The adhesive that practice uses on one kind of paper, with the figures of its recipe.

    ``figures`` are, of acrylic dispersions, ``firm_parts``, ``soft_parts`` and ``tacky_after_h``;
    of cellulose ether ``cellulose_ether_pct``, ``few`` and ``many`` hinges at a time and
    ``drying_min``.
    """

    family: AdhesiveFamily
    figures: Mapping[str, float]


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
    require_tension_held(work)
    target = work.mounted_rh_pct if target_rh_pct is None else target_rh_pct
    _require_humidity(work, target)
    plan = hinge_plan(work.width_mm, work.height_mm, pitch_mm=pitch_mm)
    oversize = _value("panel", "oversize_mm")
    width, height = work.width_mm + oversize, work.height_mm + oversize
    thickness, glue = (
        panel_thickness_mm(work.width_mm, work.height_mm),
        _value("hinge", "glue_line_mm"),
    )
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
        adhesive=adhesive_for(work.paper),
        target_rh_pct=target,
        weight_kg=_weight(work, width * height / 1e6),
        facts=[row for group in table("mounting").values() for row in group.values()],
    )


def panel_thickness_mm(width_mm: float, height_mm: float) -> float:
    """Return the honeycomb's thickness that practice takes for a sheet of this size [mm]."""
    large = max(width_mm, height_mm) >= _value("panel", "large_from_mm")
    return _value("panel", "thickness_large_mm" if large else "thickness_mm")


def adhesive_for(paper: Paper) -> AdhesiveRecipe | None:
    """Return the adhesive that practice uses on a paper, or None where it names none."""
    if paper in (Paper.RESIN_COATED, Paper.INKJET_RESIN_COATED):
        names = ("firm_parts", "soft_parts", "tacky_after_h")
        figures = {name: _value("resin_coated", name) for name in names}
        return AdhesiveRecipe(AdhesiveFamily.ACRYLIC, figures)
    if paper is Paper.FIBRE_BASE:
        batch = parameter("mounting", "fibre_base", "hinges_at_a_time")
        figures = {
            name: _value("fibre_base", name) for name in ("cellulose_ether_pct", "drying_min")
        }
        figures |= {"few": batch.low, "many": batch.high}
        return AdhesiveRecipe(AdhesiveFamily.CELLULOSE_ETHER, figures)
    return None


def _value(group: str, name: str) -> float:
    return parameter("mounting", group, name).value


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
