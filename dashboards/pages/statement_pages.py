"""The pages of climate statements: all that were issued, and one of them."""

# ruff: noqa: RUF009  (each field calls `documented`, which makes a new field every time)

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from dashboards.lines import Table
from dashboards.pages.page import documented
from dashboards.pages.register_pages import FormPage


@dataclass(frozen=True)
class StatementLine:
    """One statement in the list."""

    number: int
    title: str
    words: str


@dataclass(frozen=True)
class StatementFormPage(FormPage):
    """The form of a climate statement, which stands with the limits as all statements do."""

    section: ClassVar[str] = "air"


@dataclass(frozen=True)
class StatementsPage:
    """What lenders were told of the rooms' air."""

    template: ClassVar[str] = "statements.html"
    section: ClassVar[str] = "air"
    answer: str = documented("How many were issued, in one sentence")
    lines: Sequence[StatementLine] = documented("All statements, newest first")


@dataclass(frozen=True)
class StatementPage:
    """One climate statement as it was issued."""

    template: ClassVar[str] = "statement.html"
    section: ClassVar[str] = "air"
    number: int = documented("Its number")
    name: str = documented("What it is called: its number, and in whose place it stands")
    title: str = documented("Its finding")
    answer: str = documented("Met, not met or cannot tell, and why")
    lines: Sequence[tuple[str, str]] = documented("What it stands on, as (name, words)")
    table: Table = documented("One row a rule of the lender")
    gaps: Sequence[str] = documented("When nothing was measured; may be empty")
    changes: Sequence[str] = documented("What differs from the one it replaces; may be empty")
    replaced: int | None = documented("Number of the statement in its place, or None")
    made: str = documented("When it was issued, and by whom")
