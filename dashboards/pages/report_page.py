"""A month or a quarter as one page: a plain summary, then the parts in its reader's order."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from dashboards.lines import Choice, Table
from dashboards.pages.page import documented


@dataclass(frozen=True)
class ReportPart:
    """One part of a report: its heading, sentences, a table, and how its figures were counted."""

    key: str
    heading: str
    sentences: Sequence[str]
    table: Table | None = None
    how: str = ""


@dataclass(frozen=True)
class ReportPage:
    """What a month, a quarter or other dates brought, and what they ask of whom."""

    template: ClassVar[str] = "report.html"
    section: ClassVar[str] = "air"
    question: str = documented("The question, with the dates")
    answer: str = documented("What happened, as one sentence")
    summary: Sequence[str] = documented("What else happened and what was done, a sentence each")
    asks: Sequence[tuple[str, str]] = documented("Who is asked for what, most pressing first")
    parts: Sequence[ReportPart] = documented("The parts, in the order of this reader")
    readers: Sequence[Choice] = documented("For whom it is ordered; value is an address")
    usual: Sequence[Choice] = documented("The dates asked for most; value is an address")
    first: str = documented("First day, as a form sends it")
    last: str = documented("Last day, as a form sends it")
    reader: str = documented("For whom it is ordered, as a form sends it")
    paper: str = documented("Address of the report as PDF")
    cautions: Sequence[str] = documented("What to bear in mind")
    address: str = documented("Address of these dates for this reader; its tables are asked there")
