"""The first page of a group of houses, and what it says of each."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar

from analysis.results import Listing, State
from dashboards.pages.page import documented


@dataclass(frozen=True)
class HouseLine:
    """One house: what its own first page says, and whom it needs.

    Where ``cannot_tell`` is not empty it says why nothing is known of the house now; ``answer`` is
    then its last answer, dated by ``answered``, or empty.
    """

    name: str
    title: str
    address: str
    answer: str = ""
    answered: str = ""
    language: str = ""
    clock: str = ""
    state: State | None = None
    counts: Mapping[Listing, int] | None = None
    needs: Sequence[str] = ()
    due: str = ""
    cannot_tell: str = ""


@dataclass(frozen=True)
class GroupPage:
    """All houses in which the reader has a role: which one needs whom."""

    template: ClassVar[str] = "group.html"
    section: ClassVar[str] = "houses"
    answer: str = documented("How many houses need somebody, and how many cannot be told of")
    untold: Sequence[HouseLine] = documented("Houses that cannot be told of now, and why")
    houses: Sequence[HouseLine] = documented("The other houses, the most urgent first")
    unknown: str = documented(
        "That there are houses of which not even the reader's role is known now, or empty"
    )
