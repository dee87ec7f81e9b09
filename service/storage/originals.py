"""Every upload as it was received, named by its SHA-256, read-only: the evidence, never changed.

``DATA/originals/ab/abcdef…``
"""

import hashlib
import os
from collections.abc import Iterator
from pathlib import Path

from service.errors import StoreError
from service.storage.durable import (
    PART,
    locked,
    make_folder,
    remove_parts,
    sync_folder,
    unwritable,
)

CHUNK = 1 << 20


def sha256_of(source: Path | bytes) -> str:
    """Return the SHA-256 of a file's or a buffer's bytes, as 64 hex digits.

    Examples
    --------
    >>> sha256_of(b"abc")[:8]
    'ba7816bf'
    """
    if isinstance(source, bytes):
        return hashlib.sha256(source).hexdigest()
    with source.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


class Originals:
    """The folder of originals.

    Parameters
    ----------
    folder : pathlib.Path
        ``DATA/originals``; made with the first file.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def path(self, sha256: str) -> Path:
        """Return where the file of that hash lies or would lie."""
        return self.folder / sha256[:2] / sha256

    def has(self, sha256: str) -> bool:
        """Return whether a file of that hash is kept."""
        return self.path(sha256).is_file()

    def keep(self, source: Path | bytes) -> str:
        """Keep a file; the same bytes a second time change nothing.

        Returns
        -------
        str
            SHA-256 of what is now on the disk, synced.

        Raises
        ------
        StoreError
            If the source cannot be read, the disk is full, or the source changed meanwhile.
        """
        try:
            with locked(self.folder / ".lock"):
                remove_parts(self.folder)
                return self._place(source)
        except OSError as problem:
            raise unwritable(self.folder, problem) from problem

    def _place(self, source: Path | bytes) -> str:
        part = self.folder / ("incoming" + PART)
        content = hashlib.sha256()
        with part.open("wb") as out:
            for chunk in _chunks(source):
                content.update(chunk)
                out.write(chunk)
            out.flush()
            os.fsync(out.fileno())
        sha256 = content.hexdigest()
        target = self.path(sha256)
        if target.is_file():
            part.unlink()
            return sha256
        make_folder(target.parent)
        part.chmod(0o444)
        os.replace(part, target)
        sync_folder(target.parent)
        return sha256

    def read(self, sha256: str) -> bytes:
        """Return the bytes kept under that hash.

        Raises
        ------
        StoreError
            If nothing is kept under it.
        """
        try:
            return self.path(sha256).read_bytes()
        except FileNotFoundError as problem:
            raise StoreError(
                read="originals",
                where=sha256,
                found="no file",
                expected="the file as it was received",
                action="Bring it back from a backup of the data folder.",
            ) from problem

    def all(self) -> Iterator[str]:
        """Yield the hashes of all files kept, in order."""
        for folder in sorted(self.folder.glob("??")):
            yield from sorted(file.name for file in folder.iterdir())


def _chunks(source: Path | bytes) -> Iterator[bytes | memoryview]:
    if isinstance(source, bytes):
        yield memoryview(source)
        return
    with source.open("rb") as stream:
        while chunk := stream.read(CHUNK):
            yield chunk
