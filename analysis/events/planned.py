"""Which planned event the air of an hour belongs to."""

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Protocol, TypeVar

# A planned event may begin a little before its entered time, and its air lingers.
PLANNED_BEFORE, PLANNED_AFTER = timedelta(hours=1), timedelta(hours=6)


class Lasting(Protocol):
    """What begins at a time and ends at one, or is one moment."""

    @property
    def from_utc(self) -> datetime:
        """Its beginning."""

    @property
    def to_utc(self) -> datetime | None:
        """Its end; None: it is one moment."""


Entry = TypeVar("Entry", bound=Lasting)


def planned_around(
    calendar: Iterable[Entry], since_utc: datetime, until_utc: datetime
) -> Entry | None:
    """Return the planned event to whose hours a stretch of air belongs, or None.

    Examples
    --------
    >>> from datetime import UTC
    >>> from analysis.results import Planned
    >>> six, hour = datetime(2026, 3, 19, 18, tzinfo=UTC), timedelta(hours=1)
    >>> show = Planned("Opening", six, six + 3 * hour)
    >>> planned_around([show], six + hour, six + 5 * hour).title
    'Opening'
    >>> planned_around([show], six + hour, six + 12 * hour) is None
    True
    """
    for event in calendar:
        end = event.to_utc or event.from_utc
        if event.from_utc - PLANNED_BEFORE <= since_utc and until_utc <= end + PLANNED_AFTER:
            return event
    return None
