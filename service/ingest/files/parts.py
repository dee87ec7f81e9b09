"""Which table of a file holds the readings, where it has several: sheets, or packed files."""

from collections.abc import Callable, Mapping, Sequence
from typing import TypeVar

from analysis.errors import StilltautError
from service.errors import Answer, NotUnderstoodError, QuestionError, remark
from service.ingest.files.decode import Decoded
from service.ingest.files.opened import PART

SHOWN = 20
Read = TypeVar("Read")


def the_one(texts: Sequence[Decoded], read: Callable[[Decoded], Read]) -> tuple[Decoded, Read]:
    """Return the only table that can be read, and what it reads as.

    A table on which a question is open counts as one that can be read.

    Raises
    ------
    QuestionError
        If several can be read: which is meant?
    StilltautError
        If none can, the reason why the first cannot.
    """
    if len(texts) == 1:
        return texts[0], read(texts[0])
    outcomes = [(text, *_outcome(text, read)) for text in texts]
    likely = [one for one in outcomes if not isinstance(one[2], NotUnderstoodError)]
    if len(likely) > 1:
        raise _which([text for text, _, _ in likely])
    text, found, problem = (likely or outcomes)[0]
    if found is None:
        raise problem or _which(texts)
    return text, found


def others_noted(texts: Sequence[Decoded], chosen: Decoded) -> list[str]:
    """Return a note on the tables of a file that were not read."""
    names = [text.part for text in texts if text is not chosen]
    more = f" and {len(names) - SHOWN} more" if len(names) > SHOWN else ""
    shown = ", ".join(names[:SHOWN])
    return [remark(f"Read from {chosen.part}; no readings in {shown}{more}.")] if names else []


def as_before(texts: Sequence[Decoded], remembered: Mapping[str, str]) -> Sequence[Decoded]:
    """Return only the table that was meant the last time, where the file has one of that name."""
    return [text for text in texts if text.part and text.part == remembered.get(PART)] or texts


def _outcome(
    text: Decoded, read: Callable[[Decoded], Read]
) -> tuple[Read | None, StilltautError | None]:
    try:
        return read(text), None
    except StilltautError as problem:
        return None, problem


def _which(texts: Sequence[Decoded]) -> QuestionError:
    names = [text.part for text in texts]
    more = f" and {len(names) - SHOWN} more" if len(names) > SHOWN else ""
    return QuestionError(
        read=texts[0].name,
        where="the tables in it",
        found="readings in " + ", ".join(names[:SHOWN]) + more,
        expected="to know which of them is meant",
        action=f"Name one: --column {PART}='{names[0]}'.",
        answers=[Answer(f"the readings in {name}", {PART: name}) for name in names[:SHOWN]],
    )
