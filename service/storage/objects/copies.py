"""Copies near at hand of objects that lie elsewhere and are never changed.

A copy is a convenience: its folder may be emptied at any time, what does not fit its bounds goes, a
copy that is damaged is fetched again, and a disk that refuses costs no more than the copy.
"""

import contextlib
import hashlib
import os
import secrets
import threading
from collections.abc import Callable
from pathlib import Path

DIGEST_BYTES = 32  # in front of what was copied stands its SHA-256
LEFT = 0.9  # so much is left of what may be kept where something has to go


class Copies:
    """Copies in a folder of their own.

    Parameters
    ----------
    folder : pathlib.Path
        Made with the first copy.
    most_bytes : int
        No more than this is kept: what was read longest ago goes first.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     copies = Copies(Path(folder), 1000)
    ...     copies.get("a", lambda: b"fetched"), copies.get("a", lambda: b"asked for again")
    (b'fetched', b'fetched')
    """

    def __init__(self, folder: Path, most_bytes: int) -> None:
        self._folder, self._most_bytes = folder, most_bytes
        self._lock = threading.Lock()
        self._bytes: int | None = None  # as far as this process knows

    def get(self, name: str, fetch: Callable[[], bytes]) -> bytes:
        """Return an object from its copy, or fetch it and keep one."""
        if (content := self._read(self._path(name))) is not None:
            return content
        content = fetch()
        self.keep(name, content)
        return content

    def keep(self, name: str, content: bytes | memoryview) -> None:
        """Keep a copy of an object that has just been read or written."""
        path = self._path(name)
        part = path.with_name(f"{path.name}.{secrets.token_hex(4)}")
        with contextlib.suppress(OSError):
            path.parent.mkdir(parents=True, exist_ok=True)
            try:
                with part.open("wb") as file:
                    file.write(hashlib.sha256(content).digest())
                    file.write(content)
                os.replace(part, path)
            finally:
                part.unlink(missing_ok=True)
            self._count(DIGEST_BYTES + len(content))

    def forget(self, name: str) -> None:
        """Remove a copy; one that is not there stays so."""
        with contextlib.suppress(OSError):
            self._path(name).unlink(missing_ok=True)

    def _path(self, name: str) -> Path:
        hashed = hashlib.sha256(name.encode()).hexdigest()
        return self._folder / hashed[:2] / hashed

    def _read(self, path: Path) -> bytes | None:
        """Return what a copy holds, None where there is none or it is not what was copied."""
        with contextlib.suppress(OSError):
            held = path.read_bytes()
            content = held[DIGEST_BYTES:]
            if hashlib.sha256(content).digest() == held[:DIGEST_BYTES]:
                os.utime(path)
                return content
            path.unlink(missing_ok=True)
        return None

    def _count(self, more: int) -> None:
        """Note that something was kept; let what was read longest ago go where it is too much."""
        with self._lock:
            if self._bytes is not None:
                self._bytes += more
            if self._bytes is None or self._bytes > self._most_bytes:
                self._bytes = self._made_room()

    def _made_room(self) -> int:
        found = []
        for path in self._folder.glob("??/*"):
            with contextlib.suppress(OSError):
                known = path.stat()
                found.append((known.st_mtime, known.st_size, path))
        held = sum(size for _, size, _ in found)
        if held > self._most_bytes:
            for _, size, path in sorted(found):
                if held <= LEFT * self._most_bytes:
                    break
                path.unlink(missing_ok=True)
                held -= size
        return held
