"""The clock beside a date: 10:15, 0h, 1015, 0000 UTC, 1 to 24, 10.25, or twelve hours."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from service.ingest.fields import AFTERNOON, FORENOON, HALF, ZONE
from service.ingest.times.timebase import DAY_US, SECOND_US, Micros, offset_s

# Summer and winter time of Europe by their usual letters.
LETTERS_S = {"CET": 3600, "MEZ": 3600, "CEST": 7200, "MESZ": 7200, "WET": 0, "WEST": 3600}
LETTERS_S |= {"EET": 7200, "EEST": 10_800}

_WRITTEN = re.compile(
    rf"(?:(?P<before>{HALF})\s?)?(?P<h>\d{{1,2}})"
    r"(?:\s?[:h.]\s?(?P<m>\d{2})(?:\s?[:.m]\s?(?P<s>\d{2})s?(?P<f>[.,]\d+)?)?|\s?(?:h|uhr|u)(?!\d))"
    rf"(?:\s?uhr)?(?:\s?(?P<half>{HALF}))?(?:\s?(?P<zone>{ZONE}))?",
    re.IGNORECASE,
)
_TWELVE = re.compile(rf"(?P<h>\d{{1,2}})\s?(?P<half>{HALF})", re.IGNORECASE)
_COMPACT = re.compile(rf"(?P<h>\d{{1,2}})(?P<m>\d{{2}})(?P<s>\d{{2}})?(?:\s?(?P<zone>{ZONE}))?")
_WHOLE = re.compile(rf"(?P<h>\d{{1,2}})(?:[.,]0+)?(?:\s?(?P<zone>{ZONE}))?")
_POINTED = re.compile(r"(?P<h>\d{1,2})[.,](?P<m>\d{2})")
_DECIMAL = re.compile(r"(?P<d>\d{1,2}(?:[.,]\d+)?)")

Parsed = tuple[float, int, bool]


def half_of(text: str) -> str:
    """Return "AM" or "PM" for a word for half a day, "" for another.

    Examples
    --------
    >>> half_of("p. m."), half_of("vorm."), half_of("오후"), half_of("noon")
    ('PM', 'AM', 'PM', '')
    """
    bare = re.sub(r"[.\s]", "", text.casefold())
    return "AM" if bare in FORENOON else "PM" if bare in AFTERNOON else ""


def zone_s(text: str | None) -> int | None:
    """Return the offset from UTC that a mark beside a time states [s], None where there is none."""
    if not text:
        return None
    bare = text.strip().upper()
    return LETTERS_S[bare] if bare in LETTERS_S else offset_s(bare)


def _seconds(hour: int, minute: int, second: float, half: str | None) -> float | None:
    """Return seconds since midnight, or None where no clock shows this."""
    if minute > 59 or second >= 60 or hour > 24:
        return None
    if half:
        if not 1 <= hour <= 12:
            # Some write 13:00 PM, or 0:15 AM.
            return None if hour > 23 else hour * 3600.0 + minute * 60 + second
        hour = hour % 12 + (12 if half_of(half) == "PM" else 0)
    if hour == 24 and (minute or second):
        return None
    return hour * 3600.0 + minute * 60 + second


def _matched(match: "re.Match[str] | None") -> Parsed | None:
    """Return what a clock says; a point between hour and minute alone is another form's."""
    part = match.groupdict() if match else {}
    if match is None or ("." in match[0][:3] and not (part.get("s") or part.get("half"))):
        return None
    second = float(part.get("s") or 0) + float((part.get("f") or "0").replace(",", "."))
    half = part.get("before") or part.get("half")
    seconds = _seconds(int(part["h"]), int(part.get("m") or 0), second, half)
    if seconds is None:
        return None
    zone = zone_s(part.get("zone"))
    return seconds, zone or 0, zone is not None


def _decimal(text: str) -> Parsed | None:
    match = _DECIMAL.fullmatch(text)
    hours = float(match["d"].replace(",", ".")) if match else 25.0
    return (round(hours * 3600, 0), 0, False) if hours <= 24 else None


def _fraction(text: str) -> Parsed | None:
    try:
        days = float(text.replace(",", "."))
    except ValueError:
        return None
    return (float(round(days * 86_400)), 0, False) if 0 <= days <= 1 else None


def _minutes(text: str) -> Parsed | None:
    whole = text.isdecimal() and int(text) <= 1440
    return (int(text) * 60.0, 0, False) if whole else None


# In this order of likelihood. Each reads one cell, or None.
FORMS: dict[str, Callable[[str], Parsed | None]] = {
    "clock": lambda text: _matched(_WRITTEN.fullmatch(text) or _TWELVE.fullmatch(text)),
    "hour": lambda text: _matched(_WHOLE.fullmatch(text)),
    "hour and minute (HHMM)": lambda text: _matched(
        _COMPACT.fullmatch(text.zfill(4) if text.isdecimal() and len(text) < 4 else text)
    ),
    "hour.minute": lambda text: _matched(_POINTED.fullmatch(text.replace(".", ","))),
    "hours and their fraction": _decimal,
    "fraction of the day": _fraction,
    "minute of the day": _minutes,
}


def forms_of(cells: Sequence[str]) -> list[str]:
    """Return the forms in which nearly all of some cells can be a clock.

    Examples
    --------
    >>> forms_of(["0h", "1h"]), forms_of(["0000 UTC"]), forms_of(["7", "24"])
    (['clock'], ['hour and minute (HHMM)'], ['hour'])
    """
    filled = [cell.strip() for cell in cells if cell.strip()]
    found = []
    for form, read in FORMS.items():
        fits = sum(read(cell) is not None for cell in filled)
        if filled and fits > 0.95 * len(filled) and _likely(form, filled):
            found.append(form)
    if "hour and minute (HHMM)" in found and "minute of the day" in found:
        found.remove("minute of the day")
    return found


def _likely(form: str, cells: Sequence[str]) -> bool:
    """Return whether cells show more of a form than that each could be one of it."""
    longest = max(map(len, cells))
    if form == "hour and minute (HHMM)":
        return longest >= 3
    if form == "minute of the day":
        return longest >= 3 and all(cell[-1] in "05" for cell in cells if cell.isdecimal())
    if form in ("fraction of the day", "hours and their fraction"):
        return any("." in cell or "," in cell for cell in cells)
    return True


@dataclass
class Clocks:
    """Clock times of a column: since midnight, read or not, with an offset or not."""

    since_us: Micros
    read: npt.NDArray[np.bool_]
    offset_us: Micros
    has_offset: bool
    form: str


def clocks_of(texts: Any, form: str) -> Clocks:
    """Return what a column of clock cells says, each different cell being read once.

    Parameters
    ----------
    texts : pyarrow.Array or ChunkedArray of string, shape (n,)
        Cells as written.
    form : str
        One of `FORMS`.
    """
    column = texts.combine_chunks() if isinstance(texts, pa.ChunkedArray) else texts
    coded = pc.utf8_trim_whitespace(column).dictionary_encode()
    if isinstance(coded, pa.ChunkedArray):
        coded = coded.combine_chunks()
    cells = [cell or "" for cell in coded.dictionary.to_pylist()]
    parsed = [_cell(cell, form) for cell in cells] + [None]
    rows = coded.indices.fill_null(len(cells)).to_numpy(zero_copy_only=False)
    since = np.array([round(p[0] * SECOND_US) if p else 0 for p in parsed], np.int64)
    zone = np.array([p[1] * SECOND_US if p else 0 for p in parsed], np.int64)
    read = np.array([p is not None for p in parsed], np.bool_)
    offset = any(p is not None and p[2] for p in parsed)
    ends_at_24 = DAY_US in since and form == "hour" and not np.any(since[read] == 0)
    shown = "hour 1-24" if ends_at_24 else _codes_of(cells) if form == "clock" else form
    return Clocks(since[rows], read[rows], zone[rows], offset, shown)


def _codes_of(cells: Sequence[str]) -> str:
    """Return the codes of strptime in which clocks are written, those of the longest."""
    match = _WRITTEN.fullmatch(max(cells, key=len, default="")) or re.fullmatch("", "")
    part = match.groupdict() if match else {}
    half = part.get("half") or part.get("before")
    codes = "%I" if half else "%H"
    codes += ":%M" if part.get("m") else "h"
    codes += ":%S" if part.get("s") else ""
    codes += ".%f" if part.get("f") else ""
    return codes + (" %p" if half else "") + ("%z" if part.get("zone") else "")


@lru_cache(maxsize=100_000)
def _cell(cell: str, form: str) -> Parsed | None:
    return FORMS[form](cell)
