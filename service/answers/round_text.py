"""The four lists as plain text, for the command line."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from textwrap import fill

from analysis.results import Judgement
from dashboards.text import sentences, wording
from dashboards.text.judgement_text import condition, mend, reason

WIDTH = 96


def round_text(
    judgements: Mapping[str, Sequence[Judgement]], at_utc: datetime, zone: str
) -> Iterator[str]:
    """Yield the lines of the four lists, each work with its room and its reason.

    Parameters
    ----------
    judgements : mapping of str to sequence of Judgement
        Room's name → its works.
    """
    every = [judgement for room in judgements.values() for judgement in room]
    rooms = {j.work_id: room for room, many in judgements.items() for j in many}
    yield f"As of {wording.date_time(at_utc, zone)}"
    yield fill(sentences.round_sentence(every, zone), WIDTH)
    for listing in sentences.LISTINGS:
        listed = sorted((j for j in every if j.listing is listing), key=lambda j: j.order_key)
        if listed:
            yield ""
            yield f"{listing.value.upper()} ({len(listed)})"
        for judgement in listed:
            yield from _lines(judgement, rooms[judgement.work_id], zone)
    yield ""
    yield fill(sentences.CAUTION, WIDTH)


def _lines(judgement: Judgement, room: str, zone: str) -> Iterator[str]:
    yield f"  {judgement.work_id}  {judgement.title} ({room}): {judgement.state.value}"
    said = [reason(judgement, zone), condition(judgement, zone), mend(judgement)]
    text = " ".join(part for part in said if part)
    yield fill(text, WIDTH, initial_indent="      ", subsequent_indent="      ")
