"""What the file itself says of its clock: in a heading, in a line above the table."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import available_timezones

from service.ingest.headings import Heading
from service.ingest.timebase import offset_s
from service.ingest.units import plain

_OFFSET = re.compile(r"(?<![A-Za-z])(?:UTC|GMT)\s*(?:[+\-−]\s?\d{1,2}(?::?\d{2})?)?(?![A-Za-z])")
_ABSOLUTE = re.compile(r"(?<![A-Za-z])(?:UTC|UT|GMT)(?![A-Za-z]|\s*[+\-−\d])")
_PLACE = re.compile(r"\b[A-Z][A-Za-z]+(?:/[A-Z][A-Za-z_\-]+)+\b")
_SPOKEN = re.compile(
    r"time ?zone|timezone|zeitzone|fuseau|tidszon|tidssone|tidszone|aikavyohyke|zona horaria"
    r"|fuso orario|fuso horario|tijdzone|\btz\b|utc ?offset|gmt ?offset|time base"
)


@dataclass(frozen=True)
class Declared:
    """A clock that a file declares: the zone's text and where it stands."""

    zone: str
    where: str


def declared_zone(times: Sequence[Heading], head: Sequence[str]) -> Declared | None:
    """Return the zone that headings of the time or lines above the table declare, or None.

    Examples
    --------
    >>> declared_zone([Heading(0, "t_UTC+2", ("t_UTC+2",))], []).zone
    'UTC+2'
    """
    for heading in times:
        for text in heading.texts:
            found = _in(text)
            if found:
                return Declared(found, f"heading {text!r}")
    for heading in times:
        absolute = _ABSOLUTE.search(heading.legend)
        if absolute:
            return Declared("UTC", f"explanation of {heading.name!r} above the table")
    for number, line in enumerate(head, start=1):
        if _SPOKEN.search(plain(line)):
            found = _in(line) or _bare_offset(line)
            if found:
                return Declared(found, f"line {number}")
    return None


def _in(text: str) -> str:
    offset = _OFFSET.search(text)
    if offset and offset_s(offset[0]) is not None:
        return offset[0]
    place = _PLACE.search(text)
    return place[0] if place and place[0] in available_timezones() else ""


def _bare_offset(line: str) -> str:
    found = re.search(r"[+\-−]\d{1,2}(?::?\d{2})?(?!\d)", line)
    return found[0] if found and offset_s(found[0]) is not None else ""
