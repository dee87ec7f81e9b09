"""The register as CSV files: which file holds which columns, in words, and empty ones to fill in.

All of it follows from the declarations in `analysis.records`. Files are UTF-8, separated by commas,
with the column names in the first line. An empty cell means "not known". Times are ISO 8601;
without an offset they are UTC; a bare date is midnight UTC. Yes and no are written ``yes`` and
``no``.
"""

import csv
from collections.abc import Mapping, Sequence
from pathlib import Path

from analysis.records import REGISTER, Declaration, Field, Kind
from service.errors import StoreError
from service.register.formulas import marked
from service.storage.durable import make_folder, replace_file

README_NAME = "README.md"
NEWEST_BAND = "bands.csv"  # its newest line for each room stands in rooms.csv


def declaration_of(file: str) -> tuple[Declaration, ...]:
    """Return what a file holds; that of the rooms holds the newest band of each too."""
    both = (REGISTER[file], REGISTER[NEWEST_BAND])
    return both if file == "rooms.csv" else both[:1]


def fields_of(file: str) -> Mapping[str, Field]:
    """Return the fields that are columns of a file."""
    own, *also = declaration_of(file)
    found = dict(own.fields)
    for each in also:
        found |= {name: one for name, one in each.fields.items() if name not in found}
    return found


def needed_in(file: str) -> tuple[str, ...]:
    """Return the columns of a file that must be filled."""
    fields = REGISTER[file].fields.values()
    return tuple(one.name for one in fields if one.needed and one.needed_in_files)


def column_words(file: str) -> dict[str, str]:
    """Return what each column of a file holds."""
    needed = needed_in(file)
    return {name: _words(one, name in needed) for name, one in fields_of(file).items()}


def _words(one: Field, needed: bool) -> str:
    """Return what a column holds, what may stand in it, and what leaving it empty means.

    Examples
    --------
    >>> _words(Field(label="Spacer", kind=Kind.NUMBER, unit="mm", low=0, high=200), needed=True)
    'Spacer: a number from 0 to 200 mm (required)'
    """
    told = one.words or one.label
    free = one.kind in (Kind.TEXT, Kind.NOTE)
    expected = _choice_words(one) if one.kind is Kind.CHOICE else one.expected
    words = told if free or one.kind is Kind.REFERENCE else f"{told}: {expected}"
    if needed:
        return f"{words} (required)"
    return f"{words}; empty: {one.without}" if one.without else words


def _choice_words(one: Field) -> str:
    """Return the words that may stand in a column, those that are codes explained."""
    told = (f"'{v}'" if v == words else f"'{v}' {words}" for v, words in one.choices)
    return "one of: " + ", ".join(told)


COLUMNS: dict[str, tuple[str, ...]] = {file: tuple(fields_of(file)) for file in REGISTER}
# Files whose lines others name.
PARENTS = tuple(file for file, one in REGISTER.items() if len(one.key) == 1)


def table_text(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a table as CSV text, safe to be opened as a spreadsheet."""
    out: list[str] = []
    writer = csv.writer(_Appender(out), lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([marked(cell) for cell in row] for row in rows)
    return "".join(out)


class _Appender:
    """The little that `csv.writer` wants of a file."""

    def __init__(self, parts: list[str]) -> None:
        self.write = parts.append


def write_empty_register(folder: Path) -> list[Path]:
    """Write every file without lines, and a README; return their paths.

    Raises
    ------
    StoreError
        If one of the files is there already: nothing is written over.
    """
    texts = {file: table_text(COLUMNS[file], []) for file in REGISTER}
    texts[README_NAME] = readme()
    there = [name for name in texts if (folder / name).exists()]
    if there:
        raise StoreError(
            read=str(folder),
            where=there[0],
            found="a file that is there already",
            expected="a new or empty folder",
            action="Name another folder, so that nothing is written over.",
        )
    make_folder(folder)
    for name, text in texts.items():
        replace_file(folder / name, text.encode())
    return [folder / name for name in texts]


def example_files() -> dict[str, str]:
    """Return the example line of each file as the text of that file."""
    return {
        file: table_text(columns, [_example(file)] if _stands_alone(file) else [])
        for file, columns in COLUMNS.items()
    }


def _stands_alone(file: str) -> bool:
    """Whether a file's example names nothing but what the examples of other files hold."""
    named = (one for one in REGISTER[file].fields.values() if one.of and one.example)
    return all(one.example == REGISTER[one.of].fields[_key(one.of)].example for one in named)


def _key(file: str) -> str:
    return REGISTER[file].key[0]


def _example(file: str) -> list[str]:
    return [one.example for one in fields_of(file).values()]


def readme() -> str:
    """Return the explanation of every file and column, each with its example."""
    return "\n\n".join([README, *(_section(file) for file in REGISTER)]) + "\n"


def _section(file: str) -> str:
    rows = [
        f"| `{column}` | {words} | {example} |"
        for (column, words), example in zip(column_words(file).items(), _example(file), strict=True)
    ]
    table = "\n".join(["| column | what it holds | example |", "|---|---|---|", *rows])
    return f"## {file}\n\n{REGISTER[file].words}\n\n{table}"


README = """# The register of a museum, as CSV files

Fill in what you know. An empty cell means "not known": it widens the answer, and the pages say
which fact would narrow it. Where a column says so, a range such as 40 to 55 may stand in place of
the number. Only columns marked (required) must be filled. Begin with sites.csv, rooms.csv,
loggers.csv and placements.csv; a work needs a line in works.csv, and one in hangings.csv, before
anything can be said of it.

Any spreadsheet will do: save each table as "CSV UTF-8". Commas, semicolons or tabs between the
cells are all read; where they are not commas, decimal commas are read too. Dates are written
2025-03-01, times 2025-03-01T09:30Z (UTC).

    stilltaut register THIS_FOLDER --data museum --dry-run      # shows what would change
    stilltaut register THIS_FOLDER --data museum                # the same, and keeps it

Reading the same files twice changes nothing. What is in the register but not in a file stays.
The examples below are of one invented work, and belong together."""
