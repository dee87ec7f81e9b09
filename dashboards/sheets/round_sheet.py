"""The round on paper: room by room in walking order, with boxes to tick and a line to write on."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from analysis.learning.grades import GRADE_WORDS
from analysis.results import Listing
from dashboards.lines import Choice, RoundLine
from dashboards.marks import mark_picture
from dashboards.pages.round_walk import by_room
from dashboards.sheets.typesetting import Sheet
from dashboards.text import judgement_text as judged, sentences, wording
from dashboards.text.messages import _


def round_sheet(
    lists: Mapping[Listing, Sequence[RoundLine]],
    rooms: Sequence[Choice],
    at_utc: datetime,
    zone: str,
    answer: str,
) -> Sheet:
    """Return the round as it is at a time, for people who walk it without a screen."""
    walked = by_room(lists, rooms)
    lines = [one for room in walked for _which, every in room.lists for one in every]
    facts = {
        "title": _("Where do we go first?"),
        "answer": answer,
        "made": _("As of {when}", when=wording.when(at_utc, zone)),
        "walked": [_("Walked by"), _("On"), _("From, to")],
        "rooms": [
            {
                "name": room.room_name,
                "lists": [
                    {
                        "heading": wording.capital(_(sentences.LISTING_WORDS[which])),
                        "works": [_work(line, which, zone) for line in every],
                    }
                    for which, every in room.lists
                ],
            }
            for room in walked
        ],
        "grades": [f"{grade} {_(words)}" for grade, words in GRADE_WORDS.items()],
        "marks": [str(grade) for grade in GRADE_WORDS],
        "edges": [_("edges hold"), _("a hinge is loose")],
        "caution": _(sentences.CAUTION),
        "leave": _("A loose hinge, contact, a crack or a stain: {words}", words=_(judged.LEAVE_IT)),
    }
    states = {line.judgement.state for line in lines}
    return Sheet("round", facts, {state.value: mark_picture(state) for state in states})


def _work(line: RoundLine, which: Listing, zone: str) -> dict[str, Any]:
    judgement = line.judgement
    first = which is Listing.LOOK_FIRST
    if first:
        said = judged.reason(judgement, zone)
    elif which is Listing.WATCH:
        said = sentences.short_reason(judgement, zone)
    else:
        said = sentences.leave_or_mend(judgement, zone)
    seen = _("not inspected yet")
    if line.last_grade is not None and line.last_seen_utc is not None:
        seen = _(
            "last seen {when}: {grade}",
            when=wording.day_only(line.last_seen_utc, zone),
            grade=f"{line.last_grade}, {_(GRADE_WORDS[line.last_grade])}",
        )
    return {
        "title": judgement.title,
        "mark": judgement.state.value,
        "state": _(judgement.state.value),
        "place": " · ".join(filter(None, (judgement.work_id, line.place))),
        "words": sentences.ended(said),
        "seen": seen,
        "first": first,
    }
