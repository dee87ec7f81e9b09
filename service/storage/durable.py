"""Writing files so that a crash at any instant leaves the old state or the new one, never half.

A file is written beside its place, synced to the disk, renamed over, and the folder is synced.
"""

import contextlib
import fcntl
import hashlib
import os
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from service.errors import StoreError

PART = ".part"
# Syncing waits for the disk, not for a processor.
SYNC_THREADS = 4
COPIED_BYTES = 4_000_000


def sync_folder(folder: Path) -> None:
    """Make the names in a folder survive a power cut."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def make_folder(folder: Path) -> None:
    """Make a folder and those above it, each name synced."""
    if folder.is_dir():
        return
    make_folder(folder.parent)
    folder.mkdir(exist_ok=True)
    sync_folder(folder.parent)


def write_synced(path: Path, content: bytes | memoryview, *, mode: int = 0o644) -> None:
    """Write a new file and sync its content (its name is synced with its folder)."""
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, mode)
    try:
        rest = memoryview(content).cast("B")
        while rest:
            rest = rest[os.write(handle, rest) :]
        os.fsync(handle)
    finally:
        os.close(handle)


def copy_synced(source: Path, path: Path) -> str:
    """Copy a file piece by piece and sync its content; return the SHA-256 of what was copied."""
    content = hashlib.sha256()
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o644)
    try:
        with source.open("rb") as file:
            while piece := file.read(COPIED_BYTES):
                content.update(piece)
                rest = memoryview(piece)
                while rest:
                    rest = rest[os.write(handle, rest) :]
        os.fsync(handle)
    finally:
        os.close(handle)
    return content.hexdigest()


def replace_file(path: Path, content: bytes) -> None:
    """Put ``content`` at ``path``, at once and for good."""
    replace_files(path.parent, {path.name: lambda: content})


def replace_files(folder: Path, contents: Mapping[str, Callable[[], bytes | memoryview]]) -> None:
    """Put several files into one folder; each appears whole or not at all.

    Parameters
    ----------
    folder : pathlib.Path
        Where they go; made when missing.
    contents : mapping of str to callable
        File name to the function that makes its bytes; called in several threads.

    Raises
    ------
    StoreError
        If the disk is full or refuses. Files not yet renamed keep their old content.
    """

    def write(name: str) -> None:
        write_synced(folder / (name + PART), contents[name]())

    try:
        make_folder(folder)
        if len(contents) == 1:
            write(next(iter(contents)))
        else:
            with ThreadPoolExecutor(SYNC_THREADS) as pool:
                list(pool.map(write, contents))
        for name in contents:
            os.replace(folder / (name + PART), folder / name)
        sync_folder(folder)
    except OSError as problem:
        raise unwritable(folder, problem) from problem


def unwritable(place: Path, problem: OSError) -> StoreError:
    """Return the error for a disk that refuses to be written."""
    return StoreError(
        read=str(place),
        where="",
        found=problem.strerror or str(problem),
        expected="a folder that can be written, with room on the disk",
        action="Make room or correct the permissions, then do the same again: nothing is lost.",
    )


def remove_parts(folder: Path) -> None:
    """Remove what a crash left half written. Call it only while holding the folder's lock."""
    for leftover in folder.glob("*" + PART):
        leftover.unlink(missing_ok=True)


@contextlib.contextmanager
def locked(path: Path) -> Iterator[None]:
    """Hold a file's lock against other processes and threads; a crash releases it."""
    try:
        make_folder(path.parent)
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
    except OSError as problem:
        raise unwritable(path.parent, problem) from problem
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)
