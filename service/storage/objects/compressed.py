"""Files kept compressed with Zstandard (RFC 8878), written and read piece by piece."""

import hashlib
import os
from collections.abc import Iterator
from pathlib import Path
from typing import IO

import pyarrow as pa

ENDING = ".zst"
PIECE_BYTES = 4_000_000
# A file that fits into one block of the disk takes no less room when it is compressed.
BLOCK_BYTES = 4096
# Pictures, workbooks and archives are compressed already: their beginning tells.
LOOKED_AT_BYTES = 500_000
WORTH_IT = 0.9


def worth_compressing(source: Path | bytes) -> bool:
    """Return whether a file takes clearly less room when it is compressed."""
    if isinstance(source, bytes):
        size, head = len(source), source[:LOOKED_AT_BYTES]
    else:
        with source.open("rb") as file:
            size, head = os.fstat(file.fileno()).st_size, file.read(LOOKED_AT_BYTES)
    if size <= BLOCK_BYTES or not head:
        return False
    return len(pa.compress(head, "zstd", asbytes=True)) < WORTH_IT * len(head)


def write_compressed(source: Path | bytes, path: Path) -> str:
    """Write a file compressed and sync its content; return the SHA-256 of what was compressed."""
    content = hashlib.sha256()
    with path.open("wb") as file, pa.CompressedOutputStream(file, "zstd") as packed:
        for piece in _pieces(source):
            content.update(piece)
            packed.write(piece)
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
    return content.hexdigest()


def _pieces(source: Path | bytes) -> Iterator[bytes | memoryview]:
    if isinstance(source, bytes):
        whole = memoryview(source)
        yield from (whole[at : at + PIECE_BYTES] for at in range(0, len(whole), PIECE_BYTES))
        return
    with source.open("rb") as file:
        yield from _pieces_of_file(file)


def _pieces_of_file(file: IO[bytes]) -> Iterator[bytes]:
    while piece := file.read(PIECE_BYTES):
        yield piece


def pieces_as_received(file: IO[bytes], *, packed: bool) -> Iterator[bytes]:
    """Yield the bytes of an open file as they were before it was compressed, if it was.

    Raises
    ------
    OSError
        If it cannot be read, or is no longer what was written.
    """
    if not packed:
        yield from _pieces_of_file(file)
        return
    with pa.CompressedInputStream(file, "zstd") as unpacked:
        while piece := unpacked.read(PIECE_BYTES):
            yield piece
