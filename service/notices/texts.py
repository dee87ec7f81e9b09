"""What a notice says: what happened, what the prints felt, what to do now that is safe.

First steps only, for people who are no specialists. Nothing here asks anybody to open a frame, to
touch a work or to touch plant; local rules come first, and a conservator decides.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from analysis.results import Event, Judgement
from dashboards.text import sentences, wording
from service.notices.causes import AIR, SUSTAINED, Cause, Kind
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

MOULD = (
    "At this humidity mould can begin to grow and a gelatin layer softens. Look for spots and a "
    "musty smell without touching or brushing anything; keep people who are sensitive to mould out."
)
CALL_CONSERVATOR = (
    "Call the conservator. Leave the work as it hangs; do not press, tilt, tape or open anything."
)
KEEP_CLEAR = "Keep visitors and cleaning away from it until somebody has looked."
BRING_READINGS = "Bring the loggers' readings in, or see why those that send by themselves do not."

DO_NOW = {
    Kind.WORKS: (LOOK_ONLY, CONTACT, WRITE_DOWN, LOCAL_RULES),
    Kind.SEEN: (CALL_CONSERVATOR, KEEP_CLEAR, WRITE_DOWN, LOCAL_RULES),
    Kind.NO_DATA: (FIND_LOGGER, SPOT_READING, SILENCE),
    Kind.HOUSE: (BRING_READINGS, FIND_LOGGER, SPOT_READING, SILENCE),
}
PAST = (LOOK_ONLY, CONTACT, WRITE_DOWN, LOCAL_RULES)
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
    if cause.kind is Kind.SEEN:
        return f"{place.room_name}: {cause.words.partition(' (')[0].partition(', seen by')[0]}"
    if cause.kind is Kind.HOUSE:
        return f"{place.room_name}: no readings since {_day(cause.since_utc, place)}"
    if cause.kind is Kind.NO_DATA:
        silent = wording.listed(place.sensors) or "its loggers"
        return f"{place.room_name}: no readings from {silent}"
    if cause.event is None or cause.kind is Kind.WORKS:
        return f"{place.room_name}: {wording.plural(len(cause.over_half), 'print')} to look at"
    past = f" on {_day(cause.since_utc, place)}" if cause.past else ""
    return f"{place.room_name}: {_air_headline(cause)}{past}"


def _air_headline(cause: Cause) -> str:
    event = cause.event
    if event is None:
        raise ValueError("a headline of air without an event")
    if cause.kind is Kind.DAMP:
        return f"damp for long, up to {wording.rh(event.peak_value)}"
    if cause.kind is Kind.DRY:
        return f"dry for long, down to {wording.rh(event.peak_value)}"
    if not cause.sudden:
        side = "above" if cause.rising else "below"
        return f"humidity {side} its agreed band by {wording.rh(cause.size)}"
    return f"humidity {'rose' if cause.rising else 'fell'} {wording.rh(cause.size)}"


def _day(time: datetime, place: Place) -> str:
    return wording.day_only(time, place.zone)


def what_happened(cause: Cause, place: Place) -> str:
    """Return what happened and since when, without whether it goes on."""
    since = wording.date_time(cause.since_utc, place.zone)
    if cause.kind is Kind.SEEN:
        return f"{cause.words}, on {since}."
    if cause.kind is Kind.WORKS:
        many = wording.plural(len(cause.over_half), "print")
        found = f"Found on {since}: waves are more likely than not on {many}."
        if cause.after_utc is None:
            return f"{found} What set it off is not understood yet."
        rise = wording.date_time(cause.after_utc, place.zone)
        return f"{found} The air rose on {rise}, and is back; the estimate says these are not."
    if cause.kind in (Kind.NO_DATA, Kind.HOUSE):
        silent = wording.listed(place.sensors) or "its loggers"
        return f"No readings have come from {silent} since {since}."
    known = f"Entered for that time: {'; '.join(place.entered)}." if place.entered else ""
    return " ".join(filter(None, (_air_words(cause, place, since), _also(cause, place), known)))


def _air_words(cause: Cause, place: Place, since: str) -> str:
    event = cause.event
    if event is None:
        return ""
    if cause.kind in SUSTAINED:
        side = "above" if cause.rising else "below"
        most = f"{'up' if cause.rising else 'down'} to {wording.rh(event.peak_value)}"
        goes_on = cause.until_utc is None
        been = "has been" if goes_on else "was"
        return f"Room air {been} {side} {wording.rh(event.from_value)}, {most}, since {since}."
    if not cause.sudden:
        return f"{_outside(cause, event)} since {since}."
    return sentences.event_sentence(event, place.zone)


def _also(cause: Cause, place: Place) -> str:
    """Return what else a late file told of, for a past notice."""
    if not cause.past or cause.span is None or not cause.also:
        return ""
    first, last = (_day(one, place) for one in cause.span)
    more = wording.plural(cause.also, "other rise or fall", "other rises and falls")
    return f"The readings came in late; between {first} and {last} they tell of {more}."


def until(cause: Cause, place: Place) -> str:
    """Return whether the air, or what was found of works, is back, and since when."""
    if cause.kind is Kind.WORKS and not cause.over_half:
        return "Waves are no longer more likely than not."
    if cause.kind not in AIR:
        return ""
    if cause.until_utc is None:
        return "It was still so at the last reading."
    back = wording.day_time(cause.until_utc, place.zone)
    if cause.past:
        when = wording.date_time(cause.until_utc, place.zone)
        return f"It is past: the air was back by {when}, before the readings came in."
    if cause.settled:
        return f"The air did not come back; it has settled within its limits since {back}."
    if cause.over_half:
        many = wording.plural(len(cause.over_half), "print")
        return f"The air was back by {back}; waves are still more likely than not on {many}."
    return f"The air was back by {back}."


def seen_by(cause: Cause, place: Place) -> tuple[str, ...]:
    """Return the sensor by which it is known; for a silence, those that are silent."""
    return place.sensors[:1] if cause.kind in AIR else place.sensors


def confirmed_by(cause: Cause, place: Place) -> str:
    """Return the other sensors that show the same change."""
    if cause.kind not in AIR or cause.event is None:
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
    return f"{first.title}: {wording.uncapital(wording.lead_words(first.lead_time))}"


def _shortest(judgement: Judgement) -> float | None:
    times = judgement.lead_time
    if times is None:
        return None
    known = [h for h in (times.if_room_stays_h, times.if_trend_goes_on_h) if h is not None]
    return min(known, default=None)


def do_now(cause: Cause, mould_h: float = 0.0) -> tuple[str, ...]:
    """Return the safe first steps, in order; after ``mould_h`` of damp with what damp does."""
    if cause.past:
        return PAST
    if cause.kind in AIR:
        steps = RISE if cause.rising or cause.kind is Kind.DAMP else FALL
        return (*steps, MOULD) if mould_h > 0.0 else steps
    return DO_NOW[cause.kind]


def works_in_order(cause: Cause, judgements: Sequence[Judgement]) -> list[Judgement]:
    """Return the works to look at because of this cause, in order."""
    if cause.kind in (Kind.NO_DATA, Kind.HOUSE):
        return []
    if cause.kind is Kind.SEEN:
        return [j for j in judgements if cause.shape.endswith(f" {j.work_id}")]
    order = in_order(judgements)
    if cause.kind is Kind.WORKS:
        return [j for j in order if j.work_id in cause.over_half]
    first = [j for j in order if j.work_id in cause.over_half]
    return first + [j for j in order if j.work_id not in cause.over_half]
