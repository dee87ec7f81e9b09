"""Which bytes: encoding, line ends, and what is no text at all."""

import codecs
import hashlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from service.errors import NotUnderstoodError

HEAD_BYTES = 1_200_000
LINE_LIMIT = 1_000_000
# How many of the first bytes of a text may be NUL: a power cut can leave a few behind.
NUL_SHARE = 0.2

# The first bytes of kinds of file that people send by mistake, by the formats' own documents.
SIGNATURES = {
    b"\xff\xd8\xff": "a JPEG photograph",
    b"\x89PNG": "a PNG picture",
    b"GIF8": "a GIF picture",
    b"II*\x00": "a TIFF picture",
    b"MM\x00*": "a TIFF picture",
    b"%PDF": "a PDF document",
    b"PK\x03\x04": "a zip archive or a spreadsheet file",
    b"\xd0\xcf\x11\xe0": "an old spreadsheet or text-processor file",
    b"\x1f\x8b": "a gzip archive",
    b"SQLite format 3": "a database",
    b"\x89HDF": "an HDF5 file",
    b"PAR1": "a Parquet file",
}


@dataclass(frozen=True)
class Decoded:
    r"""A file's text as UTF-8 with ``\n`` or ``\r\n`` line ends, and what it was before."""

    name: str
    sha256: str
    encoding: str
    text: bytes

    def lines(self, start: int, stop: int) -> list[str]:
        """Return the whole lines between two byte positions, without their ends."""
        cut = self.text[max(start, 0) : stop].decode("utf-8", errors="replace")
        lines = [line.rstrip("\r") for line in cut.split("\n")]
        if start > 0:
            lines = lines[1:]
        if stop < len(self.text):
            lines = lines[:-1]
        return lines


def load(path: Path) -> bytes:
    """Return a file's bytes, having looked at its head before the rest is read.

    Raises
    ------
    NotUnderstoodError
        If the file cannot be opened, or is no text with lines.
    """
    try:
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES)
            require_text(path.name, head)
            if len(head) < HEAD_BYTES:
                return head
            file.seek(0)
            return file.read()
    except OSError as problem:
        raise NotUnderstoodError(
            read=path.name,
            where="",
            found=problem.strerror or type(problem).__name__,
            expected="a file that can be opened",
            action=f"Check the name and the permissions of {path}.",
        ) from problem


def decode(name: str, data: bytes) -> Decoded:
    """Return a file's text.

    Parameters
    ----------
    name : str
        The file's name, for messages.
    data : bytes
        The file as received.

    Returns
    -------
    Decoded
        UTF-8 (with or without byte order mark), UTF-16 and cp1252 are told apart.

    Raises
    ------
    NotUnderstoodError
        If the bytes are empty, a picture, a document, NULs, or one endless line.

    Examples
    --------
    >>> decode("a.csv", "Zeit;°C".encode("cp1252")).encoding
    'cp1252'
    """
    require_text(name, data[:HEAD_BYTES])
    encoding = encoding_of(data)
    text = _as_utf8(data, encoding)
    if b"\xa0" in text or b"\xaf" in text:
        text = text.replace("\u00a0".encode(), b" ").replace("\u202f".encode(), b" ")
    if _returns_alone(text[:65536]):
        text = text.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    _require_lines(name, text)
    return Decoded(name, hashlib.sha256(data).hexdigest(), encoding, text)


def _returns_alone(head: bytes) -> bool:
    """Return whether carriage returns without line feeds end lines."""
    return head.count(b"\r") > head.count(b"\r\n") + head.endswith(b"\r")


def encoding_of(data: bytes) -> str:
    """Return the name of the encoding: utf-8, utf-8-sig, utf-16-le, utf-16-be or cp1252."""
    if data.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    if data.startswith(codecs.BOM_UTF16_LE):
        return "utf-16-le"
    if data.startswith(codecs.BOM_UTF16_BE):
        return "utf-16-be"
    wide = _utf16_without_mark(data[:4096])
    if wide:
        return wide
    # Signs beyond ASCII mostly stand in the headings alone: then the rest is quickly passed.
    cut = data.rfind(b"\n", 0, 65536) + 1
    plain_below = cut < len(data) and np.frombuffer(data, np.uint8, offset=cut).max() < 128
    beyond = data[:cut] if plain_below else data
    try:
        beyond.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def _utf16_without_mark(head: bytes) -> str:
    even, odd = head[0::2], head[1::2]
    if len(head) < 8 or b"\0" not in head:
        return ""
    if odd.count(0) > 0.7 * len(odd) and even.count(0) < 0.05 * len(even):
        return "utf-16-le"
    if even.count(0) > 0.7 * len(even) and odd.count(0) < 0.05 * len(odd):
        return "utf-16-be"
    return ""


def _as_utf8(data: bytes, encoding: str) -> bytes:
    if encoding == "utf-8":
        return data
    if encoding == "utf-8-sig":
        return data[len(codecs.BOM_UTF8) :]
    return data.decode(encoding, errors="replace").removeprefix("\ufeff").encode("utf-8")


def require_text(name: str, head: bytes) -> None:
    """Raise unless the first bytes can be the start of a text with lines."""
    if not head.strip(b"\0 \t\r\n\xef\xbb\xbf\xff\xfe"):
        nothing = "nothing but NUL bytes" if b"\0" in head else "an empty file"
        raise _no_table(name, "", nothing)
    for signature, kind in SIGNATURES.items():
        if head.startswith(signature):
            raise _no_table(name, "first bytes", kind)
    if head[4:8] == b"ftyp":
        raise _no_table(name, "first bytes", "a photograph or film")
    if encoding_of(head[:4096]).startswith("utf-16"):
        return
    sample = head[:65536]
    odd = sum(
        sample.count(bytes([code])) for code in range(32) if code not in (0, 9, 10, 12, 13, 26, 27)
    )
    if sample.count(0) > NUL_SHARE * len(sample) or odd > 0.02 * len(sample):
        raise _no_table(name, "first bytes", "bytes that are no text")
    _require_lines(name, head)


def _require_lines(name: str, text: bytes) -> None:
    """Raise if a line is longer than any logger writes; looks at each byte at most once."""
    at = 0
    while len(text) - at > LINE_LIMIT:
        end = max(text.rfind(b"\n", at, at + LINE_LIMIT), text.rfind(b"\r", at, at + LINE_LIMIT))
        if end < 0:
            line = text.count(b"\n", 0, at) + 1
            raise _no_table(name, f"line {line}", f"a line of more than {LINE_LIMIT:,} bytes")
        at = end + 1


def _no_table(name: str, where: str, found: str) -> NotUnderstoodError:
    return NotUnderstoodError(
        read=name,
        where=where,
        found=found,
        expected="a text table with a line for each reading",
        action="Export the logger's readings again as CSV or text, and give that file.",
    )
