"""Which planned event the air of an hour belongs to."""

from collections.abc import Iterable
from datetime import datetime, timedelta

from analysis.records.house_records import CalendarEvent

# A planned event may begin a little before its entered time, and its air lingers.
PLANNED_BEFORE, PLANNED_AFTER = timedelta(hours=1), timedelta(hours=6)


def planned_around(
    calendar: Iterable[CalendarEvent], since_utc: datetime, until_utc: datetime
) -> CalendarEvent | None:
    """Return the planned event to whose hours a stretch of air belongs, or None.

    Examples
    --------
    >>> from datetime import UTC
    >>> six = datetime(2026, 3, 19, 18, tzinfo=UTC)
    >>> show = CalendarEvent("house", "opening", six, "Opening", to_utc=six + timedelta(hours=3))
    >>> hour = timedelta(hours=1)
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
