"""An archive read back into an empty folder: the same originals, readings, register and journal.

Nothing that lets anybody in comes back: passwords, sessions and tokens are in no archive, and
people who could sign in return switched off.
"""

import csv
import json
import os
import shutil
from collections.abc import Callable, Iterable, Iterator
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
from service.storage.durable import sync_folder, unwritable
from service.storage.originals import sha256_of
from service.storage.register import Register
from service.storage.schema import Table
from service.storage.stores import Stores

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
    """Read an archive into a new data folder; it appears whole or not at all.

    Raises
    ------
    StoreError, RegisterFileError
        As `restore_archive`, or if the folder is there already and not empty. A register on a
        database server must then be emptied before it is tried again.
    """
    folder = settings.data_dir
    require_empty(folder)
    part = folder.absolute().with_name(folder.name + ".part")
    try:
        shutil.rmtree(part, ignore_errors=True)
        with Stores.open(settings.with_changes(data_dir=part)) as stores:
            found = restore_archive(stores, archive)
        if folder.exists():
            folder.rmdir()
        os.replace(part, folder)
        sync_folder(folder.absolute().parent)
    except OSError as problem:
        raise unwritable(folder, problem) from problem
    return found


def restore_archive(stores: Stores, archive: Path) -> Restored:
    """Read an archive into stores that hold nothing yet.

    Raises
    ------
    StoreError
        If the folder is no archive, the stores hold something, or a file of the archive is not
        what its list says. The stores are then not to be used: remove their folder, begin again.
    RegisterFileError
        If a line of the register's files is faulty.
    """
    _require_archive(archive)
    _require_nothing(stores)
    try:
        originals = _originals(stores, archive)
        months = _readings(stores, archive / "readings")
        journal = _journal(stores.register, archive / "journal", FIRST)
        rows = load_register(stores, archive / "register", by=BY)
        journal += _journal(stores.register, archive / "journal", _after_the_register())
        photographs = stores.photographs.read_from(archive / "register" / "photographs")
        _forecasts(stores, archive / "forecasts")
    except OSError as problem:
        raise unwritable(stores.folder, problem) from problem
    return Restored(originals, months, sum(rows.values()), journal, photographs)


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


def _readings(stores: Stores, folder: Path) -> int:
    months = sorted(folder.glob("*/*.parquet"))
    for name, files in groupby(months, lambda file: file.parent.name):
        contents = {file.stem: file.read_bytes() for file in files}
        stores.readings.take_over(unquote(name.removeprefix("logger=")), contents)
    return len(months)


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
