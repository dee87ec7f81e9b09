"""Tall files: one value a line, and beside it the quantity, its unit, or the thing it is of."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from service.ingest.columns import READINGS, Column, column_of
from service.ingest.headings import Heading
from service.ingest.layout import Layout
from service.ingest.quantities import is_other, is_quality, quantity_of, words_of
from service.ingest.table import Floats, Table
from service.ingest.timecolumns import heading_speaks
from service.ingest.units import unit_in, unit_of

MOST_NAMES = 400
MOSTLY = 0.9
_VALUE = re.compile(
    r"\b(?:values?|state|reading|wert|messwert|valeur|valor|valore|waarde|varde|verdi|measurement"
    r"|result|data|arvo|measured|val)\b"
)
_SUFFIX = re.compile(r"[\d.,\s]([°º%\ufffd]?\s*[^\W\d]*[%/³\w]*)$")


@dataclass(frozen=True)
class Tall:
    """The columns of a tall file: the value, and those that together say what it is of."""

    value: Heading
    names: tuple[Heading, ...]
    unit_within: bool = False

    def texts(self) -> set[int]:
        """Return the indices of the columns to read as text."""
        return {h.index for h in self.names} | ({self.value.index} if self.unit_within else set())


def tall_of(layout: Layout, headings: Sequence[Heading]) -> Tall | None:
    """Return the columns of a tall file, or None where quantities have columns of their own.

    Examples
    --------
    >>> rows = (("10:00", "temperature", "21"), ("10:00", "humidity", "45"))
    >>> heads = [Heading(i, n, (n,)) for i, n in enumerate(("time", "what", "value"))]
    >>> tall_of(Layout("comma", ".", ("time", "text", "number"), 1, (), rows), heads).names[0].name
    'what'
    """
    if any(_named(h) in READINGS for h in headings if layout.kinds[h.index] == "number"):
        return None
    values = [
        h
        for h in headings
        if layout.kinds[h.index] == "number" and not _named(h) and heading_speaks(h) < 1.0
    ]
    likely = [h for h in values if any(_VALUE.search(words_of(t)) for t in h.texts)]
    texts = [h for h in headings if layout.kinds[h.index] == "text"]
    units = [h for h in texts if _are_units(layout.column(h.index))][:1]
    entities = [h for h in texts if h not in units and _names_quantities(_different(layout, h))]
    names = (*entities[:1], *units)
    value = (likely or [h for h in values if _is_free(layout, h)])[-1:]
    if value and names and (entities or _tell_quantities(_different(layout, units[0]))):
        return Tall(value[0], names)
    if value and _tell_quantities(_suffixes(layout.column(value[0].index))):
        return Tall(value[0], names, unit_within=True)
    return None


def _named(heading: Heading) -> str | None:
    for text in heading.texts:
        found = quantity_of(words_of(unit_in(text)[1]))
        if found:
            return found
    return None


def _is_free(layout: Layout, heading: Heading) -> bool:
    """Return whether a column of numbers is neither a count of rows nor something known."""
    words = " ".join(words_of(text) for text in heading.texts)
    return not is_other(words) and not is_quality(words)


def _different(layout: Layout, heading: Heading) -> list[str]:
    return sorted({c.strip().strip('"') for c in layout.column(heading.index)} - {""})


def _suffixes(cells: Sequence[str]) -> list[str]:
    found = (_SUFFIX.search(cell.strip().strip('"')) for cell in cells)
    return sorted({match[1].strip() for match in found if match} - {""})


def _are_units(cells: Sequence[str]) -> bool:
    """Return whether nearly all cells of a column are units; a damaged one does not hide it."""
    known = [unit_of(cell) is not None for cell in cells if cell.strip(' "')]
    return bool(known) and sum(known) >= MOSTLY * len(known)


def _tell_quantities(units: Sequence[str]) -> bool:
    """Return whether units alone tell a temperature from a humidity."""
    families = {unit.family for text in units if (unit := unit_of(text)) is not None}
    return {"temperature", "share"} <= families


def _names_quantities(cells: Sequence[str]) -> bool:
    if not cells or len(cells) > MOST_NAMES:
        return False
    found = [quantity_of(_spoken(cell)) for cell in cells]
    known = sum(bool(q) or is_other(_spoken(c)) for q, c in zip(found, cells, strict=True))
    return any(q in READINGS for q in found) and known >= 0.5 * len(cells)


def _spoken(cell: str) -> str:
    return words_of(re.sub(r"[._/:-]+", " ", unit_in(cell)[1] or cell))


@dataclass(frozen=True)
class Turned:
    """A tall table turned: a new column for each name, and which name each row is of."""

    columns: tuple[Column, ...]
    codes: npt.NDArray[np.int64]
    left_aside: tuple[str, ...]


def turned(tall: Tall, table: Table, width: int, beside: Sequence[int] = ()) -> Turned:
    """Put a column for each name into a table, blank where the row is of another.

    Parameters
    ----------
    tall : Tall
        As from `tall_of`.
    table : Table
        With the value as numbers and the names as texts; the new columns are added to it.
    width : int
        Number of columns of the file; the new ones are numbered from there.
    beside : sequence of int
        Columns of the table that tell when and by which sensor a row was read.
    """
    texts = [_plain(table.texts[h.index]) for h in tall.names]
    if tall.unit_within:
        texts.append(_unit_texts(table.texts[tall.value.index]))
        table.numbers[tall.value.index] = _bare_numbers(table.texts[tall.value.index])
    joined = pc.binary_join_element_wise(*texts, "\t") if len(texts) > 1 else texts[0]
    coded = joined.dictionary_encode()
    codes = coded.indices.fill_null(0).to_numpy(zero_copy_only=False).astype(np.int64)
    names = [tuple(str(key).split("\t")) for key in coded.dictionary.to_pylist()]
    values, aside = table.numbers[tall.value.index], []
    readings = cache(lambda: _readings(table, beside))
    columns: dict[tuple[str, ...], Column] = {}
    for number, parts in enumerate(names):
        column = None if _odd_unit(parts, names) else _column(tall, parts, width + number)
        if column is None:
            aside.append(" ".join(parts))
            continue
        rows = codes == number
        thing = _thing(column, parts)
        first_code = columns[thing].index - width if thing in columns else -1
        if thing in columns and _twice(codes, first_code, number, readings):
            aside.append(" ".join(parts))
            continue
        first = columns.setdefault(thing, column)
        into = table.numbers.get(first.index, np.full(len(values), np.nan))
        table.numbers[first.index] = np.where(rows, _in_unit(values, column, first), into)
        codes[rows] = first.index - width
    return Turned(tuple(columns.values()), codes, tuple(aside))


def _odd_unit(parts: tuple[str, ...], names: Sequence[tuple[str, ...]]) -> bool:
    """Return whether the unit of a thing is not known while other rows of it have one that is."""
    if len(parts) < 2 or unit_of(parts[-1]) is not None:
        return False
    return any(one[:-1] == parts[:-1] and unit_of(one[-1]) is not None for one in names)


def _thing(column: Column, parts: tuple[str, ...]) -> tuple[str, ...]:
    """Return what rows of one thing share: all but the unit in which each is written."""
    named = len(parts) > 1 and parts[0] and unit_of(parts[-1]) is not None
    return (column.quantity, *parts[:-1]) if named else (column.quantity, *parts, "")


def _readings(table: Table, columns: Sequence[int]) -> npt.NDArray[np.int64]:
    """Return a number for each row, the same where it was read at one time by one sensor."""
    cells = [
        pa.array(table.numbers[i]).cast(pa.string())
        if i in table.numbers
        else _plain(table.texts[i])
        for i in columns
    ]
    if not cells:
        return np.arange(table.rows)
    key = pc.binary_join_element_wise(*cells, "\t", null_handling="replace")
    return np.asarray(key.dictionary_encode().indices.to_numpy(zero_copy_only=False), np.int64)


def _twice(
    codes: npt.NDArray[np.int64],
    first: int,
    second: int,
    readings: Callable[[], npt.NDArray[np.int64]],
) -> bool:
    """Return whether each reading is written in two units: row by row, or one below another."""
    both = codes[(codes == first) | (codes == second)]
    if len(both) > 1 and np.all(both[1:] != both[:-1]):
        return True
    here = readings()
    again = np.isin(here[codes == second], here[codes == first])
    return len(again) > 0 and bool(np.mean(again) >= MOSTLY)


def _in_unit(values: Floats, column: Column, other: Column) -> Floats:
    """Return values of a column in the unit of another of the same quantity."""
    if column.unit == other.unit or column.unit is None or other.unit is None:
        return values
    base = values * column.unit.scale + column.unit.offset
    return np.asarray((base - other.unit.offset) / other.unit.scale, np.float64)


def _plain(texts: pa.ChunkedArray) -> pa.Array:
    column = pc.utf8_trim_whitespace(texts).fill_null("")
    return column.combine_chunks() if isinstance(column, pa.ChunkedArray) else column


def _unit_texts(texts: pa.ChunkedArray) -> pa.Array:
    return pc.utf8_trim_whitespace(
        pc.replace_substring_regex(_plain(texts), r"^[+\-−]?[\d.,\s]+", "")
    )


def _bare_numbers(texts: pa.ChunkedArray) -> Floats:
    bare = pc.struct_field(pc.extract_regex(_plain(texts), r"^(?P<n>[+-]?\d+(?:[.,]\d+)?)"), "n")
    plain = pc.replace_substring(bare, ",", ".").cast(pa.float64())
    return np.asarray(plain.to_numpy(zero_copy_only=False), np.float64)


def _column(tall: Tall, parts: Sequence[str], index: int) -> Column | None:
    """Return the column of one name, read as a heading would be."""
    count = len(tall.names) + tall.unit_within
    has_unit = tall.unit_within or bool(unit_of(parts[-1]))
    unit = parts[count - 1] if has_unit else ""
    name = " ".join(parts[: count - 1] if has_unit else parts)
    spoken = re.sub(r"[._/:-]+", " ", name)
    if not name:
        return column_of(Heading(index, unit, (unit,)))
    found = column_of(Heading(index, name, (spoken,), unit))
    if found is None and unit:
        by_unit = column_of(Heading(index, unit, (unit,)))
        if by_unit is not None and quantity_of(_spoken(name)) is None and not is_other(spoken):
            found = Column(index, name, by_unit.quantity, name, by_unit.unit, by_unit.rank)
    return found
