"""Inspections as learning sees them: what one short look found, and which looks count."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from analysis.errors import OutOfRangeError
from analysis.learning.grades import require_grade


@dataclass(frozen=True)
class Inspection:
    """One short look at a work.

    Parameters
    ----------
    at_utc : datetime
        When, with its zone.
    grade : int or None
        0 to 4; None: "no change" since the inspection before, which is an observation too.
    withdrawn : bool
        Found to be wrong later: kept in the record, left out of learning.
    wave_mm : float, optional
        Height of the highest wave from valley to peak, as measured; 0: none could be measured.
    released : bool, optional
        Whether a hinge was found to have let go; False: the edges were looked at and hold; None:
        not said, the edges were seen as part of the whole.
    """

    at_utc: datetime
    grade: int | None
    withdrawn: bool = False
    wave_mm: float | None = None
    released: bool | None = None


def standing(inspections: Sequence[Inspection]) -> list[Inspection]:
    """Return the inspections that count, in order, "no change" given the grade it refers to.

    A "no change" without an earlier grade says nothing, and is left out unless it brings a wave
    height or a word on the hinges.

    Raises
    ------
    OutOfRangeError
        If a grade is not 0 to 4, a wave height is negative, or a time has no zone.
    """
    counted: list[Inspection] = []
    for one in sorted((i for i in inspections if not i.withdrawn), key=lambda i: i.at_utc):
        _require_zone(one.at_utc)
        _require_height(one.wave_mm)
        grade = one.grade if one.grade is not None or not counted else counted[-1].grade
        if grade is not None:
            require_grade(grade)
        if (grade, one.wave_mm, one.released) != (None, None, None):
            counted.append(replace(one, grade=grade))
    return counted


def _require_zone(at_utc: datetime) -> None:
    if at_utc.tzinfo is None:
        raise OutOfRangeError(
            read="inspection",
            where="time",
            found=f"{at_utc} without a zone",
            expected="a time in UTC",
            action="State the zone.",
        )


def _require_height(wave_mm: float | None) -> None:
    if wave_mm is not None and not 0.0 <= wave_mm < float("inf"):
        raise OutOfRangeError(
            read="inspection",
            where="wave height",
            found=f"{wave_mm} mm",
            expected="0 mm (none that could be measured) or more",
            action="Measure again from valley to peak, or leave the field empty.",
        )
