"""Times as they are written: which format fits the whole column, and what each one says."""

import os
import re
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import partial
from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from service.errors import NotUnderstoodError
from service.ingest.fields import AM, HALF, PM, ZONE
from service.ingest.times.clockcells import zone_s
from service.ingest.times.dateorder import ORDERS, SOME, YEAR_FIRST, order_of
from service.ingest.times.timebase import DAY_US, SECOND_US, Micros

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
        parts = [codes[letter] for letter in ORDERS[order]]
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
    >>> shape_of("31.12.2023 23:50").format("day first")
    '%d.%m.%Y %H:%M'
    >>> shape_of("2024-01-31T23:50:00.25Z").shown("year first")
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


Bools = npt.NDArray[np.bool_]

_ROUNDS = 5
_NO_NOTES: tuple[str, ...] = ()
_CODE_PATTERNS = {"%Y": r"\d{4}", "%y": r"\d{2}", "%m": r"\d{1,2}", "%b": r"\p{L}+"}

# Beginnings of month names, those first that begin like another's; from memory.
_MONTHS = {
    "marras": "Nov", "maalis": "Mar", "helmi": "Feb", "tammi": "Jan", "huhti": "Apr",
    "touko": "May", "kesä": "Jun", "heinä": "Jul", "elo": "Aug", "syys": "Sep", "loka": "Oct",
    "joulu": "Dec", "juin": "Jun", "juil": "Jul", "juni": "Jun", "juli": "Jul", "giu": "Jun",
    "mär": "Mar", "mrz": "Mar", "mrt": "Mar", "maart": "Mar", "mars": "Mar", "maa": "Mar",
    "mai": "May", "mei": "May", "maj": "May", "mag": "May", "okt": "Oct", "ott": "Oct",
    "out": "Oct", "dez": "Dec", "des": "Dec", "dic": "Dec", "déc": "Dec", "gen": "Jan",
    "ene": "Jan", "jän": "Jan", "fév": "Feb", "fev": "Feb", "avr": "Apr", "abr": "Apr",
    "lug": "Jul", "ago": "Aug", "aoû": "Aug", "set": "Sep", "sty": "Jan", "lut": "Feb",
    "kwi": "Apr", "cze": "Jun", "lip": "Jul", "sie": "Aug", "wrz": "Sep", "paź": "Oct",
    "lis": "Nov", "gru": "Dec", "jan": "Jan", "feb": "Feb", "mar": "Mar", "apr": "Apr",
    "may": "May", "jun": "Jun", "jul": "Jul", "aug": "Aug", "sep": "Sep", "oct": "Oct",
    "nov": "Nov", "dec": "Dec",
}  # fmt: skip


@dataclass
class Times:
    """Times as read from a column, in file order.

    ``clock_us`` are microseconds of the clock that wrote them since 1970; ``offset_us`` the
    offset written with each, where ``has_offset``; ``read`` is False where nothing could be read.
    """

    clock_us: Micros
    read: Bools
    format: str
    order: str = ""
    has_offset: bool = False
    offset_us: Micros = field(default_factory=lambda: np.zeros(0, np.int64))
    notes: tuple[str, ...] = ()


def parsed(name: str, where: str, written: Any, said: str | None = None) -> Times:
    """Return the times of a column of texts.

    Parameters
    ----------
    name, where : str
        File and column, for messages.
    written : pyarrow.ChunkedArray or Array of string, shape (n,)
        Times as written; null where blank.
    said : str, optional
        The order of day, month and year as a person said it, one of `dateorder.ORDERS`; None
        lets the whole column decide.

    Raises
    ------
    NotUnderstoodError
        If nothing in the column is a time.
    QuestionError
        If several orders fit every row.
    """
    values = written if isinstance(written, pa.ChunkedArray) else pa.chunked_array([written])
    shape = _commonest(_some(values))
    if shape is None:
        raise _no_times(name, where, _some(values))
    order, notes = YEAR_FIRST, _NO_NOTES
    if shape.open and said and (said != YEAR_FIRST or shape.short_year):
        order = said
    elif shape.open:
        read = partial(_read_in, values, shape)
        order, notes = order_of(name, where, values, shape.date, shape.short_year, read)
    times = _empty(len(values), shape, order, notes)
    left = np.arange(len(values))
    for _ in range(_ROUNDS):
        _fill(times, left, values, shape, order)
        if times.read.all():
            break
        left = left[~times.read[left]]
        rest = pc.drop_null(values.take(pa.array(left))) if len(left) else None
        following = _commonest(_some(rest)) if rest is not None and len(rest) else None
        if following is None or following == shape or (following.open and not shape.open):
            break
        shape = following
    return times


def _read_in(values: Any, shape: Shape, order: str) -> Micros:
    """Return the times that fit a shape in an order of day and month."""
    clock_us, _, read = _read_shape(values, shape, order)
    return clock_us[read]


def _empty(count: int, shape: Shape, order: str, notes: tuple[str, ...]) -> Times:
    zeros = np.zeros(count, np.int64)
    nothing = np.zeros(count, np.bool_)
    return Times(zeros, nothing, shape.shown(order), order, shape.zone, zeros.copy(), notes)


def _fill(times: Times, left: npt.NDArray[np.intp], values: Any, shape: Shape, order: str) -> None:
    """Read what fits a shape among the rows that are left."""
    whole = len(left) == len(values)
    texts = values if whole else values.take(pa.array(left))
    clock_us, offset_us, read = _read_shape(texts, shape, order)
    if whole and read.all():
        times.clock_us, times.read = clock_us, read
        times.offset_us = offset_us if shape.zone else times.offset_us
        return
    here = left[read]
    times.clock_us[here] = clock_us[read]
    times.read[here] = True
    if shape.zone:
        times.offset_us[here] = offset_us[read]


def _some(values: Any) -> list[str]:
    """Return some of the texts, from the whole length."""
    step = max(1, len(values) // SOME)
    picked = (values[row].as_py() for row in range(0, len(values), step))
    return [text for text in picked if text is not None]


def _commonest(texts: Sequence[str]) -> Shape | None:
    shapes = Counter(shape for shape in map(shape_of, texts) if shape)
    return shapes.most_common(1)[0][0] if shapes else None


def _read_shape(texts: Any, shape: Shape, order: str) -> tuple[Micros, Micros, Bools]:
    """Return clock times, offsets and which rows fit a shape; "24:00" is the next day's start."""
    bare, offset_us, extra_us = _stripped(texts, shape)
    form = shape.format(order)
    seconds, read = _strptime(bare, form)
    clock_us = seconds * SECOND_US
    if shape.fraction:
        clock_us += extra_us
    _refuse_overflown_days(clock_us, read, bare, form)
    if not read.all() and "%H" in form:
        _read_midnights(bare, form, clock_us, read)
    return clock_us, offset_us, read


def _strptime(texts: Any, form: str) -> tuple[Micros, Bools]:
    """Return seconds since 1970 and which texts fit a format, one chunk to a thread."""
    read = partial(pc.strptime, format=form, unit="s", error_is_null=True)
    chunks = texts.chunks if isinstance(texts, pa.ChunkedArray) else [texts]
    if len(chunks) > 1:
        with ThreadPoolExecutor(os.cpu_count()) as pool:
            chunks = list(pool.map(read, chunks))
    else:
        chunks = [read(chunk) for chunk in chunks]
    stamps = pa.chunked_array(chunks, pa.timestamp("s"))
    seconds = stamps.cast(pa.int64())
    if stamps.null_count == 0:
        return seconds.to_numpy(), np.ones(len(stamps), np.bool_)
    return seconds.fill_null(0).to_numpy(), np.asarray(stamps.is_valid().to_numpy(), np.bool_)


def _stripped(texts: Any, shape: Shape) -> tuple[Any, Micros, Micros]:
    """Return texts without what strptime has no code for, with that read apart."""
    bare, offset_us, extra_us = texts, np.zeros(len(texts), np.int64), np.zeros(1, np.int64)
    if shape.zone:
        bare, offset_us = _without_zone(bare)
    if shape.fraction:
        bare, extra_us = _without_fraction(bare)
    if shape.half_day:
        for word, half in ((PM, "PM"), (AM, "AM")):
            bare = pc.replace_substring_regex(bare, rf"(?i)\s?{word}\s*$", f" {half}")
            bare = pc.replace_substring_regex(
                bare, rf"(?i)\s?{word}\s?(\d{{1,2}}[:.h][\d:.]+)$", rf" \1 {half}"
            )
    if shape.prefix:
        bare = pc.replace_substring_regex(bare, r"^\s*\p{L}{2,9}[,.]?\s+", "")
    if shape.month_name:
        bare = _english_months(bare)
    return bare, offset_us, extra_us


def _english_months(texts: Any) -> Any:
    """Return texts with each name of a month as its three English letters."""
    names = pc.struct_field(pc.extract_regex(texts, r"(?P<name>\p{L}{3,}\.?)"), "name")
    for name in pc.unique(names).drop_null().to_pylist():
        stem = next((stem for stem in _MONTHS if name.casefold().startswith(stem)), None)
        if stem and name != _MONTHS[stem]:
            texts = pc.replace_substring(texts, name, _MONTHS[stem])
    return texts


def _without_zone(texts: Any) -> tuple[Any, Micros]:
    pattern = rf"\s?{ZONE}$"
    found = pc.extract_regex(texts, rf"(?P<zone>{pattern})")
    marks = pa.concat_arrays(pc.struct_field(found, "zone").chunks).dictionary_encode()
    known = [zone_s(mark or "Z") or 0 for mark in marks.dictionary.to_pylist()]
    indices = marks.indices.fill_null(0).to_numpy(zero_copy_only=False)
    offsets = np.array(known or [0], np.int64)[indices] * SECOND_US
    return pc.replace_substring_regex(texts, pattern, ""), offsets


def _without_fraction(texts: Any) -> tuple[Any, Micros]:
    found = pc.struct_field(pc.extract_regex(texts, r"[.,](?P<part>\d{1,9})(?:\D*)$"), "part")
    padded = pc.utf8_slice_codeunits(pc.utf8_rpad(found.fill_null("0"), 6, "0"), 0, 6)
    bare = pc.replace_substring_regex(texts, r"[.,]\d{1,9}(\D*)$", r"\1")
    return bare, np.asarray(padded.cast(pa.int64()).to_numpy())


def _refuse_overflown_days(clock_us: Micros, read: Bools, texts: Any, form: str) -> None:
    """Unread what strptime carried over, such as 31 February taken for 2 or 3 March."""
    suspected = read & _may_be_carried(clock_us // DAY_US)
    if not suspected.any():
        return
    suspects = np.flatnonzero(suspected)
    picked = texts.filter(pa.array(suspected))
    if form.startswith("%d"):
        late = pc.is_in(pc.utf8_slice_codeunits(picked, 0, 2), pa.array(["29", "30", "31"]))
    else:
        late = pc.match_substring_regex(picked, _late_day(form))
    read[suspects[np.asarray(late.fill_null(False).to_numpy(), np.bool_)]] = False


def _late_day(form: str) -> str:
    """Return a pattern for texts of a format whose day is the 29th, 30th or 31st."""
    pieces = re.split("(%.)", form[: form.index("%d")])
    patterns = [_CODE_PATTERNS.get(piece, re.escape(piece)) for piece in pieces if piece]
    if pieces[-1] == "" and patterns[-1:] == [_CODE_PATTERNS["%m"]]:
        patterns[-1] = r"\d{2}"
    return r"^\s*" + "".join(patterns).replace("\\ ", " ") + "(?:29|30|31)"


def _may_be_carried(days: Micros) -> Bools:
    """Return which days a date that does not exist would be carried to, such as 1 March."""
    starts = np.concatenate([[0], 1 + np.flatnonzero(days[1:] != days[:-1])])
    dates = days[starts].astype("datetime64[D]")
    months = dates.astype("datetime64[M]")
    day = (dates - months.astype("datetime64[D]")).astype(np.int64)
    month = months.astype(np.int64) % 12
    carried = ((month == 2) & (day < 3)) | (np.isin(month, (4, 6, 9, 11)) & (day == 0))
    return np.asarray(np.repeat(carried, np.diff(starts, append=len(days))))


def _read_midnights(texts: Any, form: str, clock_us: Micros, read: Bools) -> None:
    """Read "24:00" as the start of the next day."""
    left = np.flatnonzero(~read)
    picked = texts.take(pa.array(left))
    tight = "%H%M" in form
    pattern = r"24(00(?:00)?)\s*$" if tight else r"(?:^|([T ,_-]))24([:.h]00(?:[:.]00)?)\s*$"
    fits = pc.match_substring_regex(picked, pattern).fill_null(False)
    if not pc.any(fits).as_py():
        return
    moved = pc.replace_substring_regex(picked, pattern, r"00\1" if tight else r"\1" + "00" + r"\2")
    moved = pc.if_else(fits, moved, None)
    seconds, ok = _strptime(moved, form)
    clock_us[left[ok]] = seconds[ok] * SECOND_US + DAY_US
    read[left[ok]] = True


def _no_times(name: str, where: str, texts: Sequence[str]) -> NotUnderstoodError:
    return NotUnderstoodError(
        read=name,
        where=where,
        found=f"{texts[0]!r}" if texts else "blanks",
        expected="a date and time, such as 2024-03-31 14:30 or 31.03.2024 14:30",
        action='Say which column holds the times: --column time="…".',
    )
