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
from dashboards.text.judgement_text import CAUSES_IN_SHORT
from dashboards.text.messages import N_, _
from service.notices.causes import AIR, SUSTAINED, Cause, Kind
from service.notices.rules import in_order, passes_half

# Customary cautions of the trade (common practice, no source).
CHECK_FIRST = N_(
    "Check that it is true: take a reading with a second instrument, and see that nobody has moved "
    "or wetted the logger."
)
DOORS_WET = N_(
    "Close the doors to the lobby, the loading bay and wet coats, if your fire rules allow it. Ask "
    "first where you are not sure."
)
DOORS_DRY = N_("Close outer doors and windows, if your fire rules allow it. Do not put out water.")
WATER = N_(
    "If you see water, keep clear of it and of anything electrical near it, and call for help at "
    "once."
)
ENGINEER = N_(
    "Tell the engineer on call what the readings show. Plant, humidifiers and their controls are "
    "for engineers."
)
LOOK_ONLY = N_(
    "Look at the works in the order given, from the front and then with a cool light from the "
    "side. Do not touch, tilt, open or move any of them."
)
CONTACT = N_(
    "If anything seems to touch its glazing, or to lift or stick, leave it as it is and call the "
    "conservator."
)
WRITE_DOWN = N_("Write down what you see, also that nothing has changed.")
LOCAL_RULES = N_(
    "Your own emergency plan, fire rules and the lender's terms come before this notice. A "
    "conservator decides about works."
)
FIND_LOGGER = N_(
    "Look whether the logger is in its place and running; do as its own instructions say about "
    "battery and download."
)
SPOT_READING = N_(
    "Take a reading with a second instrument there now, and write it down with the time."
)
SILENCE = N_("Silence is not evidence of safety: until readings come, nobody knows this air.")

MOULD = N_(
    "At this humidity mould can begin to grow and a gelatin layer softens. Look for spots without "
    "touching, brushing or sniffing; with asthma or an allergy keep away. Where mould is seen, a "
    "fitted respirator and gloves; bag nothing while it is damp."
)
CALL_CONSERVATOR = N_(
    "Call the conservator. Leave the work as it hangs; do not press, tilt, tape or open anything."
)
KEEP_CLEAR = N_("Keep visitors and cleaning away from it until somebody has looked.")
BRING_READINGS = N_(
    "Bring the loggers' readings in, or see why those that send by themselves do not."
)

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
    return _("{room}: {what}", room=place.room_name, what=_in_short(cause, place))


def _in_short(cause: Cause, place: Place) -> str:
    if cause.kind is Kind.SEEN:
        return cause.words.partition(" (")[0].partition(_(", seen by"))[0]
    if cause.kind is Kind.HOUSE:
        return _("no readings since {day}", day=_day(cause.since_utc, place))
    if cause.kind is Kind.NO_DATA:
        return _("no readings from {loggers}", loggers=_silent(place))
    if cause.event is None or cause.kind is Kind.WORKS:
        return _("{prints} to look at", prints=_prints(cause))
    air = _air_headline(cause, cause.event)
    if not cause.past:
        return air
    return _("{air} on {day}", air=air, day=_day(cause.since_utc, place))


def _air_headline(cause: Cause, event: Event) -> str:
    facts = {"peak": wording.rh(event.peak_value), "size": wording.rh(cause.size)}
    if cause.kind is Kind.DAMP:
        return _("damp for long, up to {peak}", **facts)
    if cause.kind is Kind.DRY:
        return _("dry for long, down to {peak}", **facts)
    if not cause.sudden:
        if cause.rising:
            return _("humidity above its agreed band by {size}", **facts)
        return _("humidity below its agreed band by {size}", **facts)
    return (
        _("humidity rose {size}", **facts) if cause.rising else _("humidity fell {size}", **facts)
    )


def _prints(cause: Cause) -> str:
    return wording.plural(len(cause.over_half), "print")


def _silent(place: Place) -> str:
    return wording.listed(place.sensors) or _("its loggers")


def _day(time: datetime, place: Place) -> str:
    return wording.day_only(time, place.zone)


def what_happened(cause: Cause, place: Place, works: Sequence[Judgement] = ()) -> str:
    """Return what happened and since when, without whether it goes on.

    ``works`` are those that a notice of works tells of, for what set it off.
    """
    since = wording.date_time(cause.since_utc, place.zone)
    if cause.kind is Kind.SEEN:
        return _("{what}, on {since}.", what=cause.words, since=since)
    if cause.kind is Kind.WORKS:
        return " ".join((_waves(cause, place, since), _set_off(cause, place, works)))
    if cause.kind in (Kind.NO_DATA, Kind.HOUSE):
        return _(
            "No readings have come from {loggers} since {since}.",
            loggers=_silent(place),
            since=since,
        )
    known = (
        _("Entered for that time: {events}.", events="; ".join(place.entered))
        if place.entered
        else ""
    )
    return " ".join(filter(None, (_air_words(cause, place, since), _also(cause, place), known)))


def _waves(cause: Cause, place: Place, since: str) -> str:
    prints = _prints(cause)
    return _(
        "Found on {since}: waves are more likely than not on {prints}.", since=since, prints=prints
    )


def _set_off(cause: Cause, place: Place, works: Sequence[Judgement]) -> str:
    """Return what set a notice of works off, as far as it is understood."""
    if cause.after_utc is not None:
        return _(
            "They have not come back from the rise of humidity that began on {day}.",
            day=_day(cause.after_utc, place),
        )
    reasons = dict.fromkeys(j.cause for j in works if j.cause is not None)
    if reasons:
        said = "; ".join(_(CAUSES_IN_SHORT[one]) for one in reasons)
        return _("By the estimate: {reasons}.", reasons=said)
    return _("What set it off is not understood yet.")


def _air_words(cause: Cause, place: Place, since: str) -> str:
    event = cause.event
    if event is None:
        return ""
    if cause.kind in SUSTAINED or not cause.sudden:
        band = cause.kind not in SUSTAINED
        sentence = OUTSIDE[band, cause.rising, cause.until_utc is None]
        return _(
            sentence,
            limit=wording.rh(event.from_value),
            peak=wording.rh(event.peak_value),
            since=since,
        )
    return sentences.event_sentence(event, place.zone)


# Outside an agreed band (else: damp or dry for long), above it, and still so.
OUTSIDE = {
    (False, True, True): N_("Room air has been above {limit}, up to {peak}, since {since}."),
    (False, True, False): N_("Room air was above {limit}, up to {peak}, since {since}."),
    (False, False, True): N_("Room air has been below {limit}, down to {peak}, since {since}."),
    (False, False, False): N_("Room air was below {limit}, down to {peak}, since {since}."),
    (True, True, True): N_(
        "Room air is above the {limit} of its agreed band, up to {peak}, since {since}."
    ),
    (True, True, False): N_(
        "Room air was above the {limit} of its agreed band, up to {peak}, since {since}."
    ),
    (True, False, True): N_(
        "Room air is below the {limit} of its agreed band, down to {peak}, since {since}."
    ),
    (True, False, False): N_(
        "Room air was below the {limit} of its agreed band, down to {peak}, since {since}."
    ),
}


def _also(cause: Cause, place: Place) -> str:
    """Return what else a late file told of, for a past notice."""
    if not cause.past or cause.span is None or not cause.also:
        return ""
    first, last = (_day(one, place) for one in cause.span)
    return _(
        "The readings came in late; between {first} and {last} they tell of {more}.",
        first=first,
        last=last,
        more=wording.plural(cause.also, "other rise or fall", "other rises and falls"),
    )


def until(cause: Cause, place: Place) -> str:
    """Return whether the air, or what was found of works, is back, and since when."""
    if cause.kind is Kind.WORKS and not cause.over_half:
        return _("Waves are no longer more likely than not.")
    if cause.kind not in AIR:
        return ""
    if cause.withdrawn:
        return _(
            "This is taken back: the readings that told of it have been taken back or corrected, "
            "and those that remain do not show it."
        )
    if cause.until_utc is None:
        return _("It was still so at the last reading.")
    back = wording.day_time(cause.until_utc, place.zone)
    if cause.past:
        when = wording.date_time(cause.until_utc, place.zone)
        return _("It is past: the air was back by {when}, before the readings came in.", when=when)
    if cause.settled:
        return _(
            "The air did not come back; it has settled within its limits since {back}.", back=back
        )
    if cause.over_half:
        return _(
            "The air was back by {back}; waves are still more likely than not on {prints}.",
            back=back,
            prints=_prints(cause),
        )
    return _("The air was back by {back}.", back=back)


def seen_by(cause: Cause, place: Place) -> tuple[str, ...]:
    """Return the sensor by which it is known; for a silence, those that are silent."""
    return place.sensors[:1] if cause.kind in AIR else place.sensors


def confirmed_by(cause: Cause, place: Place) -> str:
    """Return the other sensors that show the same change."""
    if cause.kind not in AIR or cause.event is None:
        return ""
    others = [cause.event.confirmed_by, *place.sensors[1:]]
    return wording.listed(tuple(dict.fromkeys(filter(None, others))))


def felt(judgements: Sequence[Judgement]) -> str:
    """Return what the prints feel by the estimate, as one range over all of them."""
    ranges = [j.print_rh_pct for j in judgements if j.print_rh_pct is not None]
    lows = [r.low for r in ranges if not math.isnan(r.low)]
    highs = [r.high for r in ranges if not math.isnan(r.high)]
    if not lows or not highs:
        return ""
    span = wording.span(min(lows), max(highs), "%RH")
    return _("By the estimate, the prints here are now at {span}.", span=span)


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
    first = min(waiting, key=lambda pair: pair[0])[1]
    left = wording.uncapital(wording.lead_words(first.lead_time))
    return _("{title}: {lead}", title=first.title, lead=left)


def _shortest(judgement: Judgement) -> float | None:
    times = judgement.lead_time
    if times is None:
        return None
    known = [h for h in (times.if_room_stays_h, times.if_trend_goes_on_h) if h is not None]
    return min(known, default=None)


def do_now(cause: Cause, mould_h: float = 0.0) -> tuple[str, ...]:
    """Return the safe first steps, in order; after ``mould_h`` of damp with what damp does."""
    return tuple(_(step) for step in _steps(cause, mould_h))


def _steps(cause: Cause, mould_h: float) -> tuple[str, ...]:
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
