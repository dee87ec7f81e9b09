"""The register as CSV files, read in and written out (see `register_columns` for every column).

Reading in is all or nothing: every line of every file is checked first, and the first fault is
told with how many more there are. Reading the same files twice changes nothing. What is in the
register but not in the files stays; a column that a file does not have keeps what it held.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analysis.errors import StilltautError
from analysis.records import BY_FILE, REGISTER
from analysis.records.cells import text_of
from service.register.file_guide import COLUMNS, NEWEST_BAND, PARENTS, fields_of, table_text
from service.register.file_text import Line, RegisterFileError, lines_of
from service.register.possible import require_no_new_problem
from service.storage import audit, places
from service.storage.audit import AuditLine
from service.storage.durable import replace_file
from service.storage.loggers import put_calibration
from service.storage.records import every_line, key_of, key_words, line_at, put_record, values_of
from service.storage.register import Register
from service.storage.stores import Stores


@dataclass(frozen=True)
class LineChange:
    """One line of a file that is new, or changes what the register holds.

    ``columns`` says what changes: column, before, after, as they stand in a cell.
    """

    number: int
    key: str
    new: bool
    columns: tuple[tuple[str, str, str], ...] = ()


@dataclass(frozen=True)
class TableChanges:
    """What one file brings: how many lines it has, and those of them that are new or changed."""

    file: str
    lines: int
    changes: tuple[LineChange, ...]

    @property
    def new(self) -> int:
        """Lines that the register does not know yet."""
        return sum(change.new for change in self.changes)

    @property
    def changed(self) -> int:
        """Lines that say something else than the register."""
        return len(self.changes) - self.new

    @property
    def unchanged(self) -> int:
        """Lines that the register holds already as they are."""
        return self.lines - len(self.changes)


Changes = tuple[TableChanges, ...]
BAND = tuple(name for name in REGISTER[NEWEST_BAND].fields if name != "room")
# A name that a file leaves out is the record's short one.
NAMED_BY = {"sites.csv": ("name", "site"), "rooms.csv": ("name", "room")}


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
    show_changes: Callable[[Changes], None] = lambda _: None,
    keep: bool = True,
) -> Changes:
    """Read register files in, all or nothing; return what was new, changed and unchanged.

    Parameters
    ----------
    files : mapping of str to pathlib.Path
        Name of the register's file → where it lies; `files_in` finds them.
    by : str
        Who does it, for the audit trail.
    show_changes : callable
        Is shown the changes before any is kept.
    keep : bool
        False undoes everything after the look.

    Raises
    ------
    RegisterFileError
        If any line is faulty, or states of a work what cannot be; nothing is changed then.
    """
    faults: list[RegisterFileError] = []
    lines = {file: lines_of(files[file], file, faults) for file in REGISTER if file in files}
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
            show_changes(changes)
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
    for file in REGISTER:
        rows = [
            [text_of(values.get(column)) for column in COLUMNS[file]]
            for values in lines_in(stores.register, file)
        ]
        replace_file(folder / file, table_text(COLUMNS[file], rows).encode())
        written.append(folder / file)
    return written


def take_line(register: Register, file: str, values: Mapping[str, Any], by: str) -> bool:
    """Put a line's values in, added or changed by its key; return whether anything changed."""
    given = dict(values)
    if file in NAMED_BY:
        name, short = NAMED_BY[file]
        given = {name: given[short]} | given
    if file == "calibrations.csv":
        return put_calibration(register, BY_FILE[file].record(**given), by=by)
    band = {one: given.pop(one) for one in BAND if one in given} if file == "rooms.csv" else {}
    if file == NEWEST_BAND:
        given = {"band_name": "agreed band"} | given
    changed = put_record(register, BY_FILE[file].record(**given), by=by)
    if any(value not in (None, "") for value in band.values()):
        band["room"] = given["room"]
        changed = take_line(register, NEWEST_BAND, band, by) or changed
    return changed


def lines_in(register: Register, file: str) -> Iterable[Mapping[str, Any]]:
    """Return the values of all lines of a file, in order."""
    if file not in ("rooms.csv", NEWEST_BAND):
        return every_line(register, file)
    every = {room.room: places.bands(register, room.room) for room in places.rooms(register)}
    if file == NEWEST_BAND:
        return [values_of(band) for bands in every.values() for band in bands[:-1]]
    newest = {room: values_of(bands[-1]) for room, bands in every.items() if bands}
    rooms = map(values_of, places.rooms(register))
    return [{**newest.get(room["room"], {}), **room} for room in rooms]


def _line_change(file: str, number: int, key: str, trail: Sequence[AuditLine]) -> LineChange:
    """Return what a line changed, by the lines it left in the audit trail."""
    own = BY_FILE[file].table
    if any(line.what == own and line.before is None for line in trail):
        return LineChange(number, key, new=True)
    columns = (
        column for line in trail for column in _changed_columns(line.before or {}, line.after or {})
    )
    return LineChange(number, key, new=False, columns=tuple(columns))


def _changed_columns(
    before: Mapping[str, Any], after: Mapping[str, Any]
) -> Iterable[tuple[str, str, str]]:
    for name, value in after.items():
        if before.get(name) != value:
            yield name, text_of(before.get(name)), text_of(value)


def _files_at(path: Path) -> dict[str, Path]:
    if not path.is_dir():
        file = path.name.casefold()
        if not path.is_file():
            raise _named_wrongly(path, "nothing there", "a file or a folder")
        if file not in REGISTER:
            raise _named_wrongly(path, f"the name {path.name}", "one of " + ", ".join(REGISTER))
        return {file: path}
    for folder in (path, path / "register"):
        present = {file: folder / file for file in REGISTER if (folder / file).is_file()}
        if present:
            return present
    raise _named_wrongly(path, "none of the register's files", "some of " + ", ".join(REGISTER))


def _take_file(stores: Stores, file: str, lines: Sequence[Line], by: str) -> TableChanges:
    changes = []
    for line in lines:
        before = audit.version(stores.register)
        try:
            changed = take_line(stores.register, file, _whole(stores, line), by)
        except StilltautError as problem:
            raise line.fault(problem.where, problem.found, problem.expected) from problem
        if changed:
            trail = audit.since(stores.register, before)
            key = key_words(key_of(file, line.values))
            changes.append(_line_change(file, line.number, key, trail))
    return TableChanges(file, len(lines), tuple(changes))


def _whole(stores: Stores, line: Line) -> dict[str, Any]:
    """Return a line's values, with what the register holds in columns that its file lacks."""
    there = line_at(stores.register, line.file, key_of(line.file, line.values)) or {}
    if line.file == "rooms.csv" and any(column in line.values for column in BAND):
        there |= line_at(stores.register, NEWEST_BAND, key_of(NEWEST_BAND, line.values)) or {}
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
    named = {file: BY_FILE[file].key[0] for file in PARENTS}
    known = {
        file: {values[column] for values in lines_in(stores.register, file)}
        | {line.values[column] for line in lines.get(file, ())}
        for file, column in named.items()
    }
    return [
        line.fault(one.name, repr(name), f"a {named[one.of]} of {one.of}")
        for file, those in lines.items()
        for line in those
        for one in fields_of(file).values()
        if one.of and (name := line.values.get(one.name)) is not None and name not in known[one.of]
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
