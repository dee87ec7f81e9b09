"""What people saw of a work, and what was learned from it: rows of its page."""

from dataclasses import dataclass
from datetime import datetime

from analysis.results import Range


@dataclass(frozen=True)
class InspectionLine:
    """One short inspection in the cumulative record of a work; "no change" is one too.

    ``photograph`` names the picture that is kept.
    """

    inspection_id: str
    at_utc: datetime
    grade: int
    by: str
    wave_mm: float | None = None
    place: str = ""
    lamp_side: str = ""
    note: str = ""
    withdrawn: bool = False
    released: bool | None = None
    finding: str | None = None
    photograph: str = ""


@dataclass(frozen=True)
class LearnedLine:
    """One parameter of a work before and after learning from inspections."""

    name: str
    unit: str
    before: Range
    after: Range
    note: str = ""

    @property
    def changed(self) -> bool:
        """Whether the range is narrower by a fifth, or its middle has moved by a fifth of it."""
        width = self.before.high - self.before.low
        if width <= 0.0:
            return False
        return self.narrowed or abs(self.after.mid - self.before.mid) >= 0.2 * width

    @property
    def narrowed(self) -> bool:
        """Whether the range is narrower by a fifth."""
        width = self.before.high - self.before.low
        return width > 0.0 and self.after.high - self.after.low <= 0.8 * width
