"""Which clock: zones, fixed offsets, clocks without summer time, and the two odd hours a year."""

import difflib
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo, available_timezones

import numpy as np
import numpy.typing as npt

from analysis.series import Flag
from service.errors import QuestionError

Micros = npt.NDArray[np.int64]
Flags = npt.NDArray[np.int32]

SECOND_US = 1_000_000
HOUR_US = 3600 * SECOND_US
DAY_US = 24 * HOUR_US

_OFFSET = re.compile(
    r"(?:utc|gmt|ut|z)?\s*(?:(?P<sign>[+\-−])\s*(?P<hours>\d{1,2})(?::?(?P<minutes>\d{2}))?)?",
    re.IGNORECASE,
)
_FIXED = re.compile(
    r"(.+?)[\s,]+(?:no[-_ ]?dst|without (?:summer time|dst)|standard(?: time)?|winter time)",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class TimeBase:
    """A declared clock: a zone with its summer time, or a fixed offset.

    Attributes
    ----------
    name : str
        As it is shown: "Europe/Oslo", "UTC+02:00", "Europe/Oslo without summer time".
    zone : zoneinfo.ZoneInfo or None
        None for a fixed offset.
    offset_s : int
        The fixed offset from UTC, east positive; unused with a zone [s].
    """

    name: str
    zone: ZoneInfo | None
    offset_s: int = 0

    def to_utc(self, local_us: Micros) -> tuple[Micros, Flags]:
        """Return instants and flags of one clock's own times, in the order they were written.

        Parameters
        ----------
        local_us : numpy.ndarray of int64, shape (n,)
            Clock times as microseconds since 1970-01-01T00:00 of that clock.

        Returns
        -------
        utc_us : numpy.ndarray of int64, shape (n,)
            Microseconds since 1970-01-01T00:00 UTC.
        flags : numpy.ndarray of int32, shape (n,)
            `Flag.DOUBLED_HOUR` where an hour came twice and the order does not tell which,
            taken as the first; `Flag.MISSING_HOUR` where the clock cannot have shown that time,
            taken as if summer time had not begun.
        """
        flags = np.zeros(len(local_us), np.int32)
        if self.zone is None or not len(local_us):
            return local_us - self.offset_s * SECOND_US, flags
        low, high = int(local_us.min()), int(local_us.max())
        changes = transitions(self.zone, low - 2 * DAY_US, high + 2 * DAY_US)
        first = _offset_us(self.zone, low - 2 * DAY_US)
        offsets, windows = _offsets(local_us, changes, first)
        odd = np.flatnonzero(windows >= 0)
        for number in np.unique(windows[odd]):
            inside = odd[windows[odd] == number]
            _settle(local_us, inside, changes[number], offsets, flags)
        return local_us - offsets, flags


@dataclass(frozen=True)
class Transition:
    """One change of a zone's offset [µs]."""

    utc_us: int
    before_us: int
    after_us: int


def time_base(read: str, text: str) -> TimeBase:
    """Return the clock that a text declares.

    Parameters
    ----------
    read : str
        What is being read, for messages.
    text : str
        An IANA zone, a fixed offset ("UTC+2", "+05:30"), or a zone and "no-dst".

    Raises
    ------
    QuestionError
        If no such zone exists; near names are listed.

    Examples
    --------
    >>> time_base("a.csv", "UTC+2").offset_s, time_base("a.csv", "Europe/Oslo no-dst").offset_s
    (7200, 3600)
    """
    bare = text.strip()
    fixed = _FIXED.fullmatch(bare)
    if fixed:
        return _without_summer_time(read, fixed[1])
    offset = offset_s(bare)
    if offset is not None:
        return TimeBase(offset_name(offset), None, offset)
    if bare in _zones():
        return TimeBase(bare, ZoneInfo(bare))
    folded = {name.casefold(): name for name in _zones()}
    if bare.casefold() in folded:
        return TimeBase(folded[bare.casefold()], ZoneInfo(folded[bare.casefold()]))
    raise _unknown(read, text, folded)


@cache
def _zones() -> frozenset[str]:
    return frozenset(available_timezones())


def _unknown(read: str, text: str, folded: dict[str, str]) -> QuestionError:
    cities = {name.rpartition("/")[2]: name for name in sorted(folded)}
    wanted = text.strip().casefold().replace(" ", "_")
    near = difflib.get_close_matches(wanted, folded, n=3, cutoff=0.6)
    near += [cities[c] for c in difflib.get_close_matches(wanted.rpartition("/")[2], cities, n=3)]
    names = ", ".join(folded[name] for name in dict.fromkeys(near))
    return QuestionError(
        read=read,
        where="time zone",
        found=repr(text),
        expected=f"a zone such as {names or 'Europe/Oslo'}",
        action="Give a zone of the IANA list, an offset such as UTC+1, or a zone and 'no-dst'.",
    )


def offset_s(text: str) -> int | None:
    """Return the offset that a text such as "UTC+2", "GMT-05:00" or "+0530" states [s].

    Examples
    --------
    >>> offset_s("UTC+2"), offset_s("GMT-05:30"), offset_s("Z"), offset_s("noon")
    (7200, -19800, 0, None)
    """
    match = _OFFSET.fullmatch(text.strip())
    if not match or not text.strip():
        return None
    if match["hours"] is None:
        return 0
    seconds = 3600 * int(match["hours"]) + 60 * int(match["minutes"] or 0)
    if seconds > 14 * 3600:
        return None
    return seconds if match["sign"] == "+" else -seconds


def offset_name(seconds: int) -> str:
    """Return the name of a fixed offset.

    Examples
    --------
    >>> offset_name(7200), offset_name(0), offset_name(-19800)
    ('UTC+02:00', 'UTC', 'UTC-05:30')
    """
    if seconds == 0:
        return "UTC"
    minutes = abs(seconds) // 60
    return f"UTC{'+' if seconds > 0 else '-'}{minutes // 60:02d}:{minutes % 60:02d}"


def _without_summer_time(read: str, text: str) -> TimeBase:
    """Return the zone's standard offset as a clock that never changes."""
    zone = time_base(read, text)
    if zone.zone is None:
        return zone
    winter = min(
        _offset_us(zone.zone, int(datetime(2024, month, 1, tzinfo=UTC).timestamp()) * SECOND_US)
        for month in (1, 7)
    )
    return TimeBase(f"{zone.name} without summer time", None, winter // SECOND_US)


def _offset_us(zone: ZoneInfo, utc_us: int) -> int:
    instant = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=utc_us)
    offset = instant.astimezone(zone).utcoffset()
    return round((offset or timedelta()).total_seconds()) * SECOND_US


def transitions(zone: ZoneInfo, start_us: int, stop_us: int) -> list[Transition]:
    """Return the changes of a zone's offset between two instants, found by halving."""
    changes = []
    step = 7 * DAY_US
    at, offset = start_us, _offset_us(zone, start_us)
    while at < stop_us:
        end = min(at + step, stop_us)
        after = _offset_us(zone, end)
        if after != offset:
            changes.append(Transition(_halved(zone, at, end, offset), offset, after))
        at, offset = end, after
    return changes


def _halved(zone: ZoneInfo, low: int, high: int, before: int) -> int:
    while high - low > SECOND_US:
        middle = (low + high) // 2
        if _offset_us(zone, middle) == before:
            low = middle
        else:
            high = middle
    return high // SECOND_US * SECOND_US


def _offsets(
    local_us: Micros, changes: list[Transition], first_us: int
) -> tuple[Micros, npt.NDArray[np.int16]]:
    """Return each time's offset, the earlier one where two would do, and its odd hour or -1."""
    sides = [(c.utc_us + c.before_us, c.utc_us + c.after_us) for c in changes]
    edges = np.array([edge for side in sides for edge in sorted(side)], np.int64)
    values = np.array([first_us, *(c.after_us for c in changes)], np.int64)
    place = np.searchsorted(edges, local_us, side="right")
    windows = np.where(place % 2 == 1, place // 2, -1).astype(np.int16)
    return np.asarray(values[place // 2]), windows


def _settle(
    local_us: Micros,
    inside: npt.NDArray[np.intp],
    change: Transition,
    offsets: Micros,
    flags: Flags,
) -> None:
    """Settle a doubled hour by the order of its rows, and flag what cannot be settled."""
    if change.after_us > change.before_us:
        flags[inside] |= int(Flag.MISSING_HOUR)
        return
    steps = np.diff(local_us[inside])
    around = local_us[max(0, inside[0] - 500) : inside[-1] + 500]
    usual_us = np.median(np.diff(around)) if len(around) > 1 else 0
    hour_us = change.before_us - change.after_us
    turns = 1 + np.flatnonzero((steps < 0) | ((steps == 0) & (1.5 * usual_us > hour_us)))
    if len(turns) == 1:
        offsets[inside[turns[0] :]] = change.after_us
    else:
        flags[inside] |= int(Flag.DOUBLED_HOUR)
