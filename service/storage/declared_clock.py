"""The clock of a data folder: that on the wall, or a declared time noted when it was created.

A folder that was created on a declared clock keeps to it, and another time may be declared for
each command. In any other folder a declared clock answers, and neither writes nor sends.
"""

from datetime import datetime

from service.site_clock import Clock, time_written
from service.storage import places, uploads
from service.storage.register import Register, now_utc

CLOCK = "declared clock"


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
