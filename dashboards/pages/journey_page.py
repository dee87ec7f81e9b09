"""A work's journeys: where it was, in which air, and what that was for it."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from markupsafe import Markup

from dashboards.lines import Choice, Table
from dashboards.pages.page import documented


@dataclass(frozen=True)
class JourneyLine:
    """One journey: its dates, answer, picture, stays, sentences, and forms that correct it."""

    heading: str
    answer: str
    picture: Markup | None
    picture_words: str
    table: Table
    sentences: Sequence[str]
    corrections: Sequence[Choice]
    paper: str


@dataclass(frozen=True)
class JourneyPage:
    """What a work went through on its journeys."""

    template: ClassVar[str] = "journey.html"
    section: ClassVar[str] = "works"
    work_id: str = documented("Number of the work")
    title: str = documented("Title of the work")
    answer: str = documented("How often it was away, and what the last journey was for it")
    journeys: Sequence[JourneyLine] = documented("Its journeys, newest first")
    cautions: Sequence[str] = documented("What to bear in mind")
    saved: str = documented("What has just been written down, or empty", default="")
