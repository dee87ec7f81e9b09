"""A long text on the disk: looked over once, then given out part by part, cut between lines."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from service.errors import NotUnderstoodError
from service.ingest.files.decode import (
    HEAD_BYTES,
    Decoded,
    Signs,
    decoded,
    encoding_of,
    require_text,
    returns_alone,
)
from service.ingest.files.fixed_width import by_width
from service.ingest.files.json_rows import is_json
from service.ingest.files.opened import CONTAINERS

# A file from this size on is read part by part; so much of it is held at a time.
LONG_BYTES, PART_BYTES = 40_000_000, 8_000_000
BLOCK_BYTES = 4_000_000
# What the file as a whole is judged by: its head, and slices from its whole length.
SKETCH_HEAD, SLICES, SLICE_BYTES = 2_000_000, 64, 64_000


@dataclass(frozen=True)
class LongText:
    """A text of lines in one encoding, with one kind of line end, given out in parts of a size."""

    path: Path
    name: str
    size: int
    encoding: str
    end: bytes
    sha256: str
    part_bytes: int = PART_BYTES

    def bytes_at(self, start: int, most: int) -> bytes:
        """Return whole lines from a position on, as many as fit; at the end, all that is left."""
        with self.path.open("rb") as file:
            file.seek(start)
            data = file.read(most)
        if start + len(data) >= self.size:
            return data
        # Without any end of a line the text is refused where it is decoded.
        return data[: data.rfind(self.end) + 1] or data

    def text(self, data: bytes, first_line: int = 1) -> Decoded:
        """Return some of its bytes as text."""
        return decoded(self.name, data, self.encoding, first_line)

    def sketch(self, besides: Sequence[int] = ()) -> Decoded:
        """Return the lines by which the file as a whole is judged, in their order.

        Parameters
        ----------
        besides : sequence of int
            Where further lines are to be looked at.
        """
        head = self.bytes_at(0, SKETCH_HEAD)
        step = (self.size - len(head)) // SLICES
        places = sorted({*(len(head) + n * step for n in range(1, SLICES)), *besides})
        places.append(max(len(head), self.size - SLICE_BYTES))
        parts, reached = [head], len(head)
        for place in places:
            start = max(place, reached)
            data = self.bytes_at(start, SLICE_BYTES)
            if start > reached:
                data = data[data.find(self.end) + 1 :]
            parts.append(data)
            reached = start + SLICE_BYTES
        return self.text(b"".join(parts))


def long_text(
    path: Path, name: str, least_bytes: int = LONG_BYTES, part_bytes: int = PART_BYTES
) -> LongText | None:
    """Return a long file as a text that can be read part by part, or None where it is none.

    Workbooks, archives, JSON, UTF-16 and columns of fixed width are read whole, as shorter files
    are.

    Parameters
    ----------
    path, name
        The file, and its name for messages.
    least_bytes : int
        From which size on a file is long.
    part_bytes : int
        How much of it is held at a time.

    Raises
    ------
    NotUnderstoodError
        If the file cannot be opened, or its first bytes are no text with lines.
    """
    try:
        size = path.stat().st_size
        if size < least_bytes:
            return None
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES)
        if head.startswith(CONTAINERS):
            return None
        require_text(name, head)
        end = b"\r" if returns_alone(head[:65536]) else b"\n"
        likely = encoding_of(head[:65536])
        if likely.startswith("utf-16") or is_json(head.removeprefix(b"\xef\xbb\xbf")):
            return None
        start = "utf-8-sig" if head.startswith(b"\xef\xbb\xbf") else "utf-8"
        signs, sha256 = _looked_over(path, end)
    except OSError as problem:
        raise NotUnderstoodError(
            read=name,
            where="",
            found=problem.strerror or type(problem).__name__,
            expected="a file that can be opened",
            action=f"Check the name and the permissions of {path}.",
        ) from problem
    found = LongText(path, name, size, signs.encoding(start), end, sha256, part_bytes)
    sample = found.text(found.bytes_at(0, HEAD_BYTES))
    return found if by_width(sample) is sample else None


def _looked_over(path: Path, end: bytes) -> tuple[Signs, str]:
    """Return the signs beyond ASCII in a file, and its SHA-256; lines are not torn."""
    signs, content, rest = Signs(), hashlib.sha256(), b""
    with path.open("rb") as file:
        while block := file.read(BLOCK_BYTES):
            content.update(block)
            whole = rest + block
            cut = whole.rfind(end) + 1 or len(whole)
            signs, rest = signs + Signs.of(whole[:cut]), whole[cut:]
    return signs + Signs.of(rest), content.hexdigest()
