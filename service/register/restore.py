"""An archive read back into an empty folder: the same originals, readings, register and journal.

Nothing that lets anybody in comes back: passwords, sessions and tokens are in no archive, and
people who could sign in return switched off.
"""

import csv
import json
import os
import shutil
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from functools import partial
from itertools import groupby
from pathlib import Path
from typing import Any
from urllib.parse import unquote

from sqlalchemy import Column, func, insert, select
from sqlalchemy.orm import Session

from service.errors import StoreError
from service.register.archive import JOURNAL, require_empty
from service.register.formulas import unmarked
from service.register.register_files import load_register
from service.settings import Settings
from service.storage import site_clock
from service.storage.durable import PART, locked, sync_folder, unwritable
from service.storage.objects.folder import Folder
from service.storage.objects.marks import (
    BEING_RESTORED,
    BeingRestored,
    being_restored,
    clear,
    mark_at,
    note_format,
)
from service.storage.originals import sha256_of
from service.storage.register import Register, open_register
from service.storage.schema import Table
from service.storage.spans import Span
from service.storage.stores import Stores, has_register, objects_of, of_another, restored_beside

# What stands in a column that an archive leaves out. Without a password nobody signs in, until a
# link lets them choose one.
LEFT_OUT: dict[str, dict[str, Any]] = {
    "users": {"password_hash": "", "second_factor": "", "recovery_hashes": []}
}
BY = "restored from an archive"
# What is read back before the register's own files; the rest names rooms and loggers.
FIRST = ("audit", "settings", "users")


@dataclass(frozen=True)
class Restored:
    """What came back from an archive."""

    originals: int
    months: int
    register_rows: int
    journal_rows: int
    photographs: int


def restore_into(settings: Settings, archive: Path) -> Restored:
    """Read an archive into a new house; it appears whole or not at all, wherever it is kept.

    Files come first, the register's rows last and in one transaction. Until then a mark stands
    beside the files by which the next opening tells of it; what an earlier attempt left is cleared.

    Raises
    ------
    StoreError, RegisterFileError
        As `restore_archive`, or if the folder is there already and not empty.
    """
    _require_archive(archive)
    folder, work = settings.data_dir.absolute(), _work_of(settings)
    with _alone(folder):
        if work is not settings:
            require_empty(folder)
        _clear(settings)
        require_empty(folder)
        begun = BeingRestored.now(archive.absolute().name)
        with _begun(work, begun) as stores:
            found = restore_archive(stores, archive, begun)
        if work is not settings:
            if folder.exists():
                folder.rmdir()
            os.replace(work.data_dir, folder)
            sync_folder(folder.parent)
        _end(settings, begun)
    return found


def clear_unfinished(settings: Settings) -> BeingRestored:
    """Clear away what an unfinished restore has left, and return which it was.

    Raises
    ------
    StoreError
        If there is none; nothing is changed then.
    """
    folder = settings.data_dir.absolute()
    with _alone(folder):
        if (found := _clear(settings)) is None:
            raise StoreError(
                read=str(folder),
                where="",
                found="no unfinished restore",
                expected="what a restore left that did not come to its end",
                action="See whether folder and settings are those of the restore. Nothing was "
                "changed.",
            )
    return found


def _work_of(settings: Settings) -> Settings:
    """Return where an archive is read into: a folder with its register is moved once whole."""
    if settings.register_url:
        return settings
    return settings.with_changes(data_dir=restored_beside(settings.data_dir))


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Let one process of this machine read an archive into a folder at a time."""
    lock = folder.with_name(folder.name + ".lock")
    try:
        with locked(lock):
            try:
                yield
            finally:
                lock.unlink(missing_ok=True)
    except OSError as problem:
        raise unwritable(folder, problem) from problem


@contextmanager
def _begun(work: Settings, begun: BeingRestored) -> Iterator[Stores]:
    """Open stores that hold nothing, with the mark of what is being read into them."""
    objects, register = objects_of(work), open_register(work.database_url)
    try:
        stores = Stores.of(work.data_dir, objects, register)
        site_clock.open_on(register, work.as_if)
        _require_nothing(stores)
        names = objects.names()
        if mark_at(objects, names) not in ("", stores.mark):
            raise of_another(objects)
        for place in (Folder(work.data_dir), objects):
            begun.note(place)
        note_format(objects, names)
        yield stores
    finally:
        register.close()


def _end(settings: Settings, begun: BeingRestored) -> None:
    register = open_register(settings.database_url, create=False)
    try:
        Stores.of(settings.data_dir, objects_of(settings), register).end_restore(begun)
    finally:
        register.close()


def _clear(settings: Settings) -> BeingRestored | None:
    """Clear away what an unfinished restore has left, its marks last; None: there was none.

    One that had come to its end but for its marks is a house, and stays.
    """
    work = _work_of(settings)
    objects, local = objects_of(work), Folder(work.data_dir)
    local.path(BEING_RESTORED + PART).unlink(missing_ok=True)  # as far as one came that had none
    found = being_restored(objects) or being_restored(local)
    if found is not None and has_register(settings):
        register = open_register(settings.database_url)
        try:
            stores = Stores.of(settings.data_dir, objects_of(settings), register)
            if stores.mark == found.mark:
                stores.end_restore(found)
                return None
        finally:
            register.close()
    if being_restored(objects) is not None:
        clear(objects)
    if found is not None or work is not settings:
        shutil.rmtree(work.data_dir, ignore_errors=True)
    return found


def restore_archive(stores: Stores, archive: Path, begun: BeingRestored | None = None) -> Restored:
    """Read an archive into stores that hold nothing yet: files first, then all rows or none.

    Parameters
    ----------
    begun : BeingRestored, optional
        What stands beside the files meanwhile; the register has its mark with the rows.

    Raises
    ------
    StoreError
        If the folder is no archive, the stores hold something, or a file of the archive is not
        what its list says; or if another restore into the same place began meanwhile.
    RegisterFileError
        If a line of the register's files is faulty.
    """
    _require_archive(archive)
    _require_nothing(stores)
    try:
        originals = _originals(stores, archive)
        readings = _readings(stores, archive / "readings")
        photographs = stores.photographs.read_from(archive / "register" / "photographs")
        _forecasts(stores, archive / "forecasts")
        with stores.register.writing():
            for logger, months in readings.items():
                stores.readings.note_taken_over(logger, months)
            journal = _journal(stores.register, archive / "journal", FIRST)
            rows = load_register(stores, archive / "register", by=BY)
            journal += _journal(stores.register, archive / "journal", _after_the_register())
            if begun is not None:
                _require_still(stores, begun)
                stores.note_place(begun.mark)
    except OSError as problem:
        raise unwritable(stores.folder, problem) from problem
    count = sum(map(len, readings.values()))
    return Restored(originals, count, sum(rows.values()), journal, photographs)


def _require_still(stores: Stores, begun: BeingRestored) -> None:
    """Raise where another machine reads an archive into the same place, and has cleared this."""
    now = being_restored(stores.objects)
    if now != begun:
        raise StoreError(
            read=str(stores.objects),
            where=BEING_RESTORED,
            found="another restore into the same place, begun meanwhile",
            expected="one at a time",
            action="Wait for the other one. Nothing of this one stays.",
        )


def _require_archive(archive: Path) -> None:
    wanted = ("README.txt", "originals.csv", "readings", "register", "journal")
    missing = [name for name in wanted if not (archive / name).exists()]
    if missing:
        raise StoreError(
            read=str(archive),
            where="",
            found=f"no {', no '.join(missing)}",
            expected="a folder that stilltaut archive has written, whole",
            action="Name the archive's own folder. Nothing was read.",
        )


def _require_nothing(stores: Stores) -> None:
    held = [
        name
        for name, there in {
            "originals": any(stores.originals.all()),
            "readings": bool(stores.readings.loggers()),
            "a register": any(_rows(stores.register, name) for name in ("sites", "uploads")),
        }.items()
        if there
    ]
    if held:
        raise StoreError(
            read=str(stores.folder),
            where="",
            found=" and ".join(held),
            expected="a new or empty folder, so that nothing is mixed or written over",
            action="Name another folder with --data. Nothing was changed.",
        )


def _rows(register: Register, name: str) -> int:
    table = Table.metadata.tables[name]
    with register.reading() as session:
        return int(session.execute(select(func.count()).select_from(table)).scalar_one())


def _originals(stores: Stores, archive: Path) -> int:
    count = 0
    for line in _lines(archive / "originals.csv"):
        file = archive / "originals" / line["file"]
        if not file.is_file() or sha256_of(file) != line["sha256"]:
            raise StoreError(
                read=str(file),
                where=f"original of {line['name_as_received'] or 'an upload'}",
                found="another file than was archived" if file.is_file() else "no such file",
                expected=f"the bytes with SHA-256 {line['sha256'][:12]}…",
                action="Take another copy of the archive.",
            )
        stores.originals.keep(file)
        count += 1
    return count


def _readings(stores: Stores, folder: Path) -> dict[str, dict[str, Span]]:
    """Put the months of all loggers; return what is to stand for them."""
    found = {}
    for name, files in groupby(sorted(folder.glob("*/*.parquet")), lambda file: file.parent.name):
        contents = {file.stem: file.read_bytes() for file in files}
        logger = unquote(name.removeprefix("logger="))
        found[logger] = stores.readings.take_over(logger, contents)
    return found


def _forecasts(stores: Stores, folder: Path) -> None:
    for file in sorted(folder.rglob("*.csv")):
        content = file.read_bytes()
        stores.forecasts.put({file.relative_to(folder).as_posix(): partial(bytes, content)})


def _journal(register: Register, folder: Path, names: Iterable[str]) -> int:
    """Read tables of the journal back; what was told, seen and sent is so again."""
    with register.writing() as session:
        return sum(_fill(session, name, folder) for name in names)


def _after_the_register() -> list[str]:
    tables = [table.name for table in Table.metadata.sorted_tables if table.name in JOURNAL]
    return [name for name in tables if name not in FIRST]


def _fill(session: Session, name: str, folder: Path) -> int:
    table = Table.metadata.tables[name]
    columns = {column.name: column for column in table.columns}
    file = folder / f"{name}.csv"
    lines = list(_lines(file)) if file.is_file() else []
    rows = [
        {key: _read(columns[key], cell, file, at) for key, cell in line.items() if key in columns}
        | LEFT_OUT.get(name, {})
        for at, line in enumerate(lines, start=1)
    ]
    if rows:
        session.execute(insert(table), rows)
        _count_on(session, name, columns)
    return len(rows)


def _count_on(session: Session, name: str, columns: dict[str, Column[Any]]) -> None:
    """Let a server that counts rows by itself go on after the last that came back."""
    if "id" in columns and session.get_bind().dialect.name == "postgresql":
        last = session.execute(select(func.max(columns["id"]))).scalar_one()
        session.execute(select(func.setval(func.pg_get_serial_sequence(name, "id"), last)))


def _read(column: Column[Any], cell: str, file: Path, row: int) -> Any:
    try:
        return _value(column, cell)
    except ValueError as problem:
        raise StoreError(
            read=str(file),
            where=f"row {row}, column {column.name}",
            found=repr(cell[:60]),
            expected="what stilltaut archive wrote there",
            action="Take another copy of the archive.",
        ) from problem


def _value(column: Column[Any], cell: str) -> Any:
    """Return a cell's value as the column holds it; `service.register.archive` wrote it."""
    if cell == "" and column.nullable:
        return None
    return READ[column.type.python_type](cell)


def _instant(cell: str) -> datetime:
    return datetime.fromisoformat(cell if "T" in cell else f"{cell}T00:00:00+00:00")


READ: dict[type, Callable[[str], Any]] = {
    str: str,
    int: int,
    float: float,
    bool: "yes".__eq__,
    date: date.fromisoformat,
    datetime: _instant,
    object: json.loads,  # of a column of JSON
}


def _lines(file: Path) -> Iterator[dict[str, str]]:
    csv.field_size_limit(2**30)
    with file.open(encoding="utf-8", newline="") as text:
        for line in csv.DictReader(text):
            yield {name: unmarked(cell) for name, cell in line.items()}
