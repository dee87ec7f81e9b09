"""What a notice says: what happened, what the prints felt, what to do now that is safe.

First steps only, for people who are no specialists. Nothing here asks anybody to open a frame, to
touch a work or to touch plant; local rules come first, and a conservator decides.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.results import Event, Judgement
from dashboards.text import sentences, wording
from service.notices.causes import Cause, Kind
from service.notices.rules import in_order, passes_half

# Customary cautions of the trade (common practice, no source).
CHECK_FIRST = (
    "Check that it is true: take a reading with a second instrument, and see that nobody has moved "
    "or wetted the logger."
)
DOORS_WET = (
    "Close the doors to the lobby, the loading bay and wet coats, if your fire rules allow it. Ask "
    "first where you are not sure."
)
DOORS_DRY = "Close outer doors and windows, if your fire rules allow it. Do not put out water."
WATER = (
    "If you see water, keep clear of it and of anything electrical near it, and call for help at "
    "once."
)
ENGINEER = (
    "Tell the engineer on call what the readings show. Plant, humidifiers and their controls are "
    "for engineers."
)
LOOK_ONLY = (
    "Look at the works in the order given, from the front and then with a cool light from the "
    "side. Do not touch, tilt, open or move any of them."
)
CONTACT = (
    "If anything seems to touch its glazing, or to lift or stick, leave it as it is and call the "
    "conservator."
)
WRITE_DOWN = "Write down what you see, also that nothing has changed."
LOCAL_RULES = (
    "Your own emergency plan, fire rules and the lender's terms come before this notice. A "
    "conservator decides about works."
)
FIND_LOGGER = (
    "Look whether the logger is in its place and running; do as its own instructions say about "
    "battery and download."
)
SPOT_READING = "Take a reading with a second instrument there now, and write it down with the time."
SILENCE = "Silence is not evidence of safety: until readings come, nobody knows this air."

DO_NOW = {
    Kind.WORKS: (LOOK_ONLY, CONTACT, WRITE_DOWN, LOCAL_RULES),
    Kind.NO_DATA: (FIND_LOGGER, SPOT_READING, SILENCE),
}
RISE = (CHECK_FIRST, WATER, DOORS_WET, ENGINEER, LOOK_ONLY, CONTACT, LOCAL_RULES)
FALL = (CHECK_FIRST, DOORS_DRY, ENGINEER, LOOK_ONLY, CONTACT, LOCAL_RULES)


@dataclass(frozen=True)
class Place:
    """The room as people call it, its zone, the instruments that saw it.

    ``entered`` are the titles of what the calendar holds for that time: an opening, a repair.
    """

    room_name: str
    zone: str
    sensors: tuple[str, ...] = ()
    entered: tuple[str, ...] = ()


def headline(cause: Cause, place: Place) -> str:
    """Return the notice in one line, for a subject or a list."""
    if cause.kind is Kind.NO_DATA:
        silent = wording.listed(place.sensors) or "its loggers"
        return f"{place.room_name}: no readings from {silent}"
    if cause.event is None or cause.kind is Kind.WORKS:
        return f"{place.room_name}: {wording.plural(len(cause.over_half), 'print')} to look at"
    if not cause.sudden:
        side = "above" if cause.rising else "below"
        return f"{place.room_name}: humidity {side} its agreed band by {wording.rh(cause.size)}"
    moved = "rose" if cause.rising else "fell"
    return f"{place.room_name}: humidity {moved} {wording.rh(cause.size)}"


def what(cause: Cause, place: Place) -> str:
    """Return what happened, since when, and whether it goes on."""
    since = wording.date_time(cause.since_utc, place.zone)
    if cause.kind is Kind.WORKS:
        many = wording.plural(len(cause.over_half), "print")
        return (
            f"Found on {since}: waves are more likely than not on {many}, and no rise of the air "
            "explains it."
        )
    if cause.kind is Kind.NO_DATA:
        silent = wording.listed(place.sensors) or "its loggers"
        return f"No readings have come from {silent} since {since}."
    known = f"Entered for that time: {'; '.join(place.entered)}." if place.entered else ""
    said = sentences.event_sentence(cause.event, place.zone) if cause.event is not None else ""
    if cause.event is not None and not cause.sudden:
        said = f"{_outside(cause, cause.event)} since {since}."
    return " ".join(filter(None, (said, _until(cause, place.zone), known)))


def seen_by(cause: Cause, place: Place) -> tuple[str, ...]:
    """Return the sensor by which it is known; for a silence, those that are silent."""
    return place.sensors[:1] if cause.kind is Kind.HUMIDITY else place.sensors


def confirmed_by(cause: Cause, place: Place) -> str:
    """Return the other sensors that show the same change."""
    if cause.kind is not Kind.HUMIDITY or cause.event is None:
        return ""
    others = [cause.event.confirmed_by, *place.sensors[1:]]
    return wording.listed(tuple(dict.fromkeys(filter(None, others))))


def _outside(cause: Cause, event: Event) -> str:
    """Return by how much the air is, or was, outside its band."""
    side = "above" if cause.rising else "below"
    is_or_was = "is" if cause.until_utc is None else "was"
    limit, most = wording.rh(event.from_value), wording.rh(event.peak_value)
    how_far = f"{'up' if cause.rising else 'down'} to {most}"
    return f"Room air {is_or_was} {side} the {limit} of its agreed band, {how_far},"


def _until(cause: Cause, zone: str) -> str:
    if cause.until_utc is None:
        return "It was still so at the last reading."
    back = f"The air was back by {wording.day_time(cause.until_utc, zone)}"
    if cause.over_half:
        many = wording.plural(len(cause.over_half), "print")
        return f"{back}; waves are still more likely than not on {many}."
    return f"{back}."


def felt(judgements: Sequence[Judgement]) -> str:
    """Return what the prints feel by the estimate, as one range over all of them."""
    ranges = [j.print_rh_pct for j in judgements if j.print_rh_pct is not None]
    lows = [r.low for r in ranges if not math.isnan(r.low)]
    highs = [r.high for r in ranges if not math.isnan(r.high)]
    if not lows or not highs:
        return ""
    span = wording.span(min(lows), max(highs), "%RH")
    return f"By the estimate, the prints here are now at {span}."


def lead(judgements: Sequence[Judgement]) -> str:
    """Return the shortest time left among works not yet past one half, or an empty text."""
    waiting = [
        (hours, j)
        for j in judgements
        if j.lead_time is not None
        and not passes_half(j) >= 0.5
        and (hours := _shortest(j)) is not None
    ]
    if not waiting:
        return ""
    _, first = min(waiting, key=lambda pair: pair[0])
    return f"{first.title}: {wording.lead_words(first.lead_time)}"


def _shortest(judgement: Judgement) -> float | None:
    times = judgement.lead_time
    if times is None:
        return None
    known = [h for h in (times.if_room_stays_h, times.if_trend_goes_on_h) if h is not None]
    return min(known, default=None)


def do_now(cause: Cause) -> tuple[str, ...]:
    """Return the safe first steps, in order."""
    if cause.kind is Kind.HUMIDITY:
        return RISE if cause.rising else FALL
    return DO_NOW[cause.kind]


def works_in_order(cause: Cause, judgements: Sequence[Judgement]) -> list[Judgement]:
    """Return the works to look at because of this cause, in order."""
    if cause.kind is Kind.NO_DATA:
        return []
    order = in_order(judgements)
    if cause.kind is Kind.WORKS:
        return [j for j in order if j.work_id in cause.over_half]
    first = [j for j in order if j.work_id in cause.over_half]
    return first + [j for j in order if j.work_id not in cause.over_half]
