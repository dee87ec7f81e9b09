"""Workbooks (XLSX, XLS, ODS): each sheet as a table of text, opened in a process of its own."""

import hashlib
import io
import json
import lzma
import subprocess
import sys
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path

from service.errors import NotUnderstoodError
from service.ingest.files.decode import Decoded

# What a workbook may cost. A full sheet (1,048,576 rows) of four columns needs about 1 GB and 15 s.
PACKED_BYTES = 200_000_000
UNPACKED_BYTES = 1_000_000_000
MEMORY_BYTES = 3_000_000_000
CPU_S = 60
MOST_SHEETS = 100
MOST_CELLS = 12_000_000

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
    _require_whole(name, data)
    written = _cells(name, data)
    sha256 = hashlib.sha256(data).hexdigest()
    sheets = [
        Decoded(name, sha256, _kind(data), table, part=sheet, delimiter="tab", notes=notes)
        for sheet, notes, table in _parsed(written)
        if table.strip()
    ]
    if not sheets:
        raise _refused(name, "a workbook without a filled sheet", "a sheet with readings")
    return tuple(sheets)


def _kind(data: bytes) -> str:
    if data.startswith(OLD_SIGNATURE):
        return "workbook (XLS)"
    return "workbook (XLSX)" if b"xl/" in data else "workbook (ODS)"


def _require_whole(name: str, data: bytes) -> None:
    if len(data) > PACKED_BYTES:
        raise _too_large(name, f"{len(data) / 1e6:,.0f} MB")
    if not data.startswith(ZIP_SIGNATURE):
        return
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


def _cells(name: str, data: bytes) -> bytes:
    """Return what the process that opens the workbook writes."""
    limits = (MEMORY_BYTES, CPU_S, MOST_SHEETS, MOST_CELLS)
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
        said = done.stderr.decode("utf-8", errors="replace").strip()[:120]
        raise _refused(
            name, f"a document that is no workbook, or a damaged one ({said})", "a sheet"
        )
    raise _too_large(name, f"too many cells, over {MOST_SHEETS} sheets, or too much memory")


def _parsed(written: bytes) -> Iterator[tuple[str, tuple[str, ...], bytes]]:
    """Return name, notes and table of each sheet."""
    at = 0
    while at < len(written):
        end = written.index(b"\n", at)
        head = json.loads(written[at:end])
        at = end + 1 + head["bytes"]
        hidden = (f"The sheet {head['name']!r} is hidden in the workbook.",) * head["hidden"]
        yield head["name"], hidden, written[end + 1 : at]


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
