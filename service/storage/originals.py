"""Files named by their SHA-256: every upload as it was received, and the photographs of looks.

``originals/ab/abcdef…`` is the evidence, never changed; ``photographs`` are laid out alike. A file
that takes less room compressed is kept as ``abcdef….zst``: its name is still the hash of what was
received. Whoever asks for it gets that, and nothing where it is not whole.
"""

import contextlib
import fcntl
import hashlib
import os
import tempfile
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass
from pathlib import Path

from service.errors import StoreError
from service.storage.durable import (
    PART,
    copy_synced,
    locked,
    make_folder,
    remove_parts,
    unwritable,
    write_synced,
)
from service.storage.objects import compressed
from service.storage.objects.compressed import (
    pieces_as_received,
    worth_compressing,
    write_compressed,
)
from service.storage.objects.named import Objects

ENDING = ".jpg"  # of a photograph in an archive


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


@dataclass(frozen=True)
class Arriving:
    """A file that is being written: its SHA-256 once known, and how it is kept for good."""

    sha256: Callable[[], str]
    keep: Callable[[], str]


class Originals:
    """The store of originals.

    Parameters
    ----------
    objects : Objects
        Those whose names begin with ``originals``.
    """

    def __init__(self, objects: Objects) -> None:
        self.objects = objects

    def name(self, sha256: str) -> str:
        """Return under which name the file of that hash lies, compressed or not, or would lie."""
        plain = f"{sha256[:2]}/{sha256}"
        packed = plain + compressed.ENDING
        return packed if self.objects.exists(packed) else plain

    def has(self, sha256: str) -> bool:
        """Return whether a file of that hash is kept."""
        return self.objects.exists(self.name(sha256))

    def is_empty(self) -> bool:
        """Return whether no file is kept."""
        return self.objects.is_empty()

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
        with self._write_errors_reported(), locked(self.objects.staging / ".lock"):
            remove_parts(self.objects.staging)
            return self._place(self._written(source, sha256_of(source)))

    @contextlib.contextmanager
    def arriving(self, source: Path | bytes) -> Iterator["Arriving"]:
        """Write a file in a thread of its own while it is still being read.

        Parameters
        ----------
        source : pathlib.Path or bytes
            The file; of one on the disk only a little is held at a time.

        Yields
        ------
        Arriving
            Unless it is kept, nothing stays.
        """
        with locked(self.objects.staging / ".lock"), ThreadPoolExecutor(1) as writer:
            with self._write_errors_reported():
                remove_parts(self.objects.staging)
            hashed = writer.submit(sha256_of, source)
            # The one thread does one after the other.
            written = writer.submit(lambda: self._written(source, hashed.result()))

            def keep() -> str:
                with self._write_errors_reported():
                    return self._place(written.result())

            try:
                yield Arriving(hashed.result, keep)
            finally:
                wait([written])
                self._part.unlink(missing_ok=True)

    @property
    def _part(self) -> Path:
        """Where a file stands until it is whole; only who holds the lock touches it."""
        return self.objects.staging / ("incoming" + PART)

    @contextlib.contextmanager
    def _write_errors_reported(self) -> Iterator[None]:
        try:
            yield
        except OSError as problem:
            raise unwritable(self.objects.staging, problem) from problem

    def _written(self, source: Path | bytes, sha256: str) -> str:
        """Write a file to be placed, synced, unless it is kept already; return its name."""
        name = self.name(sha256)
        if self.objects.exists(name):
            return name
        if worth_compressing(source):
            name += compressed.ENDING
            found = write_compressed(source, self._part)
        elif isinstance(source, bytes):
            write_synced(self._part, source)
            return name
        else:
            found = copy_synced(source, self._part)
        if found != sha256:
            raise changed_meanwhile(source.name if isinstance(source, Path) else sha256)
        return name

    def _place(self, name: str) -> str:
        """Place what was written; return its hash."""
        if self._part.is_file():
            self.objects.place(self._part, name)
        return Path(name).stem

    def read(self, sha256: str) -> bytes:
        """Return a file as it was received.

        Raises
        ------
        StoreError
            If nothing is kept under that hash, or other bytes than were received.
        """
        return b"".join(self.pieces(sha256))

    def pieces(self, sha256: str) -> Iterator[bytes]:
        """Yield a file as it was received, piece by piece; the last one may turn out wrong.

        Raises
        ------
        StoreError
            If nothing is kept under that hash; after the last piece if it was not what was
            received.
        """
        content = hashlib.sha256()
        try:
            for piece in self._stored(self.name(sha256)):
                content.update(piece)
                yield piece
        except FileNotFoundError as problem:
            raise _gone(sha256) from problem
        except OSError as problem:
            raise _damaged(sha256) from problem
        if content.hexdigest() != sha256:
            raise _damaged(sha256)

    def _stored(self, name: str) -> Iterator[bytes]:
        with self.objects.open(name) as file:
            yield from pieces_as_received(file, packed=name.endswith(compressed.ENDING))

    def is_longer(self, sha256: str, size: int) -> bool:
        """Return whether a file as it was received has more bytes than so many.

        Raises
        ------
        StoreError
            As `pieces`.
        """
        found = 0
        for piece in self.pieces(sha256):
            found += len(piece)
            if found > size:
                return True
        return False

    @contextlib.contextmanager
    def on_disk(self, sha256: str) -> Iterator[Path]:
        """Yield a place where a file lies as it was received: of a compressed one a passing copy.

        Raises
        ------
        StoreError
            As `pieces`.
        """
        name = self.name(sha256)
        place = self.objects.path(name)
        if place is not None and place.is_file() and not name.endswith(compressed.ENDING):
            yield place
            return
        with _working_copy(self.objects.staging / ".copies") as copy:
            with self._write_errors_reported(), copy.open("wb") as file:
                file.writelines(self.pieces(sha256))
            yield copy

    def all(self) -> Iterator[str]:
        """Yield the hashes of all files kept, in order."""
        yield from sorted(
            {Path(found.name).name.partition(".")[0] for found in self.objects.listed()}
        )


@contextlib.contextmanager
def _working_copy(folder: Path) -> Iterator[Path]:
    """Yield a new empty file that goes afterwards; those of a process that was killed go first.

    Whoever uses one holds its lock, which a crash releases.
    """
    with locked(folder / ".lock"):
        for left in folder.glob("copy-*"):
            with left.open("rb") as unused, contextlib.suppress(BlockingIOError):
                fcntl.flock(unused, fcntl.LOCK_EX | fcntl.LOCK_NB)
                left.unlink()
        handle, name = tempfile.mkstemp(prefix="copy-", dir=folder)
        fcntl.flock(handle, fcntl.LOCK_EX)
    try:
        yield Path(name)
    finally:
        Path(name).unlink(missing_ok=True)
        os.close(handle)


def _gone(sha256: str) -> StoreError:
    return StoreError(
        read="originals",
        where=sha256,
        found="no file",
        expected="the file as it was received",
        action="Bring it back from a backup of the data folder.",
    )


def _damaged(sha256: str) -> StoreError:
    return StoreError(
        read="originals",
        where=sha256,
        found="other bytes than when it was received",
        expected="a file that is never changed",
        action="Bring this file back from a backup, and look at the disk.",
    )


def changed_meanwhile(name: str) -> StoreError:
    """Return the error of a file that was written to while it was read."""
    return StoreError(
        read=name,
        where="",
        found="other bytes at the end of reading than at its beginning",
        expected="a file that is complete",
        action="Give it again once nothing writes to it any more; nothing was stored.",
    )


class Photographs(Originals):
    """The store of photographs; unlike originals they go when their look is taken back."""

    def drop(self, sha256: str) -> None:
        """Remove a photograph; one that is not there stays so."""
        with self._write_errors_reported(), locked(self.objects.staging / ".lock"):
            self.objects.remove(self.name(sha256))

    def write_to(self, folder: Path, names: Iterable[str]) -> int:
        """Copy photographs into a folder, each under its name; return how many."""
        found = sorted(set(names))
        for name in found:
            make_folder(folder)
            (folder / (name + ENDING)).write_bytes(self.read(name))
        return len(found)

    def read_from(self, folder: Path) -> int:
        """Keep the photographs that `write_to` wrote; return how many there were.

        Only what is named by its own hash is taken in: it is then what it was.
        """
        files = [file for file in sorted(folder.glob("*" + ENDING)) if sha256_of(file) == file.stem]
        for file in files:
            self.keep(file)
        return len(files)
