"""The bibliography: every source that a table or an equation names."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from analysis.errors import UnknownNameError
from analysis.parameters import Parameter, Status, read_toml


class Seen(StrEnum):
    """How the numbers of a source reached the tables."""

    READ = "read"
    ABSTRACT = "abstract"
    SECOND_HAND = "second-hand"
    MEMORY = "memory"


SEEN_WORDS: Mapping[Seen, str] = {
    Seen.READ: "the publication was read",
    Seen.ABSTRACT: "only its abstract or opening was read",
    Seen.SECOND_HAND: "reported by another publication",
    Seen.MEMORY: "recalled, not read again: provisional",
}


@dataclass(frozen=True)
class Reference:
    """One source."""

    key: str
    authors: str
    title: str
    year: int
    where: str
    seen: Seen


@cache
def references() -> Mapping[str, Reference]:
    """Return every source by its key."""
    raw: Mapping[str, Mapping[str, object]] = read_toml("references")
    return {key: _reference(key, row) for key, row in raw.items()}


def _reference(key: str, row: Mapping[str, object]) -> Reference:
    for field in ("authors", "title", "year", "where", "seen"):
        if field not in row:
            raise UnknownNameError(read=f"references.toml, {key}", name=field, known=row)
    return Reference(
        key=key,
        authors=str(row["authors"]),
        title=str(row["title"]),
        year=int(str(row["year"])),
        where=str(row["where"]),
        seen=Seen(str(row["seen"])),
    )


def reference(key: str) -> Reference:
    """Return one source, or say which there are.

    Raises
    ------
    UnknownNameError
        If no source has that key.
    """
    known = references()
    if key not in known:
        raise UnknownNameError(read="references.toml", name=key, known=known)
    return known[key]


STATUS_SEEN: Mapping[Seen, str] = {
    Seen.READ: "published, read",
    Seen.ABSTRACT: "published, abstract read",
    Seen.SECOND_HAND: "published, second-hand",
    Seen.MEMORY: "published, from memory",
}


def status_words(row: Parameter) -> str:
    """Return how a number came to be in its table, and how far its publication was seen.

    Examples
    --------
    >>> from analysis.parameters import parameter
    >>> status_words(parameter("prints", "fibre_base", "softening_per_pct"))
    'published, abstract read'
    >>> status_words(parameter("prints", "fibre_base", "beta_md"))
    'assumed'
    """
    if row.status is not Status.PUBLISHED or row.source not in references():
        return str(row.status)
    return STATUS_SEEN[reference(row.source).seen]
