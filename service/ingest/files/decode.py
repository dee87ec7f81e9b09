"""Which bytes: encoding, line ends, and what is no text at all."""

import codecs
import re
from dataclasses import dataclass

import numpy as np

from service.errors import NotUnderstoodError, remark
from service.ingest.files.sheet_records import Disagreement

HEAD_BYTES = 1_200_000
LINE_LIMIT = 1_000_000
# How many of the first bytes of a text may be NUL: a power cut can leave a few behind.
NUL_SHARE = 0.2

# A text mostly in UTF-8 with single bytes that are not.
MIXED = "utf-8 and cp1252"
_AS_CP1252 = "stilltaut-cp1252"
_SIGN = re.compile(rb"[\xc2-\xdf][\x80-\xbf]|[\xe0-\xef][\x80-\xbf]{2}|[\xf0-\xf4][\x80-\xbf]{3}")
_BEYOND_ASCII = re.compile(rb"[\x80-\xff]")

# The first bytes of kinds of file that people send by mistake, by the formats' own documents.
SIGNATURES = {
    b"\xff\xd8\xff": "a JPEG photograph",
    b"\x89PNG": "a PNG picture",
    b"GIF8": "a GIF picture",
    b"II*\x00": "a TIFF picture",
    b"MM\x00*": "a TIFF picture",
    b"%PDF": "a PDF document",
    b"SQLite format 3": "a database",
    b"\x89HDF": "an HDF5 file",
    b"PAR1": "a Parquet file",
    b"Rar!": "an archive of another kind than ZIP",
    b"7z\xbc\xaf": "an archive of another kind than ZIP",
}


@dataclass(frozen=True)
class Decoded:
    r"""A file's text as UTF-8 with ``\n`` or ``\r\n`` line ends, and what it was before.

    ``part`` names the sheet of a workbook or the file of an archive that the text comes from,
    ``delimiter`` (a key of `service.ingest.fields.DELIMITERS`) is set where it is known, ``notes``
    are whole sentences on how the text was made. ``first_line`` is the number of its first line,
    where it is a part of a file, ``doubt`` what a damaged sheet says against itself.
    """

    name: str
    encoding: str
    text: bytes
    part: str = ""
    delimiter: str = ""
    notes: tuple[str, ...] = ()
    first_line: int = 1
    doubt: Disagreement | None = None

    def lines(self, start: int, stop: int) -> list[str]:
        """Return the whole lines between two byte positions, without their ends."""
        cut = self.text[max(start, 0) : stop].decode("utf-8", errors="replace")
        lines = [line.rstrip("\r") for line in cut.split("\n")]
        if start > 0:
            lines = lines[1:]
        if stop < len(self.text):
            lines = lines[:-1]
        return lines


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
    return decoded(name, data, encoding_of(data))


def decoded(name: str, data: bytes, encoding: str, first_line: int = 1) -> Decoded:
    """Return the text of bytes whose encoding is known.

    Parameters
    ----------
    name, data
        As for `decode`.
    encoding : str
        As `encoding_of` gives it.
    first_line : int
        The number of the first line, where the bytes are a part of a file.

    Raises
    ------
    NotUnderstoodError
        If a line is endless.
    """
    mixed = encoding == MIXED
    text, notes = _mended(data, first_line) if mixed else (_as_utf8(data, encoding), ())
    text = _plain_blanks(text)
    if returns_alone(text[:65536]):
        text = text.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    _require_lines(name, text)
    return Decoded(name, encoding, text, notes=notes, first_line=first_line)


# A hard blank between thousands: "1 013".
_THOUSANDS = re.compile(rb"(?<=\d)(?:\xc2\xa0|\xe2\x80[\xaf\x89])(?=\d{3}(?!\d))")


def _plain_blanks(text: bytes) -> bytes:
    """Return a text with hard blanks as plain ones; those between thousands are left out."""
    if b"\xa0" not in text and b"\xe2" not in text:
        return text
    text = _THOUSANDS.sub(b"", text)
    for blank in ("\u00a0", "\u202f", "\u2009"):
        text = text.replace(blank.encode(), b" ")
    return text


def returns_alone(head: bytes) -> bool:
    """Return whether carriage returns without line feeds end lines."""
    return head.count(b"\r") > head.count(b"\r\n") + head.endswith(b"\r")


def encoding_of(data: bytes) -> str:
    """Return the name of the encoding: utf-8, utf-8-sig, utf-16-le, utf-16-be, cp1252 or mixed."""
    if data.startswith(codecs.BOM_UTF8):
        return _checked(data, "utf-8-sig")
    if data.startswith(codecs.BOM_UTF16_LE):
        return "utf-16-le"
    if data.startswith(codecs.BOM_UTF16_BE):
        return "utf-16-be"
    wide = _utf16_without_mark(data[:4096])
    if wide:
        return wide
    return _checked(data, "utf-8")


def _checked(data: bytes, encoding: str) -> str:
    """Return the encoding where all bytes are valid UTF-8, else cp1252, or that both occur."""
    # Signs beyond ASCII mostly stand in the headings alone: then the rest is quickly passed.
    cut = data.rfind(b"\n", 0, 65536) + 1
    plain_below = cut < len(data) and np.frombuffer(data, np.uint8, offset=cut).max() < 128
    beyond = data[:cut] if plain_below else data
    return Signs.of(beyond).encoding(encoding)


@dataclass(frozen=True)
class Signs:
    """Signs beyond ASCII in some bytes: whole ones of UTF-8, stray bytes, and whether all is valid.

    Those of the parts of a file, cut between lines, are added up.
    """

    whole: int = 0
    stray: int = 0
    valid: bool = True

    @classmethod
    def of(cls, data: bytes) -> "Signs":
        """Return the signs of some bytes."""
        if data.isascii():
            return cls()
        try:
            data.decode("utf-8")
        except UnicodeDecodeError:
            rest, whole = _SIGN.subn(b"", data)
            return cls(whole, len(_BEYOND_ASCII.findall(rest)), valid=False)
        # Each sign begins with one such byte.
        return cls(int(np.count_nonzero(np.frombuffer(data, np.uint8) >= 0xC2)))

    def __add__(self, other: "Signs") -> "Signs":
        """Return the signs of both."""
        both = self.whole + other.whole, self.stray + other.stray
        return Signs(*both, self.valid and other.valid)

    def encoding(self, likely: str) -> str:
        """Return the encoding of bytes that begin as ``likely``, utf-8 or utf-8-sig, says."""
        if self.valid:
            return likely
        return MIXED if likely == "utf-8-sig" or 10 * self.whole >= self.stray else "cp1252"


def _mended(data: bytes, first_line: int) -> tuple[bytes, tuple[str, ...]]:
    """Return a text mostly in UTF-8 with its other bytes read as cp1252, and which lines."""
    data = data.removeprefix(codecs.BOM_UTF8)
    numbers: list[int] = []
    lines = data.split(b"\n")
    for number, line in enumerate(lines):
        try:
            line.decode("utf-8")
        except UnicodeDecodeError:
            lines[number] = line.decode("utf-8", errors=_AS_CP1252).encode("utf-8")
            numbers.append(number + first_line)
    if not numbers:
        return data, ()
    shown = ", ".join(map(str, numbers[:8])) + (", …" if len(numbers) > 8 else "")
    note = remark(
        f"{len(numbers)} lines hold bytes that are not UTF-8 as the rest is, and were read as "
        f"cp1252: {shown}."
        if len(numbers) > 1
        else "1 line holds bytes that are not UTF-8 as the rest is, and was read as cp1252: "
        f"{shown}."
    )
    return b"\n".join(lines), (note,)


def _one_byte(problem: UnicodeError) -> tuple[str, int]:
    """Return a byte that is no UTF-8 as cp1252 has it."""
    if not isinstance(problem, UnicodeDecodeError):
        raise problem
    stray = problem.object[problem.start : problem.start + 1]
    return stray.decode("cp1252", errors="replace"), problem.start + 1


codecs.register_error(_AS_CP1252, _one_byte)


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
        return data.removeprefix(codecs.BOM_UTF8)
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
