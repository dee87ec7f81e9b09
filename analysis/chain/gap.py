"""The gap in front of a print: depth of the spacer less the bow of the glazing and of the panel.

One model for the draws of the estimator and for the sum of the spacer plan. Bow grows with the
square of the longest side and is taken towards each other.
"""

from dataclasses import dataclass, replace

from analysis.parameters import Parameter, parameter
from analysis.works import Glazing, Panel, Work

PANEL_ROWS = {
    Panel.PAPER_HONEYCOMB: "paper_honeycomb",
    Panel.METAL_FACED: "metal_honeycomb",
    Panel.MUSEUM_BOARD: "museum_board",
}


@dataclass(frozen=True)
class GapTerms:
    """What is added to the depth of the spacer, and what is taken from it [mm].

    ``glazing_bow_mm`` is None where there is no glazing.
    """

    tolerance_mm: Parameter
    glazing_bow_mm: Parameter | None
    panel_bow_mm: Parameter


def gap_terms(work: Work) -> GapTerms:
    """Return the terms of the gap of a work, each with its range.

    Examples
    --------
    >>> from analysis.works import Finish, Paper
    >>> large = Work("w", "Harbour", 2000.0, 1500.0, Paper.FIBRE_BASE, Finish.GLOSSY)
    >>> terms = gap_terms(large)
    >>> terms.glazing_bow_mm.value, terms.panel_bow_mm.value
    (4.0, 2.0)
    """
    span_m2 = (max(work.width_mm, work.height_mm) / 1000.0) ** 2
    panel = parameter("glazing", PANEL_ROWS[work.panel], "bow_mm_per_m2")
    glazing = None
    if work.glazing is not Glazing.NONE:
        glazing = _scaled(parameter("glazing", work.glazing.value, "bow_mm_per_m2"), span_m2)
    return GapTerms(
        tolerance_mm=parameter("glazing", "spacer", "depth_tolerance_mm"),
        glazing_bow_mm=glazing,
        panel_bow_mm=_scaled(panel, span_m2),
    )


def _scaled(row: Parameter, factor: float) -> Parameter:
    return replace(
        row, value=row.value * factor, low=row.low * factor, high=row.high * factor, unit="mm"
    )
