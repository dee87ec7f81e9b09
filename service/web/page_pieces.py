"""A page in pieces: what all readers of a role share, compressed once, and a reader's own between.

The pieces are put together as RFC 1951 lets them be: what is shared ends at a full flush, so that
it rests on nothing before it; what is a reader's own stands in stored blocks. RFC 1952 frames it.
"""

import re
import struct
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256

LEVEL = 5
RAW = -15  # a deflate stream without a frame
HEAD = b"\x1f\x8b\x08\x00\x00\x00\x00\x00\x00\xff"  # RFC 1952, 2.3: deflate, no time, no name
END = b"\x03\x00"  # an empty last block of fixed codes
LONGEST_STORED = 0xFFFF


@dataclass(frozen=True)
class PagePieces:
    """A page: what is shared, and between it the names of what is a reader's own.

    ``shared`` has one piece more than ``own``; ``mark`` stands for all of them.
    """

    shared: Sequence[bytes]
    packed: Sequence[bytes]
    own: Sequence[str]
    mark: str
    media: str

    @classmethod
    def of(cls, text: str, places: Mapping[str, str], media: str) -> "PagePieces":
        """Return a text in pieces.

        Parameters
        ----------
        places : mapping of str to str
            What stands in the text where a reader's own goes → its name.
        """
        found = re.split("|".join(map(re.escape, places)), text) if places else [text]
        own = tuple(places[one] for one in re.findall("|".join(places), text)) if places else ()
        shared = tuple(one.encode() for one in found)
        whole = b"\0".join((media.encode(), *shared, *(one.encode() for one in own)))
        mark = sha256(whole).hexdigest()[:32]
        return cls(shared, tuple(map(_flushed, shared)), own, mark, media)

    def mark_of(self, values: Mapping[str, str]) -> str:
        """Return the mark of the page of one reader, as an ETag."""
        if not self.own:
            return f'W/"{self.mark}"'
        theirs = sha256(repr([self.mark, *sorted(values.items())]).encode()).hexdigest()
        return f'W/"{theirs[:32]}"'

    def body(self, values: Mapping[str, str]) -> bytes:
        """Return the page of one reader."""
        return b"".join(_between(self.shared, [values[one].encode() for one in self.own]))

    def gzipped(self, values: Mapping[str, str]) -> bytes:
        """Return the same, compressed."""
        body = self.body(values)
        stored = [_stored(values[one].encode()) for one in self.own]
        tail = struct.pack("<LL", zlib.crc32(body), len(body) & 0xFFFFFFFF)
        return b"".join((HEAD, *_between(self.packed, stored), END, tail))


def _between(shared: Sequence[bytes], own: Sequence[bytes]) -> list[bytes]:
    """Return the pieces in order: shared ones, a reader's own between each two."""
    every = [b""] * (len(shared) + len(own))
    every[::2], every[1::2] = shared, own
    return every


def _flushed(piece: bytes) -> bytes:
    """Return a piece compressed by itself, to be followed by others."""
    made = zlib.compressobj(LEVEL, zlib.DEFLATED, RAW)
    return made.compress(piece) + made.flush(zlib.Z_FULL_FLUSH)


def _stored(value: bytes) -> bytes:
    """Return a value in stored blocks (RFC 1951, 3.2.4)."""
    parts = [value[at : at + LONGEST_STORED] for at in range(0, len(value), LONGEST_STORED)]
    return b"".join(struct.pack("<BHH", 0, len(one), 0xFFFF - len(one)) + one for one in parts)
