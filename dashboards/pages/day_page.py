"""The page of a day of which there are no readings: it says from when to when there are."""

from dataclasses import dataclass
from typing import ClassVar

from dashboards.lines import DayChoice
from dashboards.pages.page import documented
from dashboards.text import wording
from dashboards.text.messages import _

# ruff: noqa: RUF009  (each field calls `documented`, which makes a new field every time)


@dataclass(frozen=True)
class NoWeekPage:
    """A day outside the record was asked for."""

    template: ClassVar[str] = "no_week.html"
    section: ClassVar[str] = "week"
    question: str = documented("The question of the page that was asked for")
    answer: str = documented("That there are no readings of it, and from when to when there are")
    day: DayChoice = documented("The form that leads to another day")
    first: str = documented("Address of the first week there is")
    latest: str = documented("Address of the latest one")


def outside_words(asked: str, first: str, last: str) -> str:
    """Return that a day lies outside the record, all three as ``2026-03-19``.

    Examples
    --------
    >>> outside_words("1999-01-04", "2025-01", "2025-02")
    'There are no readings of 4 January 1999: the record runs from 2025-01 to 2025-02.'
    """
    return _(
        "There are no readings of {day}: the record runs from {first} to {last}.",
        day=wording.written_day(asked),
        first=wording.written_day(first),
        last=wording.written_day(last),
    )
