"""Files named by their SHA-256: every upload as it was received, and the photographs of looks.

``DATA/originals/ab/abcdef…`` is the evidence, read-only, never changed; ``DATA/photographs`` is
laid out alike. A file that takes less room compressed is kept as ``abcdef….zst``: its name is still
the hash of what was received. Whoever asks for it gets that, and nothing where it is not whole.
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
from service.storage import compressed
from service.storage.compressed import pieces_as_received, worth_compressing, write_compressed
from service.storage.durable import (
    PART,
    copy_synced,
    locked,
    make_folder,
    remove_parts,
    sync_folder,
    unwritable,
    write_synced,
)

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
    """The folder of originals.

    Parameters
    ----------
    folder : pathlib.Path
        ``DATA/originals``; made with the first file.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def path(self, sha256: str) -> Path:
        """Return where the file of that hash lies, compressed or not, or would lie."""
        plain = self.folder / sha256[:2] / sha256
        packed = plain.with_name(sha256 + compressed.ENDING)
        return packed if packed.is_file() else plain

    def has(self, sha256: str) -> bool:
        """Return whether a file of that hash is kept."""
        return self.path(sha256).is_file()

    def is_empty(self) -> bool:
        """Return whether no file is kept."""
        return next(self.folder.glob("??/*"), None) is None

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
        with self._write_errors_reported(), locked(self.folder / ".lock"):
            remove_parts(self.folder)
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
        with locked(self.folder / ".lock"), ThreadPoolExecutor(1) as writer:
            with self._write_errors_reported():
                remove_parts(self.folder)
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
        return self.folder / ("incoming" + PART)

    @contextlib.contextmanager
    def _write_errors_reported(self) -> Iterator[None]:
        try:
            yield
        except OSError as problem:
            raise unwritable(self.folder, problem) from problem

    def _written(self, source: Path | bytes, sha256: str) -> Path:
        """Write a file beside its place, synced, unless it is kept already; return its place."""
        place = self.path(sha256)
        if place.is_file():
            return place
        if worth_compressing(source):
            place = place.with_name(sha256 + compressed.ENDING)
            found = write_compressed(source, self._part)
        elif isinstance(source, bytes):
            write_synced(self._part, source)
            return place
        else:
            found = copy_synced(source, self._part)
        if found != sha256:
            raise changed_meanwhile(source.name if isinstance(source, Path) else sha256)
        return place

    def _place(self, place: Path) -> str:
        """Move what was written to its place; return its hash."""
        if not place.is_file():
            make_folder(place.parent)
            self._part.chmod(0o444)
            os.replace(self._part, place)
            sync_folder(place.parent)
        return place.stem

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
            for piece in pieces_as_received(self.path(sha256)):
                content.update(piece)
                yield piece
        except FileNotFoundError as problem:
            raise _gone(sha256) from problem
        except OSError as problem:
            raise _damaged(sha256) from problem
        if content.hexdigest() != sha256:
            raise _damaged(sha256)

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
        place = self.path(sha256)
        if not place.is_file():
            raise _gone(sha256)
        if place.suffix != compressed.ENDING:
            yield place
            return
        with _working_copy(self.folder / ".copies") as copy:
            with self._write_errors_reported(), copy.open("wb") as file:
                file.writelines(self.pieces(sha256))
            yield copy

    def all(self) -> Iterator[str]:
        """Yield the hashes of all files kept, in order."""
        for folder in sorted(self.folder.glob("??")):
            yield from sorted({file.name.partition(".")[0] for file in folder.iterdir()})


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
    """The folder of photographs; unlike originals they go when their look is taken back."""

    def drop(self, sha256: str) -> None:
        """Remove a photograph; one that is not there stays so."""
        path = self.path(sha256)
        with (
            self._write_errors_reported(),
            locked(self.folder / ".lock"),
            contextlib.suppress(FileNotFoundError),
        ):
            path.unlink()
            sync_folder(path.parent)

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
