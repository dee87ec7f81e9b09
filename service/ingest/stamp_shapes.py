"""The form of a written time: which part is the day, the month, the clock, the offset."""

import re
from dataclasses import dataclass
from typing import Any

from service.ingest.fields import HALF, ZONE

DAY_FIRST, MONTH_FIRST, YEAR_FIRST = "day first", "month first", "year first"
_ORDERS = {DAY_FIRST: "dmy", MONTH_FIRST: "mdy", YEAR_FIRST: "ymd"}

_PREFIX = r"(?P<prefix>[^\W\d_]{2,9}[,.]?\s+)?"
_YMD = r"(?P<y4>\d{4})(?P<s1>[-/. ])\d{1,2}(?P=s1)\d{1,2}"
_XXY = r"\d{1,2}(?P<s2>[-/. ]\s?)\d{1,2}(?P=s2)(?:(?P<long>\d{4})|(?P<short>\d{2}))(?P<dot>\.?)"
_SIX = r"(?P<six>\d{6})(?=[T ]\d)"
_COMPACT = r"(?P<compact>\d{8}|\d{12}|\d{14})(?!\d)"
_NAMED = (
    r"\d{1,2}(?P<s3>[-/. ]+)(?P<month>[^\W\d_]{3,10}\.?)(?P<s4>[-/. ,]+)"
    r"(?:(?P<nlong>\d{4})|(?P<nshort>\d{2}))"
)
_US_NAMED = r"(?P<usmonth>[^\W\d_]{3,10}\.?) \d{1,2}(?P<s5>,? )\d{4}"
_CLOCK = (
    rf"(?P<sep>T|\s*,\s*|\s+|_|-)?(?P<before>{HALF}\s?)?"
    r"(?:(?P<hm>\d{1,2}(?P<c1>[:.h])\d{2}(?:(?P<c2>[:.])\d{2})?)"
    rf"|(?P<tight>\d{{6}}|\d{{4}}))(?P<fraction>[.,]\d{{1,9}})?(?P<half>\s?{HALF})?"
)
_ZONE = rf"(?P<zone>\s?{ZONE})?"
_STAMP = re.compile(
    rf"{_PREFIX}(?:{_YMD}|{_XXY}|{_NAMED}|{_US_NAMED}|{_SIX}|{_COMPACT})(?:{_CLOCK})?{_ZONE}",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Shape:
    """The form of a written time: date part and clock part as strptime codes.

    ``date`` holds "{1}" and "{2}" where day and month are still to be told apart.
    """

    date: str
    clock: str
    open: bool = False
    short_year: bool = False
    fraction: bool = False
    half_day: bool = False
    zone: bool = False
    prefix: bool = False
    month_name: bool = False

    def format(self, order: str) -> str:
        """Return the strptime format under an order of day, month and year."""
        year = "%y" if self.short_year else "%Y"
        codes = {"d": "%d", "m": "%m", "y": year}
        parts = [codes[letter] for letter in _ORDERS[order]]
        return self.date.format(*parts) + self.clock

    def shown(self, order: str) -> str:
        """Return the format for people and scripts, with what strptime has no code for."""
        text = self.format(order)
        text += ".%f" if self.fraction else ""
        return text + ("%z" if self.zone else "")


def shape_of(text: str) -> Shape | None:
    """Return the shape of a written time, or None where it is none.

    Examples
    --------
    >>> shape_of("31.12.2023 23:50").format(DAY_FIRST)
    '%d.%m.%Y %H:%M'
    >>> shape_of("2024-01-31T23:50:00.25Z").shown(YEAR_FIRST)
    '%Y-%m-%dT%H:%M:%S.%f%z'
    """
    match = _STAMP.fullmatch(text.strip())
    if not match:
        return None
    found = match.groupdict()
    half, fraction = bool(found["half"] or found["before"]), bool(found["fraction"])
    clock = _clock_codes(found, half)
    date, is_open, short = _date_codes(found)
    if found["compact"] and len(found["compact"]) > 8:
        clock = "%H%M" + ("%S" if len(found["compact"]) == 14 else "")
    named = bool(found["month"] or found["usmonth"])
    zone, prefix = bool(found["zone"]), bool(found["prefix"])
    return Shape(date, clock, is_open, short, fraction, half, zone, prefix, named)


def _date_codes(found: dict[str, Any]) -> tuple[str, bool, bool]:
    """Return the date's codes, whether its order is open, and whether its year is short."""
    if found["y4"]:
        return f"%Y{found['s1']}%m{found['s1']}%d", False, False
    if found["s2"]:
        mark = found["s2"]
        return f"{{0}}{mark}{{1}}{mark}{{2}}{found['dot']}", True, bool(found["short"])
    if found["six"]:
        return "{0}{1}{2}", True, True
    if found["month"]:
        year = "%Y" if found["nlong"] else "%y"
        return f"%d{found['s3']}%b{found['s4']}{year}", False, False
    if found["usmonth"]:
        return f"%b %d{found['s5']}%Y", False, False
    return "%Y%m%d", False, False


def _clock_codes(found: dict[str, Any], half: bool) -> str:
    hour = "%I" if half else "%H"
    if found["tight"]:
        return (found["sep"] or "") + hour + "%M" + ("%S" if len(found["tight"]) == 6 else "")
    if not found["hm"]:
        return ""
    seconds = f"{found['c2']}%S" if found["c2"] else ""
    return f"{found['sep'] or ''}{hour}{found['c1']}%M{seconds}" + (" %p" if half else "")
