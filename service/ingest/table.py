"""The columns that are needed, read at full speed, with broken lines kept apart."""

from collections.abc import Collection
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv

from service.errors import NotUnderstoodError
from service.ingest.fields import (
    BLANKS,
    DELIMITERS,
    MISSING,
    MISSING_TEXTS,
    UNIT_AFTER,
    kind,
    split,
)
from service.ingest.files.decode import Decoded
from service.ingest.layout import Layout

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_NUMBER = r"^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$"
_UNIT_AFTER = UNIT_AFTER + "$"
# Above this no unit is worked out without leaving what a number can be.
MOST = 1e300


@dataclass(frozen=True)
class Apart:
    """A line that has not the columns of the others, kept apart with its number."""

    line: int
    text: str
    fields: int


@dataclass
class Table:
    """The needed columns of a file.

    ``numbers`` and ``texts`` hold columns by their index (NaN and null where nothing stands);
    ``lines`` the line number of each row; ``unread`` the rows of a numeric column that hold
    something else, as (row, column index, text); ``tall`` tells that each row holds one value,
    ``counted`` are running numbers that the logger gave its readings.
    """

    rows: int
    numbers: dict[int, Floats]
    texts: dict[int, Any]
    apart: list[Apart]
    unread: list[tuple[int, int, str]] = field(default_factory=list)
    body: "Body | None" = None
    tall: bool = False
    counted: Floats | None = None

    def line(self, row: int) -> int:
        """Return the line number of a row, counted from 1."""
        if self.body is None:
            return 0
        return int(self.body.lines()[row])


@dataclass
class Body:
    """The lines below the headings, as bytes that the fast reader takes.

    ``rows`` is the number of rows read from them, ``broken`` those that were not, counted from 0
    among the filled lines. ``mended`` and ``closed`` tell that surplus fields and open quotation
    marks have been dealt with, so that each is tried once.
    """

    text: Any
    first_line: int
    quoted: bool
    rows: int = 0
    broken: frozenset[int] = frozenset()
    mended: bool = False
    closed: bool = False
    _lines: Ints | None = None

    def lines(self) -> Ints:
        """Return the line number of each row that was read."""
        if self._lines is None:
            rows = self._unbroken() if self.rows else self.filled_lines()
            self._lines = np.delete(rows, sorted(self.broken)) if self.broken else rows
        return self._lines

    def _unbroken(self) -> Ints:
        """Return running numbers where every line is a row, else those of the filled lines."""
        raw = np.frombuffer(self.text, np.uint8)
        count = np.count_nonzero(raw == 10) + bool(len(raw) and raw[-1] != 10)
        if count == self.rows + len(self.broken):
            return np.arange(count, dtype=np.int64) + self.first_line
        return self.filled_lines()

    def filled_lines(self) -> Ints:
        """Return the numbers of the lines that are not empty."""
        raw = np.frombuffer(self.text, np.uint8)
        alone = (raw == 13) & (np.append(raw[1:], np.uint8(0)) != 10)
        ends = np.flatnonzero((raw == 10) | alone)
        starts = np.concatenate([[0], ends + 1])
        stops = np.concatenate([ends, [len(raw)]])
        filled = stops - starts
        filled -= (filled > 0) & (np.append(raw, np.uint8(0))[stops - 1] == 13)
        return np.flatnonzero(filled > 0).astype(np.int64) + self.first_line

    def split(self) -> list[bytes]:
        """Return the lines, each line end being a plain one."""
        plain = bytes(self.text).replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        return plain.split(b"\n")


def table_of(
    text: Decoded, layout: Layout, numbers: Collection[int], texts: Collection[int]
) -> Table:
    """Return the columns of a file that are numbers and those that stay text.

    Parameters
    ----------
    text, layout
        As from `decode` and `layout_of`.
    numbers, texts : collection of int
        Indices of the columns wanted as float64 and as strings.

    Returns
    -------
    Table
        Lines with another number of columns are in ``apart``; the rest is read.
    """
    body = _body(text, layout)
    try:
        table, apart = _read(text.name, body, layout, numbers, texts)
        columns = {i: _floats(table.column(_name(i))) for i in numbers}
        unread: list[tuple[int, int, str]] = []
    except pa.ArrowInvalid:
        table, apart = _read(text.name, body, layout, (), {*numbers, *texts})
        columns, unread = _tolerant(table, numbers)
    unread += _endless(columns)
    body.rows = table.num_rows
    kept = {i: table.column(_name(i)) for i in texts}
    return Table(table.num_rows, columns, kept, apart, unread, body)


def _name(index: int) -> str:
    return f"c{index}"


def _floats(column: Any) -> Floats:
    return np.asarray(column.to_numpy(zero_copy_only=False), dtype=np.float64)


def _endless(columns: dict[int, Floats]) -> list[tuple[int, int, str]]:
    """Take numbers too large to be held out of the columns, and return them as unread."""
    unread = []
    for index, values in columns.items():
        rows = np.flatnonzero((values > MOST) | (values < -MOST))
        if len(rows):
            columns[index] = values.copy()
            columns[index][rows] = np.nan
            unread += [(int(row), index, "a number too large for any unit") for row in rows]
    return unread


def _body(text: Decoded, layout: Layout) -> Body:
    at = 0
    for _ in range(layout.header_lines):
        at = text.text.find(b"\n", at) + 1
    if layout.delimiter != BLANKS:
        rest = memoryview(text.text)[at:]
        return Body(rest, layout.header_lines + text.first_line, text.text.find(b'"', at) >= 0)
    lines = text.text[at:].decode("utf-8", errors="replace").split("\n")
    joined = "\n".join("\t".join(split(line, BLANKS)) for line in lines)
    return Body(joined.encode(), layout.header_lines + text.first_line, quoted=False)


def _read(
    name: str, body: Body, layout: Layout, numbers: Collection[int], texts: Collection[int]
) -> tuple[Any, list[Apart]]:
    """Return an Arrow table and the lines that do not fit; unfit lines are looked at twice."""
    broken: list[Any] = []
    table = _arrow(body, layout, numbers, texts, broken, threads=True)
    if body.quoted and table.num_rows + len(broken) != len(body.filled_lines()):
        body.quoted = not body.closed
        body.text, body.closed = _without_open_quotes(body), True
        return _read(name, body, layout, numbers, texts)
    if not broken:
        return table, []
    broken.clear()
    table = _arrow(body, layout, numbers, texts, broken, threads=False)
    filled = body.filled_lines()
    rows = {int(row.number) - 1: row for row in broken}
    mended = {} if body.mended else _mended(rows, layout)
    if mended:
        body.text = _replaced(body, {int(filled[r]): line for r, line in mended.items()})
        body.mended = True
        return _read(name, body, layout, numbers, texts)
    body.broken, body._lines = frozenset(rows), None
    if not table.num_rows:
        raise _nothing_fits(name, layout)
    return table, [Apart(int(filled[r]), row.text, row.actual_columns) for r, row in rows.items()]


def _nothing_fits(name: str, layout: Layout) -> NotUnderstoodError:
    return NotUnderstoodError(
        read=name,
        where=f"line {layout.header_lines + 1}",
        found="no line with the columns that the first lines promise",
        expected=f"{layout.width} columns",
        action="Export the file again; it may have been changed by hand.",
    )


def _arrow(
    body: Body,
    layout: Layout,
    numbers: Collection[int],
    texts: Collection[int],
    broken: list[Any],
    *,
    threads: bool,
) -> Any:
    def keep_apart(row: Any) -> str:
        broken.append(row)
        return "skip"

    types = {_name(i): pa.float64() for i in numbers} | {_name(i): pa.string() for i in texts}
    return pyarrow.csv.read_csv(
        pa.py_buffer(body.text),
        read_options=pyarrow.csv.ReadOptions(
            column_names=[_name(i) for i in range(layout.width)], use_threads=threads
        ),
        parse_options=pyarrow.csv.ParseOptions(
            delimiter=DELIMITERS[layout.delimiter] or "\t",
            quote_char='"' if body.quoted else False,
            invalid_row_handler=keep_apart,
        ),
        convert_options=pyarrow.csv.ConvertOptions(
            include_columns=list(types),
            column_types=types,
            decimal_point=layout.decimal,
            null_values=MISSING_TEXTS,
            strings_can_be_null=True,
        ),
    )


def _mended(rows: dict[int, Any], layout: Layout) -> dict[int, str]:
    """Return lines that fit once blank or textual fields at the end are added or left off."""
    delimiter = DELIMITERS[layout.delimiter] or "\t"
    typed = [i for i, k in enumerate(layout.kinds) if k in ("number", "time")]
    mended = {}
    for number, row in rows.items():
        cells = split(row.text, "tab" if layout.delimiter == BLANKS else layout.delimiter)
        surplus = cells[layout.width :]
        if len(cells) <= max(typed) or any(kind(c) in ("number", "time") for c in surplus):
            continue
        kept = [*cells, *[""] * layout.width][: layout.width]
        if all(kind(kept[i]) != "text" for i in typed):
            mended[number] = delimiter.join(f'"{c}"' if delimiter in c else c for c in kept)
    return mended


def _without_open_quotes(body: Body) -> bytes:
    """Return the lines, without quotation marks where one is left open."""
    lines = body.split()
    return b"\n".join(b if b.count(b'"') % 2 == 0 else b.replace(b'"', b" ") for b in lines)


def _replaced(body: Body, lines: dict[int, str]) -> bytes:
    parts = body.split()
    for number, line in lines.items():
        parts[number - body.first_line] = line.encode()
    return b"\n".join(parts)


def _tolerant(
    table: Any, numbers: Collection[int]
) -> tuple[dict[int, Floats], list[tuple[int, int, str]]]:
    """Return numeric columns cleaned field by field, and what could not be read as a number."""
    columns: dict[int, Floats] = {}
    unread: list[tuple[int, int, str]] = []
    for index in numbers:
        written = pc.utf8_trim_whitespace(table.column(_name(index)).combine_chunks())
        bare = pc.replace_substring_regex(written, pattern=_UNIT_AFTER, replacement="")
        bare = _without_thousands(bare)
        bare = _one_decimal_point(pc.replace_substring(bare, pattern="−", replacement="-"))
        fits = pc.fill_null(pc.match_substring_regex(bare, pattern=_NUMBER), False)
        bare = pc.replace_substring_regex(bare, pattern=r"^\+", replacement="")
        columns[index] = _floats(pc.if_else(fits, bare, None).cast(pa.float64()))
        odd = pc.and_(pc.invert(fits), pc.is_valid(written))
        rows = np.flatnonzero(odd.to_numpy(zero_copy_only=False))
        found = zip(rows, written.take(pa.array(rows)).to_pylist(), strict=True)
        unread += [(int(row), index, text) for row, text in found if not _is_missing(text)]
    return columns, unread


def _without_thousands(values: Any) -> Any:
    """Return numbers without the blanks or apostrophes that part their thousands."""
    parted = pc.match_substring_regex(values, pattern=r"^[+-]?\d{1,3}(?:['’ ]\d{3})+(?:[.,]\d+)?$")
    if not pc.any(parted.fill_null(False)).as_py():
        return values
    return pc.if_else(parted, pc.replace_substring_regex(values, r"['’ ]", ""), values)


@lru_cache(maxsize=4096)
def _is_missing(text: str) -> bool:
    return bool(MISSING.fullmatch(text))


def _one_decimal_point(values: Any) -> Any:
    """Return numbers with a decimal point: "1.012,5", "1,012.5" and "21,5" all become so."""
    comma_last = pc.match_substring_regex(values, pattern=r"^[^,]*\.[^,]*,[^,.]*$")
    point_last = pc.match_substring_regex(values, pattern=r"^[^.]*,[^.]*\.[^,.]*$")
    without = pc.if_else(comma_last, pc.replace_substring(values, ".", ""), values)
    without = pc.if_else(point_last, pc.replace_substring(without, ",", ""), without)
    return pc.replace_substring(without, pattern=",", replacement=".")
