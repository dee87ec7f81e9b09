"""The gallery's week for its wall, on A4 to be read at the wall and on A3 from two metres."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from analysis.errors import UnknownNameError
from analysis.results import RoomWeek
from dashboards.charts import room_air, strips
from dashboards.charts.strips import Row
from dashboards.charts.style import MM_PER_INCH, SERIF, wrapped
from dashboards.charts.wall import (
    WALL_A3,
    WALL_A4,
    Wall,
    height_mm,
    wall_chart,
    words_of_others,
)
from dashboards.charts.week import quality_line
from dashboards.sheets.typesetting import Sheet
from dashboards.text import event_words, sentences, wording
from dashboards.text.event_words import event_size, telling_event
from dashboards.text.messages import _
from dashboards.text.sentences import CAUTION

A4_MM = (277.0, 190.0)  # between the margins of an A4 page laid wide; A3 is this enlarged
A3_SCALE = 2**0.5
TITLE, LINE, ANSWER = 1.9, 1.3, 1.0  # of the running letters' size
MARGIN_MM = 10.0
PARAGRAPHS_MM = 9.0  # between the parts of the sheet


@dataclass(frozen=True)
class Paper:
    """One size of paper: its name, how it is drawn on, how much larger than A4 it is.

    ``note_pt`` is the size of the notes and of what the sheet stands on, which are read close by;
    like the letters of ``wall`` it is that on the drawing reduced to A4 [pt].
    """

    name: str
    wall: Wall
    scale: float
    note_pt: float


PAPERS = {
    "a4": Paper("a4", WALL_A4, 1.0, 9.0),
    "a3": Paper("a3", WALL_A3, A3_SCALE, 12.0 / A3_SCALE),
}


@dataclass(frozen=True)
class WeekFacts:
    """What the layout ``week`` reads."""

    title: str
    when: str
    paper: str
    margin_mm: float
    text_pt: float
    note_pt: float
    picture_words: str
    answer: str
    others: str
    notes: Sequence[str]
    plain_notes: Sequence[str]
    stands_on: str
    key: str
    caution: str
    made: str


def paper_named(name: str) -> Paper:
    """Return a size of paper, or raise `UnknownNameError`."""
    if name not in PAPERS:
        raise UnknownNameError(read="sizes of paper", name=name, known=PAPERS)
    return PAPERS[name]


def week_sheet(week: RoomWeek, paper: Paper, at_utc: datetime) -> Sheet:
    """Return a room's week as a sheet of one page; ``at_utc`` is when it was made."""
    rows = strips.rows(week)
    facts = _facts(week, paper, at_utc, rows[:0])
    room = A4_MM[1] - _words_mm(facts, paper)
    many = sum(height_mm(week, paper.wall, n + 1) <= room for n in range(len(rows)))
    if many < len(rows):  # those without room are named, and that takes room as well
        room -= _lines_mm(words_of_others(rows), paper)
        many = sum(height_mm(week, paper.wall, n + 1) <= room for n in range(len(rows)))
    facts = _facts(week, paper, at_utc, rows[many:])
    spare = room - height_mm(week, paper.wall, many)
    return Sheet("week", facts, {"week": wall_chart(week, paper.wall, rows[:many], spare)})


def _facts(week: RoomWeek, paper: Paper, at_utc: datetime, others: Sequence[Row]) -> WeekFacts:
    notes, plain = week_notes(week)
    letter_pt = paper.wall.letter_pt * paper.scale
    number = week.iso_week.split("-W")[1].lstrip("0")
    dates = wording.week_dates(week.iso_week)
    return WeekFacts(
        title=sentences.week_finding(week),
        when=_("{room} · week {number}, {dates}", room=week.room_name, number=number, dates=dates),
        paper=paper.name,
        margin_mm=MARGIN_MM * paper.scale,
        text_pt=letter_pt,
        note_pt=paper.note_pt * paper.scale,
        picture_words=sentences.week_sentence(week),
        answer=_answer(week),
        others=words_of_others(others),
        notes=notes,
        plain_notes=plain,
        stands_on=quality_line(week),
        key=room_air.key_words(week),
        caution=_(CAUTION),
        made=_("Made {when}.", when=wording.date_time(at_utc, week.zone)),
    )


def _answer(week: RoomWeek) -> str:
    """Return what is asked of people; what happened stands in the title and in the notes."""
    return sentences.round_sentence(week.judgements, week.zone)


def _felt(week: RoomWeek) -> str:
    largest = telling_event(week)
    if largest is None or event_size(largest) <= 0.0:
        return ""
    return sentences.felt_sentence(week, largest)


def week_notes(week: RoomWeek) -> tuple[list[str], list[str]]:
    """Return the numbered notes and the others, so that nothing is told twice.

    An entry of the calendar in whose hours an event began stands in that event's note; only the
    others have a note of their own.
    """
    events = event_words.worth_a_number(week.events)
    notes = event_words.event_notes(week)
    told = [event_words.told_of(event, week.planned) for event in events]
    plain = [
        event_words.planned_note(one, week.zone)
        for one in week.planned
        if not any(one is other for other in told)
    ]
    plain += [event_words.crowd_note(crowd) for crowd in event_words.crowds(week.events)]
    plain += [_felt(week)] if _felt(week) else []
    return notes, plain


def _words_mm(facts: WeekFacts, paper: Paper) -> float:
    """Return the height of everything but the drawing, on paper reduced to A4 [mm]."""
    size = paper.wall.letter_pt
    title = len(wrapped(facts.title, A4_MM[0], size * TITLE, SERIF)) * TITLE
    answer = len(wrapped(facts.answer, A4_MM[0], size * ANSWER, SERIF)) * ANSWER
    last = f"{facts.stands_on} {facts.key} {facts.caution} {facts.made}"
    notes = sum(_lines_mm(one, paper) for one in (*facts.notes, *facts.plain_notes, last))
    ems = (1.0 + title + answer) * LINE * size
    return ems * MM_PER_INCH / 72.0 + notes + PARAGRAPHS_MM * paper.wall.scale


def _lines_mm(words: str, paper: Paper) -> float:
    """Return the height of a note [mm]."""
    size = paper.note_pt
    many = len(wrapped(words, A4_MM[0] - 2.0 * size * MM_PER_INCH / 72.0, size))
    return many * LINE * size * MM_PER_INCH / 72.0
