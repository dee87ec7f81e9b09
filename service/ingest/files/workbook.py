"""Workbooks (XLSX, XLS, ODS): each sheet as a table of text, opened in a process of its own."""

import io
import json
import lzma
import re
import subprocess
import sys
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from service.errors import NotUnderstoodError, remark
from service.ingest.files.decode import Decoded
from service.ingest.files.sheet_records import Disagreement, disagreements

# What a workbook may cost. A full sheet (1,048,576 rows) of four columns needs about 1 GB and 15 s.
PACKED_BYTES = 200_000_000
UNPACKED_BYTES = 1_000_000_000
MEMORY_BYTES = 3_000_000_000
# A damaged table of sectors may lead round in a circle for ever: a small workbook needs little, and
# gets so much, and this many times its unpacked size besides.
LITTLE_MEMORY_BYTES, MEMORY_TIMES = 500_000_000, 600
CPU_S = 60
MOST_SHEETS = 100
MOST_CELLS = 12_000_000
# No cell takes less than half a byte; so many blank ones a small workbook may hold besides.
FEW_CELLS = 200_000

OLD_SIGNATURE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
ZIP_SIGNATURE = b"PK\x03\x04"
# What unpacking a damaged archive may raise.
UNPACKING_FAILS = (
    zipfile.BadZipFile,
    zlib.error,
    lzma.LZMAError,
    ValueError,
    OSError,
    EOFError,
    RuntimeError,
    MemoryError,
)
# DIMENSIONS of a sheet, [MS-XLS] 2.4.90: first row, row behind the last, then the columns.
_DIMENSIONS = re.compile(rb"\x00\x02\x0e\x00.{4}(.{4}).{4}\x00\x00", re.DOTALL)
_CELLS = Path(__file__).with_name("workbook_cells.py")


def is_workbook(data: bytes) -> bool:
    """Return whether the bytes are a workbook, or an old document that may be one."""
    if data.startswith(OLD_SIGNATURE):
        return True
    if not data.startswith(ZIP_SIGNATURE):
        return False
    try:
        names = set(zipfile.ZipFile(io.BytesIO(data)).namelist())
    except UNPACKING_FAILS:
        return b"xl/workbook." in data[:4096] or b"[Content_Types].xml" in data[:4096]
    return (
        any(name.startswith("xl/workbook.") for name in names)
        or {
            "mimetype",
            "content.xml",
        }
        <= names
    )


def sheets_of(name: str, data: bytes) -> tuple[Decoded, ...]:
    """Return the sheets of a workbook that hold anything, each as a table of tabs.

    A line of the text is a row of the sheet, with its number. Dates and times are written as
    ISO 8601, formulas as the values they had when the workbook was saved.

    Raises
    ------
    NotUnderstoodError
        If it is damaged, locked by a password, or larger than can be opened safely.
    """
    unpacked = _require_whole(name, data)
    written = _cells(name, data, unpacked)
    found = list(_parsed(written))
    stated = _rows_declared(data, len(found))
    sheets = [
        Decoded(name, _kind(data), table, head["name"], "tab", _notes(head, rows), doubt=doubt)
        for (head, table), rows, doubt in zip(found, stated, _doubts(data, len(found)), strict=True)
        if table.strip()
    ]
    if not sheets:
        raise _refused(name, "a workbook without a filled sheet", "a sheet with readings")
    return tuple(sheets)


def _kind(data: bytes) -> str:
    if data.startswith(OLD_SIGNATURE):
        return "workbook (XLS)"
    return "workbook (XLSX)" if b"xl/" in data else "workbook (ODS)"


def _require_whole(name: str, data: bytes) -> int:
    """Return the size of a workbook when unpacked; raise if it is too large or damaged."""
    if len(data) > PACKED_BYTES:
        raise _too_large(name, f"{len(data) / 1e6:,.0f} MB")
    if not data.startswith(ZIP_SIGNATURE):
        return len(data)
    try:
        book = zipfile.ZipFile(io.BytesIO(data))
        size = sum(member.file_size for member in book.infolist())
        if size > UNPACKED_BYTES:
            raise _too_large(name, f"{size / 1e6:,.0f} MB when unpacked")
        damaged = book.testzip()
    except UNPACKING_FAILS as problem:
        raise _refused(name, f"a damaged workbook ({problem})", "a whole one") from problem
    if damaged:
        raise _refused(name, f"a damaged workbook (its part {damaged})", "a whole one")
    return size


def _cells(name: str, data: bytes, unpacked: int) -> bytes:
    """Return what the process that opens the workbook writes."""
    memory_bytes = min(MEMORY_BYTES, LITTLE_MEMORY_BYTES + MEMORY_TIMES * unpacked)
    limits = (memory_bytes, CPU_S, MOST_SHEETS, min(MOST_CELLS, FEW_CELLS + 2 * unpacked))
    command = [sys.executable, "-P", str(_CELLS), *map(str, limits)]
    try:
        done = subprocess.run(command, input=data, capture_output=True, timeout=CPU_S * 2)
    except subprocess.TimeoutExpired as problem:
        raise _too_large(name, f"more than {CPU_S} s of work") from problem
    if done.returncode == 0:
        return done.stdout
    if done.returncode == 3:
        raise _refused(name, "a workbook locked by a password", "one that can be opened")
    if done.returncode == 4:
        stated = done.stderr.decode("utf-8", errors="replace").strip()[:120]
        raise _refused(
            name,
            remark(f"a document that is no workbook, or a damaged one ({stated})"),
            remark("a sheet"),
        )
    raise _too_large(name, f"too many cells, over {MOST_SHEETS} sheets, or too much memory")


def _parsed(written: bytes) -> Iterator[tuple[dict[str, Any], bytes]]:
    """Return what is known of each sheet, and its table."""
    at = 0
    while at < len(written):
        end = written.index(b"\n", at)
        head = json.loads(written[at:end])
        at = end + 1 + head["bytes"]
        yield head, written[end + 1 : at]


def _rows_declared(data: bytes, sheets: int) -> list[int]:
    """Return how many rows each sheet of an older workbook says it has, else zeros.

    The format has no checksum, and rows behind a damaged record are passed over without a word.
    """
    stated = [int.from_bytes(match[1], "little") for match in _DIMENSIONS.finditer(data)]
    return stated if data.startswith(OLD_SIGNATURE) and len(stated) == sheets else [0] * sheets


def _doubts(data: bytes, sheets: int) -> Sequence[Disagreement | None]:
    """Return what each sheet of an older workbook says against itself."""
    found = disagreements(data) if data.startswith(OLD_SIGNATURE) else ()
    return found if len(found) == sheets else [next(filter(None, found), None)] * sheets


def _notes(head: dict[str, Any], rows: int) -> tuple[str, ...]:
    notes = []
    if head["hidden"]:
        notes.append(remark(f"The sheet {head['name']!r} is hidden in the workbook."))
    if rows > head["rows"]:
        notes.append(
            remark(
                f"The sheet {head['name']!r} says it has {rows:,} rows, and {head['rows']:,} were "
                "found; the others are blank, or the workbook is damaged."
            )
        )
    if 0 < rows < head["rows"]:
        notes.append(
            remark(
                f"The sheet {head['name']!r} says it has {rows:,} rows, and a cell stands in row "
                f"{head['rows']:,}: the workbook is damaged, and readings may be missing."
            )
        )
    return tuple(notes)


def _too_large(name: str, found: str) -> NotUnderstoodError:
    return _refused(name, found, f"a workbook of at most {MOST_CELLS:,} cells that opens safely")


def _refused(name: str, found: str, expected: str) -> NotUnderstoodError:
    return NotUnderstoodError(
        read=name,
        where="the workbook",
        found=found,
        expected=expected,
        action="Save the sheet with the readings as CSV or as a new workbook, and give that file.",
    )
