"""Objects in a bucket of a server that speaks S3: any number of machines may share them.

Put is whole or not at all there; there is no renaming and no lock. Keys come from where such
programs look for them: ``AWS_ACCESS_KEY_ID`` and ``AWS_SECRET_ACCESS_KEY``, or the machine's role.
"""

import contextlib
import errno
import io
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import IO, Any, cast
from urllib.parse import urlsplit

import pyarrow as pa
from pyarrow import fs

from analysis.errors import StilltautError
from service.errors import StoreError
from service.storage.objects.copies import Copies
from service.storage.objects.named import Content, Found

# Asking waits for the server, not for a processor.
REQUESTS_AT_ONCE = 8
FETCHED_AHEAD = 16
PIECE_BYTES = 8_000_000
CONNECT_S, ANSWER_S = 5.0, 30.0


class Bucket:
    """Objects below a place in a bucket.

    Parameters
    ----------
    files : pyarrow.fs.FileSystem
        The server.
    root : str
        ``bucket/prefix``.
    staging : pathlib.Path
        A folder of this machine, made where something is written in it.
    copies : Copies, optional
        Where copies are kept of objects that are never changed.
    """

    at_hand = False

    def __init__(
        self, files: fs.FileSystem, root: str, staging: Path, copies: Copies | None = None
    ) -> None:
        self._files, self.root, self.staging, self._copies = files, root, staging, copies

    def put(self, contents: Mapping[str, Callable[[], Content]]) -> None:
        """Put objects; see `Objects.put`."""
        with ThreadPoolExecutor(REQUESTS_AT_ONCE) as pool:
            list(pool.map(self._put, contents, contents.values()))

    def _put(self, name: str, content: Callable[[], Content]) -> None:
        made = content()
        self._send(name, iter([made]))
        if self._copies is not None:
            self._copies.keep(self._at(name), made)

    def place(self, part: Path, name: str) -> None:
        """Send a file and remove it here; see `Objects.place`."""
        self._send(name, _pieces(part))
        part.unlink()

    def _send(self, name: str, pieces: Iterator[Content]) -> None:
        with self._told(name):
            # As it is: a name that ends like a compressed file must not make it one.
            out = self._files.open_output_stream(self._at(name), compression=None)
            try:
                for piece in pieces:
                    out.write(piece)
            except BaseException:
                # The server takes a stream that ends for whole.
                with contextlib.suppress(OSError, pa.ArrowException):
                    out.close()
                with contextlib.suppress(OSError, pa.ArrowException):
                    self._files.delete_file(self._at(name))
                raise
            out.close()

    def get(self, name: str) -> bytes:
        """Return the bytes of an object."""
        if self._copies is None:
            return self._fetched(name)
        return self._copies.get(self._at(name), lambda: self._fetched(name))

    def each(self, names: Sequence[str]) -> Iterator[bytes]:
        """Yield the bytes of objects in their order, a few fetched ahead."""
        with ThreadPoolExecutor(REQUESTS_AT_ONCE) as pool:
            waiting: deque[Future[bytes]] = deque()
            try:
                for name in names:
                    waiting.append(pool.submit(self.get, name))
                    if len(waiting) > FETCHED_AHEAD:
                        yield waiting.popleft().result()
                while waiting:
                    yield waiting.popleft().result()
            finally:
                for one in waiting:
                    one.cancel()

    def _fetched(self, name: str) -> bytes:
        with self._told(name), self._files.open_input_file(self._at(name)) as file:
            return bytes(file.read())

    def open(self, name: str) -> IO[bytes]:
        """Open an object to read it piece by piece."""
        with self._told(name):
            return cast(
                IO[bytes], _Reading(self, name, self._files.open_input_file(self._at(name)))
            )

    def path(self, name: str) -> None:
        """Return None: no object lies on this machine."""

    def exists(self, name: str) -> bool:
        """Return whether there is an object of that name."""
        with self._told(name):
            return bool(self._files.get_file_info(self._at(name)).type == fs.FileType.File)

    def listed(self, under: str = "") -> Iterator[Found]:
        """Yield the objects below a part of a name."""
        for one in self._below(under, recursive=True):
            if one.type == fs.FileType.File:
                name = one.path.removeprefix(self.root + "/")
                yield Found(name, one.size, one.mtime_ns / 1e9)

    def names(self) -> set[str]:
        """Return the names of the objects that lie here, not further below."""
        here = self._below("", recursive=False)
        return {one.base_name for one in here if one.type == fs.FileType.File}

    def is_empty(self) -> bool:
        """Return whether there is no object at all."""
        return not self._below("", recursive=False)

    def _below(self, under: str, *, recursive: bool) -> list[fs.FileInfo]:
        where = fs.FileSelector(self._at(under), recursive=recursive, allow_not_found=True)
        with self._told(under):
            return list(self._files.get_file_info(where))

    def remove(self, name: str) -> None:
        """Remove an object; one that is not there stays so."""
        if self._copies is not None:
            self._copies.forget(self._at(name))
        with self._told(name), contextlib.suppress(FileNotFoundError):
            self._files.delete_file(self._at(name))

    def alone(self, part: str) -> contextlib.AbstractContextManager[None]:
        """Hold nobody off: there are no locks."""
        return contextlib.nullcontext()

    def under(self, part: str) -> "Bucket":
        """Return the objects whose names begin with a part."""
        return Bucket(self._files, self._at(part), self.staging / part, self._copies)

    def never_changed(self, copies: Copies | None) -> "Bucket":
        """Return the same objects, which are what they were put as, with copies near at hand."""
        return Bucket(self._files, self.root, self.staging, copies)

    def __str__(self) -> str:
        """Return where the objects lie."""
        return f"s3://{self.root}"

    def _at(self, name: str) -> str:
        return f"{self.root}/{name}" if name else self.root

    @contextlib.contextmanager
    def _told(self, name: str) -> Iterator[None]:
        """Tell a server that refuses from an object that is not there."""
        try:
            yield
        except FileNotFoundError as problem:
            raise FileNotFoundError(errno.ENOENT, "no such object", self._at(name)) from problem
        except (OSError, pa.ArrowException) as problem:
            raise StoreError(
                read=str(self),
                where=name,
                found=str(problem).splitlines()[0],
                expected="a store that answers and lets this program read and write",
                action="See whether its server can be reached and the keys are valid, then do the "
                "same again: nothing is lost.",
            ) from problem


class _Reading(io.RawIOBase):
    """An object that is read piece by piece; a server that refuses meanwhile is told as such."""

    def __init__(self, bucket: Bucket, name: str, file: Any) -> None:
        self._bucket, self._name, self._file = bucket, name, file

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        with self._bucket._told(self._name):
            return int(self._file.readinto(buffer))

    def close(self) -> None:
        if not self.closed:
            self._file.close()
        super().close()


def _pieces(path: Path) -> Iterator[bytes]:
    with path.open("rb") as file:
        while piece := file.read(PIECE_BYTES):
            yield piece


def open_bucket(address: str, endpoint: str, region: str, staging: Path) -> Bucket:
    """Return the objects at an address, ``s3://bucket/prefix``; asks the server nothing yet.

    Raises
    ------
    StilltautError
        If it is no such address.
    """
    parts = urlsplit(address)
    if parts.scheme != "s3" or not parts.netloc or parts.query:
        raise StilltautError(
            read="settings",
            where="STILLTAUT_STORE",
            found=repr(address),
            expected="s3://bucket/prefix, or nothing for the data folder",
            action="Correct the setting and start again.",
        )
    files = fs.S3FileSystem(
        endpoint_override=endpoint or None,
        region=region,
        connect_timeout=CONNECT_S,
        request_timeout=ANSWER_S,
    )
    return Bucket(files, f"{parts.netloc}{parts.path}".rstrip("/"), staging)
