"""Which column tells the sensors of a file apart: by its name, or by what it does to the times."""

import itertools
import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from service.errors import remark
from service.ingest.columns import find_heading, stated_heading
from service.ingest.evidence import limit
from service.ingest.headings import Heading
from service.ingest.layout import Layout
from service.ingest.quantities import is_other, is_quality, quantity_of, words_of
from service.ingest.table import Floats, Table
from service.ingest.times.timebase import DAY_US, HOUR_US, SECOND_US, Micros
from service.ingest.units import unit_in

MOST_SENSORS = 1000
# So many of the cells of a column of numbers must be whole ones; the others are damaged.
WHOLE = 0.97
LOOKED_AT = 20_000
# What a person says where no column tells sensors apart.
NONE = "none"
_NAMES_A_SENSOR = re.compile(
    r"sensor|logger|station|location|\broom|\bsite\b|channel|\bpoint|device|serial|\bmote|origin"
    r"|\bstn\b|\bid\b|\braum|\bort\b|salle|\blieu|\bsala\b|standort|messstelle|sonde|capteur"
    r"|fuhler|anturi|huone|\brum\b|\brom\b|ruimte|\bunit\b|\bnode\b|\bplace\b|gallery|kanal|\bprobe\b"
)
Codes = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Apart:
    """The sensors of a long file: their names, each row's number among them, and the evidence."""

    headings: tuple[Heading, ...]
    names: list[str]
    codes: Codes
    note: str = ""


def can_tell_apart(layout: Layout, heading: Heading) -> bool:
    """Return whether a column may name the sensor of each row: few texts or whole numbers."""
    kind = layout.kinds[heading.index]
    cells = [cell.strip().strip('"') for cell in layout.column(heading.index)]
    different = set(cells) - {""}
    if kind not in ("text", "number") or not 1 < len(different) <= max(1, len(cells) // 2):
        return False
    whole = sum(bool(re.fullmatch(r"-?\d{1,12}", cell)) for cell in cells if cell)
    if kind == "number" and whole < WHOLE * len([cell for cell in cells if cell]):
        return False
    if max(map(len, different)) > 40:
        return False
    return is_named(heading) or not any(_is_measured(text) for text in heading.texts)


def _is_measured(text: str) -> bool:
    words = words_of(unit_in(text)[1]) or words_of(text)
    return is_quality(words) or quantity_of(words) is not None or is_other(words)


def is_named(heading: Heading) -> bool:
    """Return whether a heading speaks of sensors or of places."""
    return any(_is_name(words_of(text)) for text in heading.texts)


def _is_name(words: str) -> bool:
    names = bool(_NAMES_A_SENSOR.search(words))
    return names and not is_quality(words) and quantity_of(words) is None


def sensor_headings(
    name: str,
    layout: Layout,
    headings: Sequence[Heading],
    taken: Collection[int],
    stated: Mapping[str, str],
) -> list[Heading]:
    """Return the columns that may name the sensor of each row, to be read as text.

    Raises
    ------
    UnknownNameError
        If the heading that a person said does not exist.
    """
    text = stated.get("sensor", "")
    if text.casefold() == NONE and not find_heading(headings, text):
        return []
    if text:
        parts = [text] if find_heading(headings, text) else text.split("+")
        return [stated_heading(name, headings, "sensor", part) for part in parts]
    free = [heading for heading in headings if heading.index not in taken]
    likely = [heading for heading in free if can_tell_apart(layout, heading)]
    likely += [h for h in free if h not in likely and _constant(layout, h)]
    return sorted(likely, key=lambda h: (not is_named(h), layout.kinds[h.index] == "number"))


def _constant(layout: Layout, heading: Heading) -> bool:
    """Return whether a column named for sensors shows a single one in the rows looked at."""
    return is_named(heading) and len(set(layout.column(heading.index))) == 1


def sensors_distinguished(
    headings: Sequence[Heading],
    table: Table,
    times: tuple[Micros, npt.NDArray[np.bool_]],
    values: Sequence[Floats],
    stated: bool,
    names: Codes | None = None,
) -> Apart | None:
    """Return the sensors of a long file, or None where it has a single one.

    Parameters
    ----------
    headings : sequence of Heading
        Columns that may tell them apart, likeliest first, kept as text in ``table``.
    table : Table
        The file.
    times : (numpy.ndarray of int64, numpy.ndarray of bool)
        The rows' times, and which could be read.
    values : sequence of numpy.ndarray, shape (n,)
        Columns of readings.
    stated : bool
        Whether a person named the columns; they are then taken together.
    names : numpy.ndarray of int, shape (n,), optional
        Of a tall file: which quantity each row is of.
    """
    if stated:
        return _coded(tuple(headings), table) if headings else None
    each = [found for h in headings if (found := _coded((h,), table)) is not None]
    named = [found for found in each if is_named(found.headings[0])]
    clock = _Clock(*times, values, names)
    if named:
        others = [found for found in each if found not in named]
        return _fewest(named, others, table, clock)
    for found in each:
        why = clock.evidence(found.codes)
        if why:
            return Apart(found.headings, found.names, found.codes, _note(found, why))
    return None


def _note(found: Apart, why: str) -> str:
    shown = ", ".join(found.names[:4]) + (", …" if len(found.names) > 4 else "")
    return remark(
        f"{found.headings[0].shown!r} ({shown}) is taken to tell {len(found.names)} sensors "
        f"apart: {why}. If it does not, say so: --column sensor={NONE}."
    )


def _fewest(
    named: Sequence[Apart], others: Sequence[Apart], table: Table, clock: "_Clock"
) -> Apart:
    """Return the first column, or pair of columns, within which each time stands once."""
    least = limit("sensor", "single_least")
    for found in named:
        if clock.single(found.codes) >= least:
            return found
    for one, other in itertools.combinations([*named[:6], *others[:4]], 2):
        both = sorted((*one.headings, *other.headings), key=lambda heading: heading.index)
        pair = _coded(tuple(both), table)
        if pair is not None and clock.single(pair.codes) >= least:
            return pair
    return named[0]


def _coded(headings: tuple[Heading, ...], table: Table) -> Apart | None:
    """Return the sensors that columns name, or None where they name none or too many."""
    found = coded(headings, table)
    known = [name for name in found.names if name]
    fits = 1 < len(known) <= min(MOST_SENSORS, max(1, len(found.codes) // 2))
    return found if fits else None


def coded(headings: tuple[Heading, ...], table: Table) -> Apart:
    """Return the different cells of columns as names, and each row's number among them."""
    columns = [pc.utf8_trim_whitespace(table.texts[h.index]) for h in headings]
    if len(columns) > 1:
        joined = pc.binary_join_element_wise(*[c.fill_null("") for c in columns], " ")
    else:
        joined = columns[0]
    if isinstance(joined, pa.ChunkedArray):
        joined = joined.combine_chunks()
    numbered = joined.dictionary_encode()
    known = [str(label) for label in numbered.dictionary.to_pylist()]
    indices = numbered.indices.fill_null(len(known)).to_numpy(zero_copy_only=False)
    if joined.null_count:
        known.append("")
    return Apart(headings, known, indices.astype(np.int64))


class _Clock:
    """What a column does to the times and the values of a file."""

    def __init__(
        self,
        clock_us: Micros,
        read: npt.NDArray[np.bool_],
        values: Sequence[Floats],
        names: Codes | None,
    ) -> None:
        self.rows = np.flatnonzero(read)[:LOOKED_AT]
        self.clock_us = clock_us[self.rows]
        self.values = [column[self.rows] for column in values]
        self.every_us, self.all = clock_us[read], np.flatnonzero(read)
        self.names = np.zeros(len(self.all), np.int64) if names is None else names[self.all]

    def single(self, codes: Codes | None) -> float:
        """Return the share of the times that stand once within their sensor."""
        groups = self.names.copy()
        if codes is not None:
            groups += codes[self.all] * (int(self.names.max(initial=0)) + 1)
        pairs = np.lexsort((self.every_us, groups))
        times, groups = self.every_us[pairs], groups[pairs]
        again = (times[1:] == times[:-1]) & (groups[1:] == groups[:-1])
        return 1.0 - np.count_nonzero(again) / max(1, len(times))

    def evidence(self, codes: Codes) -> str:
        """Return why a column tells sensors apart, or "" where nothing says so."""
        if len(self.rows) < limit("accept", "rows"):
            return ""
        before, within = self.single(None), self.single(codes)
        # A count parts the times on both sides of a clock that was set back.
        gain = 0.0 if self._counts_up(codes) else within - before
        if gain >= limit("sensor", "single_gain") and within >= limit("sensor", "single_least"):
            return remark(f"times stand once within each, and only {before:.0%} do without")
        if self._turns_where_it_changes(codes):
            return remark("the times begin anew where it changes")
        some = codes[self.rows]
        calmer = self._calmer(some)
        if self._recurs(some) and (calmer or not self._follows_the_clock(some)):
            return "its values recur in turn"
        often = np.mean(some[1:] != some[:-1]) > 0.3
        if often and calmer and not self._follows_the_clock(some) and self._steady(some):
            return "values move less within each than from line to line"
        return ""

    def _counts_up(self, codes: Codes) -> bool:
        """Return whether each value stands in one stretch of rows while the times go on."""
        some, steps = codes[self.all], np.diff(self.every_us)
        changes = np.flatnonzero(np.diff(some))
        if not 0 < len(changes) < len(np.unique(some)):
            return False
        forward = np.count_nonzero(steps > 0) >= np.count_nonzero(steps < 0)
        turns = steps[changes] < 0 if forward else steps[changes] > 0
        return bool(np.mean(turns) < 0.5)

    def _turns_where_it_changes(self, codes: Codes) -> bool:
        steps = np.diff(self.every_us)
        forward = np.count_nonzero(steps > 0) >= np.count_nonzero(steps < 0)
        turns = np.flatnonzero(steps < 0 if forward else steps > 0)
        changes = codes[self.all][1:] != codes[self.all][:-1]
        blocks = np.count_nonzero(changes) < 2 * (int(codes.max()) + 1)
        # A count changes many times where the times go on; sensors one below another do not.
        each = 2 * len(turns) >= np.count_nonzero(changes)
        here = float(np.mean(changes[turns])) if len(turns) else 0.0
        return bool(blocks and each and here >= limit("sensor", "block_turns"))

    def _steady(self, codes: Codes) -> bool:
        """Return whether most steps within each value are about as long as its usual one."""
        order = np.lexsort((self.clock_us, codes))
        same = codes[order][1:] == codes[order][:-1]
        steps, of = np.diff(self.clock_us[order])[same], codes[order][1:][same]
        usual = {code: np.median(steps[of == code]) for code in np.unique(of)}
        middle = np.array([usual[code] for code in of], dtype=np.float64)
        alike = np.abs(steps - middle) <= 0.25 * np.abs(middle)
        return bool(len(steps) and np.mean(alike) >= limit("sensor", "steady"))

    def _recurs(self, codes: Codes) -> bool:
        """Return whether different values come in turn, again and again."""
        count = len(np.unique(codes))
        if len(codes) < 3 * count or len(np.unique(codes[:count])) < count:
            return False
        return bool(np.mean(codes[count:] == codes[:-count]) >= limit("sensor", "cycle"))

    def _follows_the_clock(self, codes: Codes) -> bool:
        """Return whether the column is but a part of the date or the clock."""
        return any(
            len(np.unique(key)) > 1
            and len(np.unique(np.stack([key, codes]), axis=1)[0]) == len(np.unique(key))
            for key in self._parts()
        )

    def _parts(self) -> Iterator[Micros]:
        yield self.clock_us // (60 * SECOND_US) % 60
        yield self.clock_us // HOUR_US % 24
        yield self.clock_us // DAY_US % 7
        yield self.clock_us // DAY_US
        days = (self.clock_us // DAY_US).astype("datetime64[D]")
        yield days.astype("datetime64[M]").astype(np.int64) % 12

    def _calmer(self, codes: Codes) -> bool:
        order = np.argsort(codes, kind="stable")
        same = codes[order][1:] == codes[order][:-1]
        least = limit("sensor", "calmer")
        found = [_calmer(column, column[order], same, least) for column in self.values]
        return any(found)


def _calmer(lines: Floats, grouped: Floats, same: npt.NDArray[np.bool_], least: float) -> bool:
    from_line, within = _mean(np.abs(np.diff(lines))), _mean(np.abs(np.diff(grouped))[same])
    return from_line > 0 and within < least * from_line


def _mean(values: Floats) -> float:
    return float(np.nanmean(values)) if np.isfinite(values).any() else 0.0
