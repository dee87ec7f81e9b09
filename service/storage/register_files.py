"""The register as CSV files, read in and written out (see `register_columns` for every column).

Reading in is all or nothing: every line of every file is checked first, and the first fault is
told with how many more there are. Reading the same files twice changes nothing.
"""

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analysis.errors import StilltautError
from service.storage.durable import replace_file
from service.storage.register_cells import CellError, text_of, value_of
from service.storage.register_columns import COLUMN_WORDS, COLUMNS, REFERENCES, REQUIRED
from service.storage.register_sheets import SHEETS
from service.storage.stores import Stores

__all__ = ["COLUMNS", "COLUMN_WORDS", "RegisterFileError", "load_register", "write_register"]

BEGINS_ENDS = ("from_utc", "to_utc")


class RegisterFileError(StilltautError):
    """A line of a register file is not as it should be. ``others`` holds the further faults."""

    others: tuple["RegisterFileError", ...] = ()


@dataclass(frozen=True)
class Line:
    """One line of a file, its values read."""

    file: str
    number: int
    values: dict[str, Any]

    def fault(self, column: str, found: str, expected: str) -> RegisterFileError:
        """Return the error for a cell of this line."""
        return _fault(self.file, self.number, column, found, expected)


def load_register(stores: Stores, folder: Path, *, by: str = "") -> dict[str, int]:
    """Read the register's CSV files into the register; files that are absent are left out.

    Parameters
    ----------
    folder : pathlib.Path
        Holds some or all of the files in `COLUMNS`.
    by : str
        Who does it, for the audit trail.

    Returns
    -------
    dict of str to int
        For each file read, how many lines were new or changed.

    Raises
    ------
    RegisterFileError
        If any line is faulty; nothing is changed then.
    """
    present = [file for file in SHEETS if (folder / file).is_file()]
    if not present:
        raise _no_files(folder)
    faults: list[RegisterFileError] = []
    lines = {file: _lines(folder / file, faults) for file in present}
    # A faulty parent would make its children look unknown, so names are checked last.
    faults = faults or _unknown_names(stores, lines)
    if faults:
        raise _all_of(faults)
    with stores.register.writing():
        return {
            file: sum(SHEETS[file].take(stores.register, line.values, by) for line in lines[file])
            for file in present
        }


def write_register(stores: Stores, folder: Path) -> list[Path]:
    """Write the register as CSV files that `load_register` reads; return their paths."""
    written = []
    for file, sheet in SHEETS.items():
        rows = [
            [text_of(values.get(column)) for column in COLUMNS[file]]
            for values in sheet.lines(stores.register)
        ]
        replace_file(folder / file, table_text(COLUMNS[file], rows).encode())
        written.append(folder / file)
    return written


def table_text(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a table as CSV text."""
    out: list[str] = []
    writer = csv.writer(_Appender(out), lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(rows)
    return "".join(out)


class _Appender:
    """The little that `csv.writer` wants of a file."""

    def __init__(self, parts: list[str]) -> None:
        self.write = parts.append


def _lines(path: Path, faults: list[RegisterFileError]) -> list[Line]:
    """Return the lines of a file; what is wrong is added to ``faults``."""
    file = path.name
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError:
        faults.append(_fault(file, 1, "", "bytes that are not UTF-8", "a UTF-8 text file"))
        return []
    reader = csv.reader(io.StringIO(text, newline=""))
    columns = [name.strip() for name in next(reader, [])]
    wrong = _wrong_columns(file, columns)
    if wrong is not None:
        faults.append(wrong)
        return []
    lines = []
    for cells in reader:
        if not any(cell.strip() for cell in cells):
            continue
        line = _line(file, reader.line_num, columns, cells, faults)
        if line is not None:
            lines.append(line)
    return lines


def _wrong_columns(file: str, columns: Sequence[str]) -> RegisterFileError | None:
    unknown = [name for name in columns if name not in COLUMNS[file]]
    missing = [name for name in REQUIRED[file] if name not in columns]
    expected = "the columns " + ", ".join(COLUMNS[file])
    if unknown:
        return _fault(file, 1, unknown[0], f"the column name {unknown[0]!r}", expected)
    if missing:
        return _fault(file, 1, missing[0], f"no column {missing[0]}", expected)
    return None


def _line(
    file: str,
    number: int,
    columns: Sequence[str],
    cells: Sequence[str],
    faults: list[RegisterFileError],
) -> Line | None:
    if len(cells) != len(columns):
        faults.append(_fault(file, number, "", f"{len(cells)} cells", f"{len(columns)} cells"))
        return None
    line = Line(file, number, {})
    found = [
        problem
        for column, cell in zip(columns, cells, strict=True)
        if (problem := _take_cell(line, column, cell.strip())) is not None
    ]
    found = found or _disagreements(line)
    faults += found
    return None if found else line


def _take_cell(line: Line, column: str, text: str) -> RegisterFileError | None:
    """Put a cell's value into the line; an empty one is left out. Return what is wrong."""
    if not text:
        missing = column in REQUIRED[line.file]
        return (
            line.fault(column, "an empty cell", COLUMN_WORDS[line.file][column])
            if missing
            else None
        )
    try:
        line.values[column] = value_of(line.file, column, text)
    except CellError as problem:
        return line.fault(column, repr(text), str(problem))
    return None


def _disagreements(line: Line) -> list[RegisterFileError]:
    """Return what is wrong between two cells of a line."""
    pairs = [
        BEGINS_ENDS,
        ("rh_low_pct", "rh_high_pct"),
        ("temp_low_c", "temp_high_c"),
        ("low", "value"),
        ("value", "high"),
    ]
    faults = []
    for first, second in pairs:
        low, high = line.values.get(first), line.values.get(second)
        if low is None or high is None:
            continue
        if low > high or (low == high and first == "from_utc" and line.file != "events.csv"):
            faults.append(line.fault(second, text_of(high), f"more than {first}, {text_of(low)}"))
    if ("read_2" in line.values) != ("true_2" in line.values):
        faults.append(
            line.fault("true_2", "half a second point", "both read_2 and true_2, or none")
        )
    return faults


def _unknown_names(stores: Stores, lines: Mapping[str, Sequence[Line]]) -> list[RegisterFileError]:
    """Return the lines that name a site, room, logger or work that is nowhere."""
    known = {
        column: {values[column] for values in SHEETS[file].lines(stores.register)}
        | {line.values[column] for line in lines.get(file, ())}
        for column, (file, _) in REFERENCES.items()
    }
    return [
        line.fault(column, repr(name), f"a {column} of {REFERENCES[column][0]}")
        for file, those in lines.items()
        for line in those
        for column in REFERENCES
        if (name := line.values.get(column)) is not None and name not in known[column]
    ]


def _fault(file: str, number: int, column: str, found: str, expected: str) -> RegisterFileError:
    return RegisterFileError(
        read=file,
        where=f"line {number}" + (f", column {column}" if column else ""),
        found=found,
        expected=expected,
        action="Correct the line and read the files in again; nothing was changed.",
    )


def _all_of(faults: Sequence[RegisterFileError]) -> RegisterFileError:
    """Return the first fault, which says how many more there are."""
    first, others = faults[0], tuple(faults[1:])
    if not others:
        return first
    places = "; ".join(f"{fault.read} {fault.where}" for fault in others[:5])
    error = RegisterFileError(
        read=first.read,
        where=first.where,
        found=first.found,
        expected=first.expected,
        action=f"{first.action} {len(others)} more: {places}{' …' if len(others) > 5 else ''}.",
    )
    error.others = others
    return error


def _no_files(folder: Path) -> RegisterFileError:
    return RegisterFileError(
        read=str(folder),
        where="",
        found="none of the register's files",
        expected="some of " + ", ".join(SHEETS),
        action="Name the folder that holds them.",
    )
