"""A file as it came, opened: the tables of text it may be read from."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from analysis.errors import UnknownNameError
from service.errors import Answer, NotUnderstoodError, QuestionError
from service.ingest.files.decode import HEAD_BYTES, Decoded, decode, require_text
from service.ingest.files.fixed_width import by_width
from service.ingest.files.json_rows import is_json, json_table
from service.ingest.files.packed import GZIP_SIGNATURE, Member, is_archive, members
from service.ingest.files.workbook import OLD_SIGNATURE, ZIP_SIGNATURE, is_workbook, sheets_of

PART, WIDTHS = "part", "widths"
# Names that a person may say beside those of quantities: they tell where the table stands.
PLACES = (PART, WIDTHS)
CONTAINERS = (ZIP_SIGNATURE, b"PK\x05\x06", OLD_SIGNATURE, GZIP_SIGNATURE)
# So many files of an archive are looked at for the one that holds readings, before it is asked.
LOOKED_AT = 12
CONTAINER_BYTES = 500_000_000


def load(path: Path) -> bytes:
    """Return a file's bytes, having looked at its head before the rest is read.

    Raises
    ------
    NotUnderstoodError
        If the file cannot be opened, or is neither a text with lines nor anything that holds one.
    """
    try:
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES)
            if not head.startswith(CONTAINERS):
                require_text(path.name, head)
            elif path.stat().st_size > CONTAINER_BYTES:
                raise _too_large(path.name, path.stat().st_size)
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


def files_in(name: str, data: bytes) -> Sequence[Member]:
    """Return the files that came: those in an archive, or the file itself.

    Raises
    ------
    NotUnderstoodError
        If an archive is damaged, or unpacks to more than is safe.
    """
    if not is_archive(data):
        return (Member(name, data),)
    return tuple(replace(one, name=f"{name}/{one.name}") for one in members(name, data))


def texts_of(name: str, data: bytes, stated: Mapping[str, str]) -> Sequence[Decoded]:
    """Return the tables of text that a file may be read from: one, or one for each sheet.

    Parameters
    ----------
    name : str
        The file's name, for messages.
    data : bytes
        The file as received.
    stated : mapping of str to str
        ``part`` names a sheet or a file in an archive, ``widths`` the characters of each column;
        other names are passed over.

    Raises
    ------
    NotUnderstoodError
        If the bytes hold no text with lines.
    UnknownNameError
        If the part that was said is not there.
    QuestionError
        If an archive holds so many files that one must be named.
    """
    part = stated.get(PART, "")
    if is_archive(data):
        found: Sequence[Decoded] = _in_archive(name, data, stated)
    elif is_workbook(data):
        found = sheets_of(name, data)
    else:
        found = (_table(decode(name, data), stated.get(WIDTHS, "")),)
    if not part:
        return found
    chosen = [text for text in found if text.part.casefold() == part.strip().casefold()]
    if not chosen:
        raise UnknownNameError(
            read=f"{name}, {PART}", name=part, known=[text.part for text in found if text.part]
        )
    return chosen


def _table(text: Decoded, widths: str) -> Decoded:
    if is_json(text.text[:HEAD_BYTES]):
        return json_table(text)
    return by_width(text, widths)


def _in_archive(name: str, data: bytes, stated: Mapping[str, str]) -> list[Decoded]:
    """Return the tables of the files of an archive."""
    files = list(members(name, data))
    part = stated.get(PART, "")
    wanted = [one for one in files if part.casefold().startswith(one.name.casefold())] or files
    if len(wanted) > LOOKED_AT:
        raise _many(name, wanted)
    found: list[Decoded] = []
    problems: list[NotUnderstoodError] = []
    for one in wanted:
        try:
            texts = texts_of(one.name, one.data, {**stated, PART: ""})
        except NotUnderstoodError as problem:
            problems.append(problem)
            continue
        for text in texts:
            place = f"{one.name}/{text.part}" if text.part else one.name
            found.append(replace(text, name=name, part=place))
    if not found:
        raise problems[0]
    return found


def _many(name: str, files: Sequence[Member]) -> QuestionError:
    shown = ", ".join(one.name for one in files[:20])
    return QuestionError(
        read=name,
        where="the archive",
        found=f"{len(files)} files: {shown}" + (", …" if len(files) > 20 else ""),
        expected="to know which of them is meant",
        action=f"Unpack it, or name one: --column {PART}='{files[0].name}'.",
        answers=[Answer(f"the file {one.name}", {PART: one.name}) for one in files],
    )


def _too_large(name: str, size: int) -> NotUnderstoodError:
    return NotUnderstoodError(
        read=name,
        where="",
        found=f"an archive or a workbook of {size / 1e6:,.0f} MB",
        expected=f"at most {CONTAINER_BYTES / 1e6:,.0f} MB",
        action="Give the files of readings in it, some at a time.",
    )
