"""Clearance to the glazing: spacer depth less the waves, the glazing's and the panel's bow."""

from dataclasses import dataclass

from analysis.chain.gap import gap_terms
from analysis.errors import OutOfRangeError
from analysis.parameters import Parameter, parameter
from analysis.planning.hinges import require_positive_mm
from analysis.results import Range
from analysis.works import Glazing, Work


@dataclass(frozen=True)
class Clearance:
    """The sum, term by term [mm]; ``clearance_mm`` is None where it cannot be told.

    ``needed_mm`` is the depth of spacer that leaves the agreed clearance: with every term at its
    best, at its middle, at its worst. ``enough`` is None where it cannot be told. The range of the
    sum takes every term at its worst, or best, at once.
    """

    spacer_mm: Range | None
    wave_mm: Range | None
    glazing_bow_mm: Range | None
    panel_bow_mm: Range
    clearance_mm: Range | None
    needed_mm: Range | None
    agreed_minimum_mm: float
    enough: bool | None
    glazed: bool


def clearance(
    work: Work, wave_mm: Range | None, agreed_minimum_mm: float | None = None
) -> Clearance:
    """Return the clearance left in front of a print.

    Parameters
    ----------
    work : Work
        Its spacer, glazing, panel and size are used.
    wave_mm : Range or None
        Height of the waves from peak to valley [mm], from the estimator; None: refused there.
    agreed_minimum_mm : float, optional
        What the site has agreed [mm]; default the proposal in ``glazing.toml``.

    Raises
    ------
    OutOfRangeError
        If a depth or size is not above zero.
    """
    if agreed_minimum_mm is None:
        agreed_minimum_mm = parameter("glazing", "spacer", "agreed_minimum_mm").value
    _require_lengths(work, agreed_minimum_mm)
    terms = gap_terms(work)
    panel_bow = _range(terms.panel_bow_mm)
    glazing_bow = None if terms.glazing_bow_mm is None else _range(terms.glazing_bow_mm)
    spacer = _spacer(work, terms.tolerance_mm)
    total = None
    if spacer and wave_mm and glazing_bow:
        total = _difference(spacer, wave_mm, glazing_bow, panel_bow)
    needed = None
    if wave_mm and glazing_bow:
        needed = _needed(terms.tolerance_mm, agreed_minimum_mm, wave_mm, glazing_bow, panel_bow)
    return Clearance(
        spacer_mm=spacer,
        wave_mm=wave_mm,
        glazing_bow_mm=glazing_bow,
        panel_bow_mm=panel_bow,
        clearance_mm=total,
        needed_mm=needed,
        agreed_minimum_mm=agreed_minimum_mm,
        enough=None if total is None else total.low >= agreed_minimum_mm,
        glazed=work.glazing is not Glazing.NONE,
    )


def _require_lengths(work: Work, agreed_minimum_mm: float) -> None:
    read = f"work {work.work_id}"
    for where, value in (("width", work.width_mm), ("height", work.height_mm)):
        require_positive_mm(read, where, value)
    if work.spacer_mm is not None:
        require_positive_mm(read, "spacer depth", work.spacer_mm)
    if not agreed_minimum_mm >= 0.0:
        raise OutOfRangeError(
            read=read,
            where="agreed minimum clearance",
            found=f"{agreed_minimum_mm:g} mm",
            expected="0 mm or more",
            action="Give the clearance that was agreed for this site.",
        )


def _spacer(work: Work, tolerance: Parameter) -> Range | None:
    if work.spacer_mm is None:
        return None
    depth = work.spacer_mm
    return Range(depth + tolerance.low, depth + tolerance.value, depth + tolerance.high)


def _range(row: Parameter) -> Range:
    return Range(row.low, row.value, row.high)


def _difference(depth: Range, *terms: Range) -> Range:
    return Range(
        depth.low - sum(t.high for t in terms),
        depth.mid - sum(t.mid for t in terms),
        depth.high - sum(t.low for t in terms),
    )


def _needed(slack: Parameter, agreed_minimum_mm: float, *terms: Range) -> Range:
    """Return the depth that leaves the agreed clearance, a spacer's own tolerance included."""
    return Range(
        agreed_minimum_mm + sum(t.low for t in terms) - slack.high,
        agreed_minimum_mm + sum(t.mid for t in terms) - slack.value,
        agreed_minimum_mm + sum(t.high for t in terms) - slack.low,
    )
