"""The page of reasons: what its template receives (see `dashboards.pages.page`)."""

# ruff: noqa: RUF009  (each field calls `documented`, which makes a new field every time)

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from markupsafe import Markup

from analysis.works import Work
from dashboards.lines import Choice, ReasonStep, Table
from dashboards.pages.page import documented


@dataclass(frozen=True)
class WhyPage:
    """Why a work is as it is at one hour: the chain from room to surface, link by link."""

    template: ClassVar[str] = "why.html"
    section: ClassVar[str] = "round"
    zone: str = documented("IANA zone of the site")
    work: Work = documented("The work, as it was mounted and framed then")
    at_utc: datetime = documented("The hour that is told")
    at_local: str = documented("The same as the form sends it, for example 2026-03-20T14:00")
    answer: str = documented("The answer in one sentence")
    mend: str = documented("What would mend it where nothing can be judged, or empty")
    picture: Markup | None = documented("The chain as a picture, or None where nothing can be told")
    picture_words: str = documented("The sentence under the picture")
    back: Sequence[Choice] = documented(
        "Addresses of a week, a day, an hour before, with their words"
    )
    on: Sequence[Choice] = documented(
        "Addresses of an hour, a day, a week later, and of the last hour"
    )
    steps: Sequence[ReasonStep] = documented(
        "The five steps with their numbers; empty without a chain"
    )
    few: str = documented("A sentence where too few draws count to tell what decides, or empty")
    account_words: str = documented("What took most of the stretch, in a sentence, or empty")
    account: Table | None = documented("Where the stretch went since mounting, or None")
