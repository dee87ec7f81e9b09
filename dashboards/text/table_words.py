"""What the tables of published numbers say in words, for the catalogue of messages.

A table is data and calls nothing, so its notes and places are found by this reader. They are
worded where they are shown, as ``translated(row.note)``.
"""

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from typing import IO, Any

SAID = ("place", "note", "name", "group", "edition", "record_origin")
Found = tuple[int, None, str, list[str]]


def extract(
    file: IO[bytes], _keywords: Sequence[str], _tags: Sequence[str], options: Mapping[str, str]
) -> Iterator[Found]:
    """Yield what a table says, as Babel asks for it: line, function, message, comments.

    A bibliography is left out: publications keep the titles they have.

    Examples
    --------
    >>> from io import BytesIO
    >>> table = BytesIO(b'[a.b]' + bytes([10]) + b'note = "a guess"')
    >>> [found[2] for found in extract(table, (), (), {})]
    ['a guess']
    """
    for row in _rows(tomllib.loads(file.read().decode("utf-8"))):
        if "authors" not in row:
            said = [str(row[key]) for key in SAID if row.get(key)]
            yield from ((1, None, words, []) for words in said if not words.isdigit())


def _rows(table: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    yield table
    for inner in table.values():
        if isinstance(inner, dict):
            yield from _rows(inner)
