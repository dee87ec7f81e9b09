"""The sentences of a judgement that need one number alone, and those on how a work was seen."""

import numpy as np

from analysis.chain.headroom import MOST_PCT
from analysis.learning.inspections import Inspection
from analysis.results import Range
from analysis.words import day, in_hundred, span, whole
from analysis.works import GLAZED, Work

LOOSE = "A hinge was found loose on"
LEAVE_IT = "Do not press it back; leave the frame level and call a conservator."


def seen_words(last: Inspection | None, first_grade: int) -> str:
    """Return the sentence about a last look that asks for another, or "".

    Parameters
    ----------
    last : Inspection or None
        How a work was last seen.
    first_grade : int
        Grade from which a work is to be seen again. A loose hinge is, whatever the grade.

    Examples
    --------
    >>> from datetime import UTC, datetime
    >>> seen_words(Inspection(datetime(2026, 3, 2, tzinfo=UTC), 2), 2)
    'It was graded 2 on 2 March 2026 and has not been seen since.'
    """
    if last is None:
        return ""
    if last.released:
        return f"{LOOSE} {day(last.at_utc)}, and nobody has found all to hold since. {LEAVE_IT}"
    if last.grade is None or last.grade < first_grade:
        return ""
    return f"It was graded {last.grade} on {day(last.at_utc)} and has not been seen since."


def headroom_words(up: Range) -> str:
    """Return how much headroom upwards is left [%RH]."""
    if up.mid > MOST_PCT - 1.0:
        return "its panel moves as much as it does, so a rise would not slacken it"
    if up.mid >= 0.5:
        return f"{whole(up.mid)} %RH of headroom ({_limits(up)})"
    if up.mid <= -0.5:
        return f"it is {whole(-up.mid)} %RH too damp to be taut (headroom {_limits(up)})"
    return f"no headroom is left ({_limits(up)} %RH)"


def _limits(up: Range) -> str:
    """Return "low to high", with ends beyond what is reckoned left open."""
    if up.high > MOST_PCT - 1.0:
        return f"{whole(up.low)} or more"
    return f"up to {whole(up.high)}" if up.low < 1.0 - MOST_PCT else span(up.low, up.high)


def against_mounting(sheet: Range, mounted_pct: float | None) -> str:
    """Return how far a print is from the humidity of its mounting, after a comma; or "" [%RH]."""
    if mounted_pct is None:
        return ""
    change = round(sheet.mid - mounted_pct)
    if change == 0:
        return ", as at mounting"
    return f", {abs(change)} % {'above' if change > 0 else 'below'} its mounting"


def clearance_words(work: Work, p_clearance: float) -> str:
    """Return the chance of touching the glazing, after a semicolon; NaN: it cannot be told."""
    if work.frame not in GLAZED:
        return "; nothing in front to touch"
    if np.isnan(p_clearance):
        return "; the clearance cannot be told, the spacer's depth is not recorded"
    return f"; touching the glazing: {in_hundred(p_clearance)}"
