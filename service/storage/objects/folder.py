"""Objects in a folder of this machine: each a file, synced before it counts."""

import contextlib
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path, PurePosixPath
from typing import IO

from service.storage.durable import (
    PART,
    locked,
    make_folder,
    remove_parts,
    replace_files,
    sync_folder,
    unwritable,
)
from service.storage.objects.copies import Copies
from service.storage.objects.named import Content, Found


class Folder:
    """Objects in a folder of this machine.

    Parameters
    ----------
    folder : pathlib.Path
        Made with the first object.
    """

    at_hand = True

    def __init__(self, folder: Path) -> None:
        self.folder = self.staging = folder

    def put(self, contents: Mapping[str, Callable[[], Content]]) -> None:
        """Put objects; see `Objects.put`."""
        by_folder: dict[Path, dict[str, Callable[[], Content]]] = {}
        for name, content in contents.items():
            path = self.path(name)
            by_folder.setdefault(path.parent, {})[path.name] = content
        for folder, files in by_folder.items():
            replace_files(folder, files)

    def place(self, part: Path, name: str) -> None:
        """Move a file to its place; see `Objects.place`."""
        target = self.path(name)
        try:
            make_folder(target.parent)
            part.chmod(0o444)
            os.replace(part, target)
            sync_folder(target.parent)
        except OSError as problem:
            raise unwritable(self.folder, problem) from problem

    def get(self, name: str) -> bytes:
        """Return the bytes of an object."""
        return self.path(name).read_bytes()

    def each(self, names: Sequence[str]) -> Iterator[bytes]:
        """Yield the bytes of objects, one after another."""
        return map(self.get, names)

    def open(self, name: str) -> IO[bytes]:
        """Open an object to read it piece by piece."""
        return self.path(name).open("rb")

    def exists(self, name: str) -> bool:
        """Return whether there is an object of that name."""
        return self.path(name).is_file()

    def listed(self, under: str = "") -> Iterator[Found]:
        """Yield the objects below a part of a name."""
        return _files(self.path(under), PurePosixPath(under))

    def names(self) -> set[str]:
        """Return the names of the files that lie here, not further below."""
        if not self.folder.is_dir():
            return set()
        with os.scandir(self.folder) as entries:
            return {one.name for one in entries if one.is_file() and not _is_passing(one.name)}

    def is_empty(self) -> bool:
        """Return whether there is no object at all."""
        return next(self.listed(), None) is None

    def remove(self, name: str) -> None:
        """Remove an object; one that is not there stays so."""
        path = self.path(name)
        try:
            path.unlink(missing_ok=True)
            if path.parent.is_dir():
                sync_folder(path.parent)
        except OSError as problem:
            raise unwritable(self.folder, problem) from problem

    @contextlib.contextmanager
    def alone(self, part: str) -> Iterator[None]:
        """Hold the lock of a folder within; what a crash left half written there goes."""
        with locked(self.path(part) / ".lock"):
            remove_parts(self.path(part))
            yield

    def under(self, part: str) -> "Folder":
        """Return the objects of a folder within."""
        return Folder(self.path(part))

    def never_changed(self, copies: Copies | None) -> "Folder":
        """Return the same objects: they are at hand."""
        return self

    def __str__(self) -> str:
        """Return where the objects lie."""
        return str(self.folder)

    def path(self, name: str) -> Path:
        """Return where an object lies or would lie."""
        return self.folder / name if name else self.folder


def _files(folder: Path, name: PurePosixPath) -> Iterator[Found]:
    """Yield the files of a folder and those below, but those in the making and locks."""
    if not folder.is_dir():
        return
    with os.scandir(folder) as entries:
        for entry in entries:
            if entry.is_dir():
                yield from _files(folder / entry.name, name / entry.name)
            elif not _is_passing(entry.name):
                known = entry.stat()
                yield Found(str(name / entry.name), known.st_size, known.st_mtime)


def _is_passing(name: str) -> bool:
    """Return whether a file is in the making, or a lock."""
    return name.startswith(".") or name.endswith(PART)
