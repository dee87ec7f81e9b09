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
from analysis.records import Field, Kind, faults_of
from analysis.records.cells import CellError, value_of
from service.register.file_guide import COLUMNS, declaration_of, fields_of, needed_in
from service.register.formulas import unmarked

DELIMITERS = (",", ";", "\t")
UTF16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
WITH_COMMA = re.compile(r"\s*[+-]?\d*,\d+\s*")


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
        text = decoded(path.read_bytes())
    except UnicodeDecodeError:
        expected = "UTF-8 text: save the table as 'CSV UTF-8'"
        faults.append(fault(file, 1, "", "bytes that are not UTF-8", expected))
        return []
    delimiter = delimiter_of(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    columns = _without_empty_end([name.strip() for name in next(reader, [])])
    wrong = _wrong_columns(file, columns)
    if wrong is not None:
        faults.append(wrong)
        return []
    rows = [(reader.line_num, cells) for cells in reader if any(cell.strip() for cell in cells)]
    dialect = Dialect(delimiter, delimiter != "," and _has_decimal_comma(file, columns, rows))
    read = (_line(file, number, columns, cells, dialect, faults) for number, cells in rows)
    return [line for line in read if line is not None]


def fault(file: str, number: int, column: str, found: str, expected: str) -> RegisterFileError:
    """Return the error for a place in a file."""
    return RegisterFileError(
        read=file,
        where=f"line {number}" + (f", column {column}" if column else ""),
        found=found,
        expected=expected,
        action="Correct the line and read the files in again; nothing was changed.",
    )


def decoded(data: bytes) -> str:
    """Return the text of a file that a spreadsheet wrote."""
    if data.startswith(UTF16):
        return data.decode("utf-16")
    return data.decode("utf-8-sig")


def delimiter_of(text: str) -> str:
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
    missing = [name for name in needed_in(file) if name not in columns]
    twice = [name for name in dict.fromkeys(columns) if columns.count(name) > 1]
    expected = "the columns " + ", ".join(COLUMNS[file])
    if unknown:
        return fault(file, 1, unknown[0], f"the column name {unknown[0]!r}", expected)
    if missing:
        return fault(file, 1, missing[0], f"no column {missing[0]}", expected)
    if twice:
        return fault(file, 1, twice[0], f"two columns {twice[0]}", "each column once")
    return None


def _has_decimal_comma(
    file: str, columns: Sequence[str], rows: Sequence[tuple[int, list[str]]]
) -> bool:
    fields = fields_of(file)
    return any(
        fields[name].kind is Kind.NUMBER and WITH_COMMA.fullmatch(cell)
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
        if (problem := _take_cell(line, column, unmarked(cell.strip()), dialect)) is not None
    ]
    found = found or [
        line.fault(wrong.field, wrong.found, wrong.expected)
        for declaration in declaration_of(file)
        for wrong in faults_of(declaration, _of(declaration.fields, line.values))
    ]
    faults += found
    return None if found else line


def _of(fields: Mapping[str, Field], values: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in values.items() if name in fields}


def _take_cell(line: Line, column: str, text: str, dialect: Dialect) -> RegisterFileError | None:
    """Put a cell's value into the line; an empty one is left out. Return what is wrong."""
    one = fields_of(line.file)[column]
    if not text:
        missing = column in needed_in(line.file)
        return line.fault(column, "an empty cell", one.expected) if missing else None
    try:
        line.values[column] = value_of(
            one, text, mark="comma" if dialect.decimal_comma else "point"
        )
    except CellError as problem:
        return line.fault(column, repr(text), str(problem))
    return None
