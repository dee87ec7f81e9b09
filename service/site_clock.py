"""What time it is: by the clock on the wall, or a declared time that stands still.

Everything that answers for a time asks `Clock.now`; audit, sessions and leases keep the real clock.
"""

from dataclasses import dataclass
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from analysis.errors import OutOfRangeError


@dataclass(frozen=True)
class Clock:
    """The clock of a museum; ``declared_utc`` is None for that on the wall.

    Examples
    --------
    >>> Clock(datetime(2026, 3, 22, 9, tzinfo=UTC)).now().isoformat()
    '2026-03-22T09:00:00+00:00'
    """

    declared_utc: datetime | None = None

    def now(self) -> datetime:
        """Return the present, in UTC."""
        return self.declared_utc or datetime.now(UTC)


def time_written(text: str, zone: str, *, read: str, where: str) -> datetime:
    """Return a time that a person wrote, in the site's zone unless it names its own, as UTC.

    Raises
    ------
    OutOfRangeError
        If it is no time.

    Examples
    --------
    >>> time_written("2026-07-01T14:00", "Europe/Dublin", read="doc", where="at").isoformat()
    '2026-07-01T13:00:00+00:00'
    """
    try:
        when = datetime.fromisoformat(text.strip())
    except ValueError:
        when = None
    if when is None or not 1900 < when.year < 2200:
        raise OutOfRangeError(
            read=read,
            where=where,
            found=repr(text),
            expected="a date and time such as 2026-03-20T14:00",
            action="Correct it; without a zone it is taken in that of the site.",
        )
    return (when if when.tzinfo else when.replace(tzinfo=ZoneInfo(zone))).astimezone(UTC)
