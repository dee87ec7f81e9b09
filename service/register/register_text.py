"""A register file's text as lines of values, however a spreadsheet wrote it.

Commas, semicolons or tabs between the cells; decimal points or commas; with or without the three
bytes that some programs put in front of UTF-8; UTF-16 when its mark says so. Empty cells and
empty columns behind the last heading are left out.
"""

import codecs
import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analysis.errors import StilltautError
from service.register.register_columns import COLUMN_WORDS, COLUMNS, REQUIRED
from service.storage.register_cells import NUMBERS, CellError, text_of, value_of

DELIMITERS = (",", ";", "\t")
UTF16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
WITH_COMMA = re.compile(r"\s*[+-]?\d*,\d+\s*")
BEGINS_ENDS = ("from_utc", "to_utc")
LOW_HIGH = (
    BEGINS_ENDS,
    ("rh_low_pct", "rh_high_pct"),
    ("temp_low_c", "temp_high_c"),
    ("low", "value"),
    ("value", "high"),
)


class RegisterFileError(StilltautError):
    """A line of a register file is not as it should be. ``others`` holds the further faults."""

    others: tuple["RegisterFileError", ...] = ()


@dataclass(frozen=True)
class Line:
    """One line of a file, its values read; ``columns`` are those that the file has."""

    file: str
    number: int
    columns: tuple[str, ...]
    values: dict[str, Any]

    def fault(self, column: str, found: str, expected: str) -> RegisterFileError:
        """Return the error for a cell of this line."""
        return fault(self.file, self.number, column, found, expected)


@dataclass(frozen=True)
class Dialect:
    """How a file separates its cells and writes its numbers."""

    delimiter: str
    decimal_comma: bool


def lines_of(path: Path, file: str, faults: list[RegisterFileError]) -> list[Line]:
    """Return the lines of a file; what is wrong is added to ``faults``."""
    try:
        text = _text(path.read_bytes())
    except UnicodeDecodeError:
        expected = "UTF-8 text: save the table as 'CSV UTF-8'"
        faults.append(fault(file, 1, "", "bytes that are not UTF-8", expected))
        return []
    delimiter = _delimiter(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    columns = _without_empty_end([name.strip() for name in next(reader, [])])
    wrong = _wrong_columns(file, columns)
    if wrong is not None:
        faults.append(wrong)
        return []
    rows = [(reader.line_num, cells) for cells in reader if any(cell.strip() for cell in cells)]
    dialect = Dialect(delimiter, delimiter != "," and _has_decimal_comma(columns, rows))
    read = (_line(file, number, columns, cells, dialect, faults) for number, cells in rows)
    return [line for line in read if line is not None]


def disagreements(file: str, values: Mapping[str, Any]) -> list[tuple[str, str, str]]:
    """Return what is wrong between two values of a line: column, found, expected."""
    wrong = []
    for first, second in LOW_HIGH:
        low, high = values.get(first), values.get(second)
        if low is None or high is None:
            continue
        if low > high or (low == high and first == "from_utc" and file != "events.csv"):
            wrong.append((second, text_of(high), f"more than {first}, {text_of(low)}"))
    if (values.get("read_2") is None) != (values.get("true_2") is None):
        wrong.append(("true_2", "half a second point", "both read_2 and true_2, or none"))
    return wrong


def fault(file: str, number: int, column: str, found: str, expected: str) -> RegisterFileError:
    """Return the error for a place in a file."""
    return RegisterFileError(
        read=file,
        where=f"line {number}" + (f", column {column}" if column else ""),
        found=found,
        expected=expected,
        action="Correct the line and read the files in again; nothing was changed.",
    )


def _text(data: bytes) -> str:
    if data.startswith(UTF16):
        return data.decode("utf-16")
    return data.decode("utf-8-sig")


def _delimiter(text: str) -> str:
    """Return what stands most often between the headings; they hold none of these signs."""
    headings = text.partition("\n")[0]
    return max(DELIMITERS, key=headings.count)


def _without_empty_end(cells: Sequence[str]) -> list[str]:
    kept = list(cells)
    while kept and not kept[-1].strip():
        kept.pop()
    return kept


def _wrong_columns(file: str, columns: Sequence[str]) -> RegisterFileError | None:
    unknown = [name for name in columns if name not in COLUMNS[file]]
    missing = [name for name in REQUIRED[file] if name not in columns]
    twice = [name for name in dict.fromkeys(columns) if columns.count(name) > 1]
    expected = "the columns " + ", ".join(COLUMNS[file])
    if unknown:
        return fault(file, 1, unknown[0], f"the column name {unknown[0]!r}", expected)
    if missing:
        return fault(file, 1, missing[0], f"no column {missing[0]}", expected)
    if twice:
        return fault(file, 1, twice[0], f"two columns {twice[0]}", "each column once")
    return None


def _has_decimal_comma(columns: Sequence[str], rows: Sequence[tuple[int, list[str]]]) -> bool:
    return any(
        name in NUMBERS and WITH_COMMA.fullmatch(cell)
        for _, cells in rows
        for name, cell in zip(columns, cells, strict=False)
    )


def _line(
    file: str,
    number: int,
    columns: Sequence[str],
    cells: Sequence[str],
    dialect: Dialect,
    faults: list[RegisterFileError],
) -> Line | None:
    kept = _without_empty_end(cells)
    if len(kept) > len(columns):
        faults.append(fault(file, number, "", f"{len(kept)} cells", f"{len(columns)} cells"))
        return None
    line = Line(file, number, tuple(columns), {})
    every = [*kept, *[""] * (len(columns) - len(kept))]
    found = [
        problem
        for column, cell in zip(columns, every, strict=True)
        if (problem := _take_cell(line, column, cell.strip(), dialect)) is not None
    ]
    found = found or [line.fault(*wrong) for wrong in disagreements(file, line.values)]
    faults += found
    return None if found else line


def _take_cell(line: Line, column: str, text: str, dialect: Dialect) -> RegisterFileError | None:
    """Put a cell's value into the line; an empty one is left out. Return what is wrong."""
    words: Mapping[str, str] = COLUMN_WORDS[line.file]
    if not text:
        missing = column in REQUIRED[line.file]
        return line.fault(column, "an empty cell", words[column]) if missing else None
    try:
        comma = dialect.decimal_comma
        line.values[column] = value_of(line.file, column, text, decimal_comma=comma)
    except CellError as problem:
        return line.fault(column, repr(text), str(problem))
    return None
