"""The register as CSV files, read in and written out (see `register_columns` for every column).

Reading in is all or nothing: every line of every file is checked first, and the first fault is
told with how many more there are. Reading the same files twice changes nothing. What is in the
register but not in the files stays; a column that a file does not have keeps what it held.
"""

import csv
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from analysis.errors import StilltautError
from service.register.possible import require_no_new_problem
from service.register.register_changes import TableChanges, line_change
from service.register.register_columns import COLUMN_WORDS, COLUMNS, REFERENCES
from service.register.register_sheets import BAND, SHEETS
from service.register.register_text import Line, RegisterFileError, lines_of
from service.storage import audit
from service.storage.durable import replace_file
from service.storage.register_cells import text_of
from service.storage.register_edits import key_of, key_words, line_at
from service.storage.stores import Stores

__all__ = [
    "COLUMNS",
    "COLUMN_WORDS",
    "RegisterFileError",
    "files_in",
    "load_register",
    "take_register",
    "write_register",
]

Changes = tuple[TableChanges, ...]


class _LookedOnly(Exception):
    """Ends the transaction of a mere look, so that nothing of it stays."""


def load_register(stores: Stores, folder: Path, *, by: str = "") -> dict[str, int]:
    """Read the register's CSV files of a folder into the register; absent files are left out.

    Returns
    -------
    dict of str to int
        For each file read, how many lines were new or changed.

    Raises
    ------
    RegisterFileError
        If any line is faulty; nothing is changed then.
    """
    changes = take_register(stores, files_in([folder]), by=by)
    return {table.file: len(table.changes) for table in changes}


def take_register(
    stores: Stores,
    files: Mapping[str, Path],
    *,
    by: str = "",
    look: Callable[[Changes], None] = lambda _: None,
    keep: bool = True,
) -> Changes:
    """Read register files in, all or nothing; return what was new, changed and unchanged.

    Parameters
    ----------
    files : mapping of str to pathlib.Path
        Name of the register's file → where it lies; `files_in` finds them.
    by : str
        Who does it, for the audit trail.
    look : callable
        Is shown the changes before any is kept.
    keep : bool
        False undoes everything after the look.

    Raises
    ------
    RegisterFileError
        If any line is faulty, or states of a work what cannot be; nothing is changed then.
    """
    faults: list[RegisterFileError] = []
    lines = {file: lines_of(files[file], file, faults) for file in SHEETS if file in files}
    # A faulty parent would make its children look unknown, so names are checked last.
    faults = faults or [*_twice(lines), *_unknown_names(stores, lines)]
    if faults:
        raise _all_of(faults)
    changes: Changes = ()
    try:
        with stores.register.writing():
            changes = tuple(_take_file(stores, file, those, by) for file, those in lines.items())
            impossible = _impossible(stores, lines, changes)
            if impossible:
                raise _all_of(impossible)
            look(changes)
            if not keep:
                raise _LookedOnly
    except _LookedOnly:
        pass
    return changes


def files_in(paths: Sequence[Path]) -> dict[str, Path]:
    """Return where each of the register's files lies, among files and folders that were named.

    A written archive may be named as a whole: its register lies in a folder of that name.

    Raises
    ------
    RegisterFileError
        If a path does not exist, has none of the register's files, or names one twice.
    """
    found: dict[str, Path] = {}
    for path in paths:
        for file, place in _files_at(path).items():
            if file in found:
                raise _named_wrongly(path, f"{file} twice", "each of the register's files once")
            found[file] = place
    return found


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


def _files_at(path: Path) -> dict[str, Path]:
    if not path.is_dir():
        file = path.name.casefold()
        if not path.is_file():
            raise _named_wrongly(path, "nothing there", "a file or a folder")
        if file not in SHEETS:
            raise _named_wrongly(path, f"the name {path.name}", "one of " + ", ".join(SHEETS))
        return {file: path}
    for folder in (path, path / "register"):
        present = {file: folder / file for file in SHEETS if (folder / file).is_file()}
        if present:
            return present
    raise _named_wrongly(path, "none of the register's files", "some of " + ", ".join(SHEETS))


def _take_file(stores: Stores, file: str, lines: Sequence[Line], by: str) -> TableChanges:
    changes = []
    for line in lines:
        before = audit.version(stores.register)
        try:
            changed = SHEETS[file].take(stores.register, _whole(stores, line), by)
        except StilltautError as problem:
            raise line.fault(problem.where, problem.found, problem.expected) from problem
        if changed:
            trail = audit.since(stores.register, before)
            key = key_words(key_of(file, line.values))
            changes.append(line_change(file, line.number, key, trail))
    return TableChanges(file, len(lines), tuple(changes))


def _whole(stores: Stores, line: Line) -> dict[str, Any]:
    """Return a line's values, with what the register holds in columns that its file lacks."""
    there = line_at(stores.register, line.file, key_of(line.file, line.values)) or {}
    if line.file == "rooms.csv" and any(column in line.values for column in BAND):
        there |= line_at(stores.register, "bands.csv", key_of("bands.csv", line.values)) or {}
    kept = {name: value for name, value in there.items() if name not in line.columns}
    return kept | line.values


def _twice(lines: Mapping[str, Sequence[Line]]) -> list[RegisterFileError]:
    """Return the lines that would write over an earlier line of their own file."""
    faults = []
    for file, those in lines.items():
        first: dict[tuple[Any, ...], int] = {}
        for line in those:
            key = key_of(file, line.values)
            number = first.setdefault(tuple(key.values()), line.number)
            if number != line.number:
                found = f"{key_words(key)} as in line {number}"
                faults.append(line.fault(list(key)[-1], found, "a line of its own"))
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


def _impossible(
    stores: Stores, lines: Mapping[str, Sequence[Line]], changes: Changes
) -> list[RegisterFileError]:
    """Return the lines that, with what is known besides, state of a work what cannot be."""
    changed = {(table.file, change.number) for table in changes for change in table.changes}
    of_works: dict[str, list[Line]] = {}
    for line in (line for those in lines.values() for line in those if "work_id" in line.values):
        of_works.setdefault(line.values["work_id"], []).append(line)
    faults = []
    for work_id, its in of_works.items():
        if not any((line.file, line.number) in changed for line in its):
            continue
        try:
            require_no_new_problem(stores.register, work_id)
        except StilltautError as problem:
            faults.append(_at_its_line(problem, its))
    return faults


def _at_its_line(problem: StilltautError, lines: Sequence[Line]) -> RegisterFileError:
    """Return what cannot be of a work as a fault of the line that most likely says it."""
    stating = [
        line
        for line in lines
        if problem.where in line.values or line.values.get("name") == problem.where
    ]
    line = (stating or list(lines))[-1]
    return line.fault(problem.where, problem.found, problem.expected)


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


def _named_wrongly(path: Path, found: str, expected: str) -> RegisterFileError:
    return RegisterFileError(
        read=str(path),
        where="",
        found=found,
        expected=expected,
        action="Name the files, or the folder that holds them. Nothing was changed.",
    )
