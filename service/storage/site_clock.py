"""The clock of a data folder: that on the wall, or a declared time noted when it was created.

A folder that was created on a declared clock keeps to it, and another time may be declared for
each command. In any other folder a declared clock answers, and neither writes nor sends.
"""

from dataclasses import dataclass
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from analysis.errors import OutOfRangeError
from service.storage import places, uploads
from service.storage.register import Register, now_utc

CLOCK = "declared clock"


# What time it is: by the clock on the wall, or a declared time that stands still.
#
# Everything that answers for a time asks `Clock.now`; audit, sessions and leases keep the real
# clock.


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


def clock_of(register: Register, as_if: str) -> Clock:
    """Return the clock for a register: as declared now, as noted at its creation, or the wall's.

    Raises
    ------
    OutOfRangeError
        If ``as_if`` is no time.
    """
    if as_if.strip():
        return Clock(_written(register, as_if))
    noted = _noted(register)
    return Clock(None if noted is None else datetime.fromisoformat(str(noted.value)))


def open_on(register: Register, as_if: str) -> None:
    """Note a declared clock in a new register; let it not write where the folder has none."""
    if not as_if.strip():
        return
    at_utc = _written(register, as_if)
    declare(register, at_utc)
    if _noted(register) is None:
        register.refuses_to_write = (
            "a folder that was not created on a declared clock",
            "Leave --as-if or STILLTAUT_AS_IF out, or begin a new data folder with it.",
        )


def declare(register: Register, at_utc: datetime) -> None:
    """Note a declared clock in a register that holds nothing yet; leave any other as it is."""
    if places.settings(register) or places.sites(register) or uploads.uploads(register):
        return
    places.put_setting(
        register, places.SiteSetting(CLOCK, at_utc.isoformat(), now_utc(), "created on it")
    )


def _noted(register: Register) -> places.SiteSetting | None:
    return next(iter(places.settings(register, CLOCK)), None)


def _written(register: Register, as_if: str) -> datetime:
    site = next(iter(places.sites(register)), None)
    zone = "UTC" if site is None else site.zone
    return time_written(as_if, zone, read="the declared clock", where="--as-if")


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
