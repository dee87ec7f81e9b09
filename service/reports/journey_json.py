"""A work's journeys as values that can stand in JSON: what the page and the sheet say of them."""

from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from analysis.records.work_records import Hanging
from dashboards.text.reports import journey_text as text
from dashboards.text.reports.journey_text import StayWords
from service.answers.museum import Museum
from service.reports.journey import Journey, answer_of, journey_sentences, journeys

TIMES = ("left_utc", "arrived_utc", "opened_utc")


def journeys_json(museum: Museum, work_id: str) -> list[dict[str, Any]]:
    """Return a work's journeys, newest first, as values that can stand in JSON."""
    return [_journey(museum, one) for one in journeys(museum, work_id)]


def journey_lines(museum: Museum, work_id: str) -> Iterator[str]:
    """Yield what is said of a work's journeys, as lines for a terminal."""
    found = journeys(museum, work_id)
    yield text.journeys_words(len(found))
    for one in found:
        table = text.stays_table(one.said, museum.zone)
        yield ""
        yield answer_of(one)
        for row in table.rows:
            yield f"  {row[0]}"
            for heading, value in zip(table.headings[1:], row[1:], strict=True):
                yield f"    {heading}: {value}"
        yield from journey_sentences(museum, one)


def _journey(museum: Museum, one: Journey) -> dict[str, Any]:
    stays = zip(one.stays, one.said, strict=True)
    return {
        "work_id": one.work.work_id,
        "title": one.work.title,
        "since_utc": one.since_utc.isoformat(),
        "until_utc": one.until_utc.isoformat(),
        "over": one.over,
        "listing": one.judgement.listing.value,
        "answer": answer_of(one),
        "stays": [_stay(stay, said) for stay, said in stays],
        "table": asdict(text.stays_table(one.said, museum.zone)),
        "sentences": journey_sentences(museum, one),
    }


def _stay(stay: Hanging, said: StayWords) -> dict[str, Any]:
    times = {name: getattr(stay, name) for name in TIMES}
    return {
        "room": stay.room,
        "name": said.name,
        "kind": said.kind,
        "from_utc": said.from_utc.isoformat(),
        "to_utc": None if said.to_utc is None else said.to_utc.isoformat(),
        **{name: None if at is None else at.isoformat() for name, at in times.items()},
        "measured_pct": said.measured_pct,
        "air_rh_pct": [_known(value) for value in said.air_rh_pct],
        "print_rh_pct": [_known(value) for value in said.print_rh_pct],
        "waves_h": said.waves_h,
        "highest_chance": _known(said.highest),
        "untold_h": said.untold_h,
        "gaps_utc": [[first.isoformat(), last.isoformat()] for first, last in said.gaps],
    }


def _known(value: float) -> float | None:
    return value if value == value else None
