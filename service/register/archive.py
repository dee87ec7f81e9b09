"""Everything in plain text and Parquet, readable for good without this program."""

import contextlib
import json
import os
import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv
from sqlalchemy import select

from analysis.records import REGISTER
from analysis.records.cells import text_of
from analysis.series import FLAG_WORDS, flag_words
from service.errors import StoreError
from service.register.file_guide import column_words, table_text
from service.register.register_files import write_register
from service.storage import uploads
from service.storage.durable import make_folder, sync_folder, unwritable
from service.storage.inspections import photographs_named
from service.storage.months import Rows, decode_month
from service.storage.readings import folder_name
from service.storage.schema import Table
from service.storage.statements import write_statements
from service.storage.stores import Stores

JOURNAL = (
    *("uploads", "choices", "incidents", "statements", "notices", "outbox", "judged_until"),
    *("users", "settings", "audit"),
)
SECRET = ("password_hash", "second_factor", "recovery_hashes")


@dataclass(frozen=True)
class ArchiveSummary:
    """What an archive holds."""

    folder: Path
    originals: int
    months: int
    register_files: int
    photographs: int


def write_archive(stores: Stores, folder: Path) -> ArchiveSummary:
    """Write everything into a new folder; it appears whole or not at all.

    Raises
    ------
    StoreError
        If the folder is there already and not empty, or the disk refuses.
    """
    require_empty(folder)
    part = folder.absolute().with_name(folder.name + ".part")
    try:
        shutil.rmtree(part, ignore_errors=True)
        make_folder(part)
        summary = ArchiveSummary(
            folder,
            _originals(stores, part),
            _readings(stores, part / "readings"),
            len(write_register(stores, part / "register")),
            stores.photographs.write_to(
                part / "register" / "photographs", photographs_named(stores.register)
            ),
        )
        _journal(stores, part / "journal")
        write_statements(stores.register, part / "statements")
        _forecasts(stores, part / "forecasts")
        (part / "README.txt").write_text(_readme(), encoding="utf-8")
        if folder.exists():
            folder.rmdir()
        os.replace(part, folder)
        sync_folder(folder.absolute().parent)
    except OSError as problem:
        raise unwritable(folder, problem) from problem
    return summary


def require_empty(folder: Path) -> None:
    """Raise `StoreError` where a folder is there already and holds anything."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise StoreError(
            read=str(folder),
            where="",
            found="something there already",
            expected="a new or empty folder",
            action="Name another folder, so that nothing is written over.",
        )


def _originals(stores: Stores, folder: Path) -> int:
    """Copy the originals under the names they came with; originals.csv tells which is which."""
    (folder / "originals").mkdir()
    names = {upload.sha256: upload.name for upload in uploads.uploads(stores.register)}
    rows = []
    for sha256 in stores.originals.all():
        safe = "".join(c if c.isalnum() or c in "._- " else "_" for c in names.get(sha256, ""))
        copy = f"{sha256[:12]} {Path(safe).name}"[:120].strip()
        # One that is damaged is written as far as it goes: its hash tells, and `check` names it.
        with (
            (folder / "originals" / copy).open("wb") as file,
            contextlib.suppress(StoreError),
        ):
            file.writelines(stores.originals.pieces(sha256))
        rows.append([copy, names.get(sha256, ""), sha256])
    text = table_text(("file", "name_as_received", "sha256"), rows)
    (folder / "originals.csv").write_text(text, encoding="utf-8")
    return len(rows)


def _readings(stores: Stores, folder: Path) -> int:
    count = 0
    for logger_id in stores.readings.loggers():
        target = folder / folder_name(logger_id)
        for month in stores.readings.months(logger_id):
            content = stores.readings.month_file(logger_id, month)
            make_folder(target)
            (target / f"{month}.parquet").write_bytes(content)
            rows = decode_month(content, folder=target.name, file=month)
            _write_csv(rows, target / f"{month}.csv")
            count += 1
    return count


def _forecasts(stores: Stores, folder: Path) -> None:
    for found in stores.forecasts.listed():
        target = folder / found.name
        make_folder(target.parent)
        target.write_bytes(stores.forecasts.get(found.name))


def _write_csv(rows: Rows, path: Path) -> None:
    whole_seconds = not (rows.time_ms % 1000).any()
    time = pa.array(rows.time_ms.astype("M8[ms]"))
    time = time.cast(pa.timestamp("s")) if whole_seconds else time
    kinds, which = np.unique(rows.flags, return_inverse=True)
    words = pa.array([flag_words(int(kind)) for kind in kinds], pa.string())
    table = pa.table(
        {
            "time_utc": pc.strftime(time, format="%Y-%m-%dT%H:%M:%SZ"),
            "temp_c": pa.array(rows.temp_c, from_pandas=True),
            "rh_pct": pa.array(rows.rh_pct, from_pandas=True),
            "flags": pa.array(rows.flags),
            "flag_words": words.take(pa.array(which)),
        }
    )
    bare = pyarrow.csv.WriteOptions(include_header=False, quoting_style="none")
    with path.open("wb") as out:
        out.write(",".join(table.column_names).encode() + b"\n")
        pyarrow.csv.write_csv(table, out, bare)


def _journal(stores: Stores, folder: Path) -> None:
    """Write the tables that are a record of what happened, each as it stands."""
    folder.mkdir()
    with stores.register.reading() as session:
        for name in JOURNAL:
            table = Table.metadata.tables[name]
            columns = [column for column in table.columns if column.name not in SECRET]
            rows = session.execute(select(*columns).order_by(*table.primary_key.columns))
            text = table_text([c.name for c in columns], [_cells(row) for row in rows])
            (folder / f"{name}.csv").write_text(text, encoding="utf-8")


def _cells(row: Sequence[Any]) -> list[str]:
    return [
        json.dumps(value, ensure_ascii=False) if isinstance(value, dict | list) else text_of(value)
        for value in row
    ]


def _readme() -> str:
    return "\n\n".join([README, _flags_text(), _register_text()]) + "\n"


def _flags_text() -> str:
    lines = [f"  {int(flag):>5}  {words}" for flag, words in FLAG_WORDS.items()]
    return "FLAGS\nA reading's flags are a sum of these numbers; 0 means no doubt.\n" + "\n".join(
        lines
    )


def _register_text() -> str:
    parts = ["REGISTER\nThe folder register. Columns of each file:"]
    for file in REGISTER:
        lines = [f"  {name}: {words}" for name, words in column_words(file).items()]
        parts.append(f"{file}\n" + "\n".join(lines))
    return "\n\n".join(parts)


README = """ARCHIVE OF A MUSEUM'S READINGS OF TEMPERATURE AND RELATIVE HUMIDITY

All text files are UTF-8. CSV files are separated by commas, with the names of the columns in
the first line; an empty cell means "not known". All times are UTC.

README.txt       this text
originals        the loggers' files exactly as they were received: the evidence
originals.csv    their names as received, and the SHA-256 of their bytes
readings         one folder a logger (logger=NAME), one file a month, twice: as CSV and as Parquet
register         rooms, loggers and where they hung, calibrations, works and how they are held,
                 inspections, events; in the folder photographs the pictures of inspections, each
                 named by the SHA-256 of its bytes, as inspections.csv names it
forecasts        forecasts of outdoor air (if there are any), one file each, named by when it was
                 made: UTC; taken-back: those no longer used. None is a reading
statements       climate statements as they were issued, one PDF each, named by its number; the
                 journal holds the same bytes (Base64), and what was asked and said
journal          what the program noted: uploads (how each file was read, and what it gave),
                 confirmed choices, incidents, statements, notices, up to when each room was
                 judged, letters, users, settings, and the audit trail: who changed what, when,
                 from what to what.
                 Cells in curly or square brackets are JSON

stilltaut restore reads an archive back into an empty folder. Passwords, sessions and tokens are in
no archive; nor are the names and telephone numbers of those who are told of notices.

READINGS
  time_utc     instant of the reading, UTC
  temp_c       air temperature, degrees Celsius
  rh_pct       relative humidity over water, per cent
  flags        doubts about the reading, see FLAGS; a flagged reading is never removed
  flag_words   the same in words (CSV only)

Readings are as the loggers gave them. Calibrations (register/calibrations.csv) are NOT applied:
from its date on, a calibration with one point means true = reading + (true_1 - read_1); with two
points, the straight line through both."""
