"""The page of what to measure next: what its template receives (see `dashboards.pages.page`)."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar

from analysis.answers.measuring import NextMeasurement
from dashboards import links
from dashboards.pages.page import documented
from dashboards.text import wording
from dashboards.text.measure_text import ACT_WORDS, where_words


@dataclass(frozen=True)
class MeasureLine:
    """One act: what to do and where, what it settles, how long it takes, where it is written down.

    ``settles``, ``minutes`` and ``per_quarter`` are finished text.
    """

    act: str
    where: str
    address: str
    settles: str
    minutes: str
    per_quarter: str


@dataclass(frozen=True)
class MeasurePage:
    """What to measure next in the house: one list, what settles most for its time first."""

    template: ClassVar[str] = "measure.html"
    section: ClassVar[str] = "round"
    answer: str = documented("The answer in one sentence: the first act, or that nothing is open")
    lines: Sequence[MeasureLine] = documented(
        "The acts, the one that settles most for its time first"
    )
    rest: Sequence[MeasureLine] = documented("The acts after the first ones, folded away")
    notes: Sequence[str] = documented("How the figures are meant, and the cautions, in sentences")


def line(one: NextMeasurement, rooms: Mapping[str, str]) -> MeasureLine:
    """Return one act as a line of the list."""
    low, high = one.per_quarter_hour_range
    return MeasureLine(
        act=ACT_WORDS[one.act],
        where=where_words(one, rooms),
        address=address(one),
        settles=wording.number(one.settles, 2),
        minutes=wording.span(one.minutes.low, one.minutes.high, "min"),
        per_quarter=f"{wording.number(one.per_quarter_hour, 2)} "
        f"({wording.span(low, high, decimals=2)})",
    )


def address(one: NextMeasurement) -> str:
    """Return where an act is written down: the form of the work, or the record of the room."""
    work_id = one.works[0].work_id
    forms = {
        "look": links.work(work_id),
        "salt": links.room_record(one.room_id),
        "frame_logger": links.half_time(work_id),
        "hinges": links.measured(work_id, "hinge_free_length_mm"),
        "strip": links.measured(work_id, "strip"),
    }
    return forms.get(one.act, links.work_record(work_id))
