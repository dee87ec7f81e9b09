"""The page of the one search over the house."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from dashboards.lines import FoundLine, NoticeLine
from dashboards.pages.page import documented
from dashboards.text import wording
from dashboards.text.messages import _, counted


@dataclass(frozen=True)
class SearchPage:
    """What a search found."""

    template: ClassVar[str] = "search.html"
    section: ClassVar[str] = "works"
    answer: str = documented("How much was found, in one sentence")
    asked: str = documented("What was asked for")
    found: Sequence[FoundLine] = documented(
        "Works, rooms, loggers, incidents and statements that were found"
    )
    notices: Sequence[NoticeLine] = documented("Notices that were found")


def search_answer(asked: str, many: int) -> str:
    """Return how much was found.

    Examples
    --------
    >>> search_answer("fog", 0), search_answer("fog", 2), search_answer("", 0)
    ('Nothing holds “fog”.', '2 things hold “fog”.', 'A title, a number or a part of either.')
    """
    if not asked.strip():
        return _("A title, a number or a part of either.")
    if not many:
        return _("Nothing holds “{asked}”.", asked=asked)
    number = wording.number(many)
    return counted(
        "{number} thing holds “{asked}”.", "{number} things hold “{asked}”.", many, number=number,
        asked=asked,
    )  # fmt: skip
