"""The four lists as plain text, for the command line."""

from collections.abc import Iterator
from textwrap import fill

from analysis.results import Judgement
from dashboards.text import sentences, wording
from dashboards.text.judgement_text import condition, mend, reason
from dashboards.text.presence_text import readings_sentence
from service.answers.rounds import NOWHERE, Round

WIDTH = 96


def round_text(found: Round, zone: str) -> Iterator[str]:
    """Yield the lines of the lists, each work with its room and its reason."""
    every = found.judgements
    rooms = {one.judgement.work_id: room.room.name for room in found.rooms for one in room.works}
    yield f"As of {wording.date_time(found.now_utc, zone)}"
    if not any(room.presence.known_until_utc for room in found.rooms):
        yield "No readings yet: add a logger's file first (stilltaut add)."
    yield fill(sentences.round_sentence(every, zone), WIDTH)
    yield from _old_rooms(found, zone)
    for listing in sentences.LISTINGS:
        listed = [j for j in every if j.listing is listing]
        if listed:
            yield ""
            yield f"{listing.value.upper()} ({len(listed)})"
        for judgement in listed:
            yield from _lines(judgement, rooms.get(judgement.work_id, NOWHERE), zone)
    yield ""
    yield fill(sentences.CAUTION, WIDTH)


def _old_rooms(found: Round, zone: str) -> Iterator[str]:
    """Yield a line for each room whose readings have stopped, or are not there."""
    for one in found.rooms:
        here = one.presence
        said = readings_sentence(
            here.known_until_utc, found.now_utc, zone, current=here.current, due=False
        )
        if said:
            yield fill(f"{one.room.name}: {said}", WIDTH)


def _lines(judgement: Judgement, room: str, zone: str) -> Iterator[str]:
    yield f"  {judgement.work_id}  {judgement.title} ({room}): {judgement.state.value}"
    said = [reason(judgement, zone), condition(judgement, zone), mend(judgement)]
    text = " ".join(part for part in said if part)
    yield fill(text, WIDTH, initial_indent="      ", subsequent_indent="      ")
