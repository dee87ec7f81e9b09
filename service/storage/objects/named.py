"""A store of named, whole objects: what a museum keeps besides its register.

A name is a path of parts, ``originals/ab/abcdef…``. An object appears whole or not at all and is
there for good once it was put; it is never changed, another one comes in its place. Objects lie in
a folder of this machine (`service.storage.objects.folder`) or in a bucket that speaks S3
(`service.storage.objects.bucket`).
"""

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Protocol

from service.storage.objects.copies import Copies

Content = bytes | memoryview
# What is older is in nobody's hand any more: a crash left it.
LEFT_BEHIND_S = 86_400.0


@dataclass(frozen=True)
class Found:
    """An object of a list: its name, its size, and when it was put [s since 1970]."""

    name: str
    bytes: int
    put_s: float

    @property
    def left_behind(self) -> bool:
        """Whether whoever put it has had time enough to say what it is for."""
        return self.put_s < time.time() - LEFT_BEHIND_S


class Objects(Protocol):
    """Named, whole objects.

    ``staging`` is a folder of this machine in which an object is written piece by piece before it
    is placed. ``at_hand`` says whether this machine alone holds the objects, so that what it does
    not see is gone. Errors of the disk or of the server are `StoreError`; of an object that is not
    there, `FileNotFoundError`.
    """

    staging: Path
    at_hand: bool

    def put(self, contents: Mapping[str, Callable[[], Content]]) -> None:
        """Put objects; the functions that make their bytes are called in several threads."""

    def place(self, part: Path, name: str) -> None:
        """Make a synced file of the staging folder an object; the file goes."""

    def get(self, name: str) -> bytes:
        """Return the bytes of an object."""

    def each(self, names: Sequence[str]) -> Iterator[bytes]:
        """Yield the bytes of objects in the order of their names, fetched ahead from elsewhere."""

    def open(self, name: str) -> IO[bytes]:
        """Open an object to read it piece by piece."""

    def path(self, name: str) -> Path | None:
        """Return where an object lies or would lie on this machine; None: elsewhere."""

    def exists(self, name: str) -> bool:
        """Return whether there is an object of that name."""

    def listed(self, under: str = "") -> Iterator[Found]:
        """Yield the objects below a part of a name, in no order."""

    def names(self) -> set[str]:
        """Return the names of those that lie here, not further below."""

    def is_empty(self) -> bool:
        """Return whether there is no object at all."""

    def remove(self, name: str) -> None:
        """Remove an object; one that is not there stays so."""

    def alone(self, part: str) -> AbstractContextManager[None]:
        """Hold off the other writers below a part of a name, where the store has such locks.

        It spares work that would be done twice; what is right must not hang on it.
        """

    def under(self, part: str) -> "Objects":
        """Return the objects whose names begin with a part, named without it."""

    def never_changed(self, copies: Copies | None) -> "Objects":
        """Return the same objects, of which each is what it was first put as.

        Of those that lie elsewhere copies are then kept near at hand.
        """

    def __str__(self) -> str:
        """Return where the objects lie, for messages."""
