"""The page of one work: what its template receives (see `dashboards.pages.page`)."""

# ruff: noqa: RUF009  (each field calls `documented`, which makes a new field every time)
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from markupsafe import Markup

from analysis.results import Judgement
from analysis.works import Work
from dashboards.lines import Choice, ReasonStep, Table
from dashboards.look_lines import InspectionLine, LearnedLine
from dashboards.pages.page import Key, documented


@dataclass(frozen=True)
class WorkPage:
    """One work: whether it is still taut, why, and how long it has got."""

    template: ClassVar[str] = "work.html"
    section: ClassVar[str] = "round"
    zone: str = documented("IANA zone of the site")
    work: Work = documented("The mount and frame record, unknown facts as None")
    room_id: str = documented("Room in which the work hangs; empty when it hangs nowhere")
    room_name: str = documented("That room's name")
    judgement: Judgement = documented("The line on the round, with the chain of reasons")
    chain: Markup | None = documented(
        "Picture of the chain room → frame → print → tension → surface"
    )
    history: Markup | None = documented("The work through the past weeks: `charts.work.work_chart`")
    inspections: Sequence[InspectionLine] = documented("Short inspections, newest first")
    learned: Sequence[LearnedLine] = documented(
        "Parameters before and after learning; may be empty"
    )
    saved: str = documented("A sentence after a form was sent, or empty", default="")
    answered: str = documented(
        "What the newest look did to an estimate that had said otherwise, or empty", default=""
    )
    last_answer: str = documented(
        "The last answer from readings where none holds now, or empty", default=""
    )
    taught: Sequence[str] = documented(
        "What looks taught of what nobody recorded, as sentences", default=()
    )
    key: Key = documented("The key of the strip: `charts.strips.page_key`", default=())
    history_words: str = documented(
        "The sentence under the history: `charts.work.work_words`", default=""
    )
    stretch: str = documented(
        "Where the stretch of the print went, in a sentence, or empty", default=""
    )
    bear_in_mind: Sequence[str] = documented(
        "What the numbers cannot show, in sentences: `text.caveats_text`", default=()
    )
    ahead: str = documented("That waves will show by the forecast, and when, or empty", default="")
    values: Markup = documented(
        "What can be read along the history: `charts.readout.values_script`", default=Markup()
    )
    life: Sequence[str] = documented(
        "What was mounted, framed or hung anew since its readings began, in sentences", default=()
    )


# The page of reasons: what its template receives (see `dashboards.pages.page`).

# ruff: noqa: RUF009  (each field calls `documented`, which makes a new field every time)


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
