"""Archives (ZIP, gzip): each file within is a file of its own, unpacked within limits."""

import io
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass

from service.errors import NotUnderstoodError, remark
from service.ingest.files.workbook import UNPACKING_FAILS, ZIP_SIGNATURE, is_workbook

GZIP_SIGNATURE = b"\x1f\x8b"
# A year of minutes is 20 MB of text; a house with a hundred loggers packs a few hundred files.
MEMBER_BYTES = 500_000_000
UNPACKED_BYTES = 2_000_000_000
MOST_MEMBERS = 1_000
CHUNK = 1 << 20
# Files that operating systems put beside one's own.
BESIDE = {"__MACOSX", "Thumbs.db", "desktop.ini"}


@dataclass(frozen=True)
class Member:
    """A file within an archive: ``name`` is its path there, ``data`` its bytes."""

    name: str
    data: bytes


def is_archive(data: bytes) -> bool:
    """Return whether the bytes are an archive of files, and no workbook."""
    if data.startswith(GZIP_SIGNATURE):
        return True
    return data.startswith((ZIP_SIGNATURE, b"PK\x05\x06")) and not is_workbook(data)


def members(name: str, data: bytes) -> Iterator[Member]:
    """Return the files in an archive one after another, in their order.

    Folders, hidden files and what operating systems add are passed over. Nothing is written to
    disk, and a path within the archive is nothing but a name.

    Raises
    ------
    NotUnderstoodError
        If the archive is damaged or locked, holds no file, too many, archives, or unpacks to more
        than is safe.
    """
    if data.startswith(GZIP_SIGNATURE):
        yield Member(_bare(name), _gunzipped(name, data))
        return
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
    except UNPACKING_FAILS as problem:
        raise _refused(name, "", f"a damaged archive ({problem})", "a whole one") from problem
    if not all(info.filename for info in archive.infolist()):
        raise _refused(name, "", "a damaged archive (a file in it has no name)", "a whole one")
    infos = [info for info in archive.infolist() if _wanted(info)]
    _require_sizes(name, infos)
    for info in infos:
        found = _unpacked(name, archive, info)
        if is_archive(found):
            raise _refused(name, info.filename, "an archive within the archive", "files")
        yield Member(info.filename, found)


def _bare(name: str) -> str:
    return name[:-3] if name.lower().endswith(".gz") else name


def _wanted(info: zipfile.ZipInfo) -> bool:
    *folders, last = info.filename.split("/")
    return not (info.is_dir() or last.startswith(".") or {*folders, last} & BESIDE)


def _require_sizes(name: str, infos: list[zipfile.ZipInfo]) -> None:
    if not infos:
        raise _refused(name, "", "an archive without files", "files of readings")
    if len(infos) > MOST_MEMBERS:
        raise _refused(name, "", f"{len(infos):,} files", f"at most {MOST_MEMBERS:,}")
    total = sum(info.file_size for info in infos)
    if total > UNPACKED_BYTES:
        found = f"{total / 1e6:,.0f} MB when unpacked"
        raise _refused(name, "", found, f"at most {UNPACKED_BYTES / 1e6:,.0f} MB")


def _unpacked(name: str, archive: zipfile.ZipFile, info: zipfile.ZipInfo) -> bytes:
    """Return a member's bytes; its checksum is verified, and no more is read than it declares."""
    if info.file_size > MEMBER_BYTES:
        found = f"{info.file_size / 1e6:,.0f} MB when unpacked"
        raise _refused(name, info.filename, found, f"at most {MEMBER_BYTES / 1e6:,.0f} MB")
    if info.flag_bits & 1:
        raise _refused(
            name,
            info.filename,
            remark("a file locked by a password"),
            remark("one that can be read"),
        )
    try:
        return archive.read(info)
    except UNPACKING_FAILS as problem:
        found = remark(f"a damaged file ({problem or type(problem).__name__})")
        raise _refused(name, info.filename, found, "a whole one") from problem


def _gunzipped(name: str, data: bytes) -> bytes:
    """Return what one gzip stream, or several behind one another, hold."""
    limit = f"{MEMBER_BYTES / 1e6:,.0f} MB"
    found = b""
    while data.startswith(GZIP_SIGNATURE):
        unpacking = zlib.decompressobj(wbits=31)
        try:
            found += unpacking.decompress(data, MEMBER_BYTES + 1 - len(found))
        except zlib.error as problem:
            raise _refused(name, "", f"a damaged archive ({problem})", "a whole one") from problem
        if len(found) > MEMBER_BYTES:
            raise _refused(name, "", f"more than {limit} when unpacked", f"at most {limit}")
        if not unpacking.eof:
            raise _refused(name, "", "an archive that breaks off", "a whole one")
        data = unpacking.unused_data
    if data.strip(b"\0"):
        raise _refused(name, "", f"{len(data):,} bytes behind the archive", "the archive alone")
    return found


def _refused(name: str, where: str, found: str, expected: str) -> NotUnderstoodError:
    return NotUnderstoodError(
        read=name,
        where=where,
        found=found,
        expected=expected,
        action="Unpack it, and give the files of readings themselves.",
    )
