"""Whether a room kept to what a lender asks over dates: met, not met, or nothing can be told."""

from collections.abc import Sequence
from dataclasses import replace
from enum import StrEnum

from analysis.limits.published_limits import Definition, Limit, band_limit
from analysis.limits.verdict import LimitVerdict, Outcome
from analysis.results import Band, Coverage


class Kept(StrEnum):
    """What may be said of a lender's terms."""

    MET = "met"
    NOT_MET = "not met"
    CANNOT_TELL = "cannot tell"


def lenders_limit(
    band: Band, *, change_rh_pct: float | None, change_temp_c: float | None, definition: Definition
) -> Limit:
    """Return a lender's terms as a limit; the dates that were asked for are the whole record."""
    limit = band_limit(
        band, short_rh_pct=change_rh_pct, short_temp_c=change_temp_c, definition=definition
    )
    return replace(limit, minimum_record_days=0.0, required_share_pct=100.0, source="Lender")


def kept(verdict: LimitVerdict, measured: Sequence[Coverage]) -> Kept:
    """Return whether terms were met, from a verdict and how much of the dates was measured.

    What was surely outside is not met, however little was measured. Met needs enough of the dates
    measured for every quantity, and every moment inside by more than the sensor's uncertainty.
    """
    if verdict.outcome is Outcome.OUTSIDE:
        return Kept.NOT_MET
    enough = all(one.enough for one in measured)
    return Kept.MET if enough and verdict.outcome is Outcome.INSIDE else Kept.CANNOT_TELL
