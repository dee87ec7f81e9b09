"""Which columns may hold the time: one, a date and a clock, parts, a count of seconds, or none.

Headings and shapes propose; `service.ingest.axis` scores what comes of each proposal.
"""

import itertools
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from service.errors import NotUnderstoodError, QuestionError
from service.ingest.columns import find_heading, stated_heading
from service.ingest.fields import CLOCK, DATE
from service.ingest.headings import Heading
from service.ingest.layout import Layout
from service.ingest.quantities import is_quality, quantity_of, words_of
from service.ingest.timeless import elapsed_heading, elapsed_unit_s, number_of, running_number
from service.ingest.times.clockcells import forms_of
from service.ingest.times.dateorder import DAY_FIRST, MONTH_FIRST, YEAR_FIRST
from service.ingest.times.timestamps import shape_of
from service.ingest.units import unit_in

# Words of time, whole ones, in the languages that loggers speak; from memory.
_TIME_WORD = re.compile(
    r"\b(?:date ?time|timestamp|time|date|datum|data|dato|fecha|zeit|uhrzeit|hora|heure|ora|tijd"
    r"|tid|tidpunkt|tidspunkt|aika|klo|pvm|klokkeslett|klockslag|horodat\w*|paivamaara|epoch|unix|datetime"
    r"|zeitpunkt|zeitstempel|messzeit|tijdstip|moment|when|hour|hours|hr|hh|hhmm|hh mm|stunde|std"
    r"|paiva|kello|czas|godzina|cas|hodina|uur|timme|tunti|h|utc|gmt|day|dia|giorno|tag|jour|yyyymmdd|t|ts|stamp)\b"
)
# Words that stand beside them without making them something else.
_BESIDE = re.compile(
    r"\b(?:local|lokal\w*|utc|gmt|ut|cest?|mes?z|of|the|and|und|et|y|e|och|og|reading\w*|taken"
    r"|measure\w*|mess\w*|record\w*|log\w*|sample\w*|iso|in|de|la|le|du|del|des|standard|std|dst"
    r"|start|am|pm|ms|us|ns|s|sec|seconds|milliseconds|excel|serial|d|dd|m|mm|mmm|y|yy|yyyy|tt|jj"
    r"|jjjj|hh|ss|month|monat|obs\w*|observation|site|logger|device|[+\-]?\d+)\b"
)
_PARTS = {
    "year": r"year|yr|yyyy|jahr|annee|ano|anno|jaar|ar|aar|vuosi|y",
    "month": r"month|mo|mon|mm|monat|mois|mes|mese|maand|manad|maned|kuukausi|kk",
    "day": r"day|dd|tag|jour|dia|giorno|dag|paiva|pv|day of month",
    "day of the year": r"doy|jday|julian(?: day)?|day of (?:the )?year|yday|tag des jahres|jd",
    "hour": r"hour|hr|hh|hhmm|hh mm|hours|stunde|std|heure|hora|ora|uur|timme|time|tunti|h",
    "minute": r"minute|min|minutes|mi|minuto|minuut|minutt|minut|minuutti|mn",
    "second": r"second|sec|seconds|ss|sekunde|seconde|segundo|secondo|sekund|sekunti|s",
}
# Counts of seconds, and the factor that makes them of these units.
EPOCHS = {"epoch s": 1, "epoch ms": 1000, "epoch µs": 1_000_000, "epoch ns": 1_000_000_000}
# 1985 to 2100, as seconds since 1970 and as days since the end of 1899, as spreadsheets count.
_EPOCH_RANGE = (473_385_600, 4_102_444_800)
_DAY_RANGE = (31_048.0, 73_415.0)
MOST_PROPOSED = 24


@dataclass(frozen=True)
class TimeColumns:
    """The columns that together are the time, and how they make it.

    ``kind`` is "stamp", "date and clock", "parts", "year and day", one of the epochs, "days"
    where a spreadsheet's numbers of days were left as they are, "days and clock", "elapsed" where
    time counts from a start, "count" where only a running number, or nothing, tells the rows,
    "evenly" where the rows of each date are spread over its day, and "carried" where a date
    stands only beside the first clock of its day.
    ``form`` is the clock's (`clockcells.FORMS`) where it stands in a column of its own.
    """

    kind: str
    headings: tuple[Heading, ...]
    form: str = ""
    parts: tuple[str, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """The headings of the columns."""
        return tuple(heading.shown for heading in self.headings)

    def texts(self) -> set[int]:
        """Return the indices of the columns to read as text."""
        wanted: list[Heading] = []
        if self.kind in ("stamp", "evenly"):
            wanted += self.headings[:1]
        if self.kind in ("date and clock", "carried"):
            wanted += self.headings
        if self.kind == "days and clock":
            wanted += self.headings[1:]
        if self.form and self.kind in ("parts", "year and day"):
            wanted.append(self.headings[self.parts.index("hour")])
        return {heading.index for heading in wanted}

    def numbers(self) -> set[int]:
        """Return the indices of the columns to read as numbers."""
        return {heading.index for heading in self.headings} - self.texts()

    def answer(self) -> str:
        """Return what a person says to have these columns taken."""
        return "+".join(self.names)


def proposed_times(layout: Layout, headings: Sequence[Heading]) -> list[TimeColumns]:
    """Return every way in which columns may hold the time, the most usual forms first."""
    usable = [heading for heading in headings if not _speaks_of_other_things(heading)]
    finders = (_stamps, _dates_and_clocks, _parts, _years_and_days, _counts, _unnamed_parts)
    found = itertools.chain.from_iterable(finder(layout, usable) for finder in finders)
    return list(itertools.islice(dict.fromkeys(found), MOST_PROPOSED))


def without_times(name: str, layout: Layout, headings: Sequence[Heading]) -> TimeColumns:
    """Return the column that counts from a start, or the rows, where there is no time.

    Raises
    ------
    NotUnderstoodError
        If a column is named for the time and holds texts that are no form of it that is known.
    """
    elapsed = elapsed_heading(layout, headings)
    if elapsed:
        return TimeColumns("elapsed", elapsed)
    for heading in headings:
        cells = _cells(layout, heading)
        dated = cells and sum(character.isdecimal() for character in cells[0]) >= 5
        if layout.kinds[heading.index] == "text" and dated and heading_speaks(heading) > 0:
            raise NotUnderstoodError(
                read=name,
                where=f"column {heading.shown!r}",
                found=f"{cells[0]!r}, which is no form of a time that is known",
                expected="a date and time, such as 2024-03-31 14:30 or 31.03.2024 14:30",
                action="Export the times in one of these forms, or name another column, as "
                "--column time='HEADING'.",
            )
    return TimeColumns("count", running_number(layout, headings))


def stated_times(
    name: str, layout: Layout, headings: Sequence[Heading], stated: Mapping[str, str]
) -> list[TimeColumns]:
    """Return the ways in which the columns that a person named can be the time; all are used.

    Raises
    ------
    UnknownNameError
        If one of the headings does not exist.
    QuestionError
        If no form of time that is known is in all of them.
    """
    named = stated_columns(name, headings, "date", stated["date"]) if "date" in stated else []
    named += [h for h in stated_columns(name, headings, "time", stated["time"]) if h not in named]
    every = (_stamps, _dates_and_clocks, _parts, _years_and_days, _counts, _unnamed_parts)
    bare = [replace(h, texts=("time",)) if len(named) == 1 else h for h in named]
    found = [p for finder in every for p in finder(layout, bare)]
    found = [replace(p, headings=tuple(headings[h.index] for h in p.headings)) for p in found]
    whole = [p for p in found if len(p.headings) == len(named)]
    if not whole and len(named) == 1 and elapsed_unit_s(headings[named[0].index]):
        whole = [TimeColumns("elapsed", tuple(named))]
    if not whole:
        raise _no_form(name, layout, named)
    return list(dict.fromkeys(whole))


def stated_columns(name: str, headings: Sequence[Heading], key: str, text: str) -> list[Heading]:
    """Return the columns that "A+B" names; a heading may have a plus sign of its own."""
    if find_heading(headings, text):
        return [stated_heading(name, headings, key, text)]
    pieces = text.split("+")
    for count in range(len(pieces) - 1, 0, -1):
        first = "+".join(pieces[:count])
        if find_heading(headings, first):
            rest = stated_columns(name, headings, key, "+".join(pieces[count:]))
            return [stated_heading(name, headings, key, first), *rest]
    return [stated_heading(name, headings, key, text)]


def _no_form(name: str, layout: Layout, named: Sequence[Heading]) -> QuestionError:
    first = " ".join(layout.rows[0][h.index].strip() for h in named) if layout.rows else ""
    return QuestionError(
        read=name,
        where="column " + " + ".join(repr(h.shown) for h in named),
        found=f"{first!r} in the first row, which is no form of date and clock that is known",
        expected="a date and a clock, their parts, or a count of seconds",
        action="Name all the columns that make up the time, as --column time='DATE+CLOCK'.",
    )


def heading_speaks(heading: Heading) -> float:
    """Return how plainly a heading speaks of time: 1 of nothing else, 0.5 besides, 0 not at all.

    Examples
    --------
    >>> [heading_speaks(Heading(0, t, (t,))) for t in ("Date", "Sampling time (min)", "Rain")]
    [1.0, 0.5, 0.0]
    """
    if not heading.texts:
        return 0.5
    return max(_speaks(text) for text in heading.texts)


def speak(columns: TimeColumns) -> float:
    """Return how plainly the headings of a proposal speak of time, 0 to 1."""
    pairs = list(zip(columns.parts, columns.headings, strict=False))
    if pairs and all(any(_is_part(part, t) for t in h.texts) for part, h in pairs):
        return 1.0
    return sum(map(heading_speaks, columns.headings)) / len(columns.headings)


def _speaks(text: str) -> float:
    unit, bare = unit_in(text)
    words = words_of(re.sub(r"[(\[].*?[)\]]", " ", bare)) or words_of(text)
    if not _TIME_WORD.search(words):
        return 0.0
    left = _BESIDE.sub(" ", _TIME_WORD.sub(" ", words)).strip(" .,")
    counted = unit is not None and unit.family == "other" and words != words_of(text)
    return 0.5 if left or counted else 1.0


def _speaks_of_other_things(heading: Heading) -> bool:
    """Return whether a heading names a quantity, or the quality of one, and no time."""
    if not heading.texts or heading_speaks(heading) == 1.0:
        return False
    words = [words_of(unit_in(text)[1]) for text in heading.texts]
    return any(is_quality(w) or bool(quantity_of(w)) for w in words)


def _cells(layout: Layout, heading: Heading) -> list[str]:
    cells = (cell.strip().strip('"') for cell in layout.column(heading.index))
    return [cell for cell in cells if cell]


def _share(layout: Layout, heading: Heading, test: Callable[[str], object]) -> float:
    """Return the share of a column's filled sample fields that pass a test."""
    cells = _cells(layout, heading)
    return sum(bool(test(cell)) for cell in cells) / len(cells) if cells else 0.0


def _full(cell: str) -> bool:
    shape = shape_of(cell)
    return bool(shape and shape.clock)


def with_offset(layout: Layout, columns: TimeColumns) -> bool:
    """Return whether an offset from UTC is written with each time, or the heading says UTC."""
    if columns.kind in EPOCHS:
        return True
    named = any(re.search(r"\b(?:utc|gmt)\b", words_of(n)) for n in columns.names)
    return named or any(
        _share(layout, heading, lambda cell: (s := shape_of(cell)) is not None and s.zone) > 0.5
        for heading in columns.headings
    )


def _date_only(cell: str) -> bool:
    return bool(DATE.fullmatch(cell)) or bool(
        re.fullmatch(r"(?:19|20)\d{6}", cell) and shape_of(cell)
    )


def _stamps(layout: Layout, headings: Sequence[Heading]) -> Iterator[TimeColumns]:
    for heading in headings:
        numeric = layout.kinds[heading.index] == "number"
        if numeric and _share(layout, heading, str.isdecimal) <= 0.9:
            continue
        if _share(layout, heading, _full) > 0.5:
            yield TimeColumns("stamp", (heading,))


def _dates_and_clocks(layout: Layout, headings: Sequence[Heading]) -> Iterator[TimeColumns]:
    dates = [h for h in headings if _share(layout, h, _date_only) > 0.5]
    days = [h for h in headings if _share(layout, h, _whole_day_number) > 0.9]
    days = [h for h in days if h not in dates]
    for kind, date in [*(("date", d) for d in dates), *(("days", d) for d in days)]:
        for heading in headings:
            if heading in dates:
                continue
            for form in _clock_forms(layout, heading):
                yield TimeColumns(f"{kind} and clock", (date, heading), form)
    for date in dates:
        yield TimeColumns("stamp", (date,))


def _clock_forms(layout: Layout, heading: Heading) -> list[str]:
    """Return the clocks that a column's cells can be; hours must not stand still."""
    cells = _cells(layout, heading)
    if not cells or (len(cells) > 3 and len(set(cells)) == 1 and not CLOCK.fullmatch(cells[0])):
        return []
    return forms_of(cells)


def _is_part(part: str, text: str) -> bool:
    return bool(re.fullmatch(_PARTS[part], words_of(unit_in(text)[1]) or words_of(text)))


def _named_parts(layout: Layout, headings: Sequence[Heading]) -> dict[str, Heading]:
    found: dict[str, Heading] = {}
    for heading in headings:
        for part in _PARTS:
            fits = layout.kinds[heading.index] == "number" or part == "hour"
            # "HR" is the hour in one language and the humidity in another.
            fits = fits and not (part == "hour" and _is_no_hour(layout, heading))
            if fits and part not in found and any(_is_part(part, t) for t in heading.texts):
                found[part] = heading
                break
    return found


def _is_no_hour(layout: Layout, heading: Heading) -> bool:
    """Return whether a heading names a reading too, above numbers that are no clock."""
    reading = any(quantity_of(words_of(unit_in(text)[1])) for text in heading.texts)
    return reading and not _may_be(layout, heading, "hour")


def _parts(layout: Layout, headings: Sequence[Heading]) -> Iterator[TimeColumns]:
    dates, found = ("year", "month", "day"), _named_parts(layout, headings)
    yield from _from_parts(layout, found, dates, "parts")
    lacking = [part for part in (*dates, "hour") if part not in found]
    if len(lacking) != 1:
        return
    # One name may be misspelt; what its numbers do tells.
    for heading in headings:
        if heading not in found.values() and _may_be(layout, heading, lacking[0]):
            yield from _from_parts(layout, {**found, lacking[0]: heading}, dates, "parts")


def _may_be(layout: Layout, heading: Heading, part: str) -> bool:
    """Return whether a column's numbers can be a part of a time."""
    if part == "hour":
        return bool(_clock_forms(layout, heading))
    low, high = _BOUNDS[part]
    return _share(layout, heading, lambda c: c.isdecimal() and low <= int(c) <= high) > 0.95


def _years_and_days(layout: Layout, headings: Sequence[Heading]) -> Iterator[TimeColumns]:
    wanted, found = ("year", "day of the year"), _named_parts(layout, headings)
    if "month" not in found and "day" in found:
        # Without a month the days beside a year are those of the year.
        found.setdefault("day of the year", found["day"])
    yield from _from_parts(layout, found, wanted, "year and day")


def _from_parts(
    layout: Layout, found: Mapping[str, Heading], dates: tuple[str, ...], kind: str
) -> Iterator[TimeColumns]:
    """Return the parts of a date with the clock in one of its forms."""
    if not set(dates) <= set(found):
        return
    clock = [part for part in ("hour", "minute", "second") if part in found]
    names = (*dates, *clock)
    forms = _clock_forms(layout, found["hour"]) if "hour" in found else [""]
    for form in forms or ["hour"]:
        used = (
            names if form == "hour" or not form else tuple(n for n in names if n not in clock[1:])
        )
        yield TimeColumns(kind, tuple(found[n] for n in used), form, used)


# Least and greatest number that each part can be.
_BOUNDS = {"year": (1985, 2100), "month": (1, 12), "day": (1, 31), "hour": (0, 24)}
_BOUNDS |= {"minute": (0, 59), "second": (0, 59)}


def _unnamed_parts(layout: Layout, headings: Sequence[Heading]) -> Iterator[TimeColumns]:
    """Return neighbouring columns without names of their own that can be parts of a time."""
    for start in range(len(headings) - 3):
        for order in (("year", "month", "day"), ("day", "month", "year"), ("month", "day", "year")):
            for clock in (("hour", "minute", "second"), ("hour", "minute"), ("hour",)):
                parts = (*order, *clock)
                some = headings[start : start + len(parts)]
                if len(some) == len(parts) and all(map(partial(_can_be, layout), some, parts)):
                    sorted_parts = tuple(p for p in _PARTS if p in parts)
                    chosen = tuple(some[parts.index(p)] for p in sorted_parts)
                    yield TimeColumns("parts", chosen, "hour", sorted_parts)


def _can_be(layout: Layout, heading: Heading, part: str) -> bool:
    if heading.texts and heading_speaks(heading) == 0.0 and not heading.name.isdecimal():
        return False
    return _may_be(layout, heading, part) if part != "hour" else _is_hour(layout, heading)


def _is_hour(layout: Layout, heading: Heading) -> bool:
    return _share(layout, heading, lambda c: c.isdecimal() and int(c) <= 24) > 0.95


def _counts(layout: Layout, headings: Sequence[Heading]) -> Iterator[TimeColumns]:
    for heading in headings:
        if layout.kinds[heading.index] != "number":
            continue
        for kind, factor in EPOCHS.items():
            if _share(layout, heading, partial(_is_epoch, factor=factor)) > 0.9:
                yield TimeColumns(kind, (heading,))
        if _share(layout, heading, _is_day_number) > 0.9:
            yield TimeColumns("days", (heading,))


def _is_day_number(cell: str) -> bool:
    low, high = _DAY_RANGE
    return low < number_of(cell) < high


def _whole_day_number(cell: str) -> bool:
    return cell.isdecimal() and _is_day_number(cell)


def _is_epoch(cell: str, factor: int) -> bool:
    low, high = _EPOCH_RANGE
    return low < number_of(cell) / factor < high


def order_in_heading(columns: TimeColumns) -> str | None:
    """Return the order that a heading such as "Date (DD/MM/YYYY)" states, None if it is silent.

    Examples
    --------
    >>> order_in_heading(TimeColumns("stamp", (Heading(0, "", ("Datum (TT.MM.JJJJ)",)),)))
    'day first'
    """
    for text in (text.upper() for heading in columns.headings for text in heading.texts):
        # J stands for the day in French and for the year in German and Dutch.
        if re.search(r"\b(?:YY|JJ|AA|VV|ÅÅ)[-/. ]?(?:MM|KK)[-/. ]?(?:DD|TT|JJ|PP|GG)\b", text):
            return YEAR_FIRST
        if re.search(r"\b(?:DD?|TT?|JJ?|PP?|GG?)[-/. ]?(?:MM?|KK?)[-/. ]", text):
            return DAY_FIRST
        if re.search(r"\bMM?[-/. ]?DD?[-/. ]", text):
            return MONTH_FIRST
    return None
