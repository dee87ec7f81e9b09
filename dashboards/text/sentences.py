"""Sentences made from results: what an event was, what a week asks of people, in plain words."""

import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Protocol

import numpy as np

from analysis.results import Because, Event, History, Judgement, Listing, RoomWeek, State
from analysis.works import GLAZED
from dashboards.lines import NoticeLine, RoomSummary
from dashboards.text import judgement_text as judged, wording
from dashboards.text.event_words import (
    event_name,
    event_sentence as event_sentence,
    event_size,
    events_named,
    planned_note,
    telling_event,
    told_of,
)
from dashboards.text.messages import N_, Worded, _, counted
from dashboards.text.spare_text import spare_words

LISTINGS = (
    Listing.LOOK_FIRST,
    Listing.WATCH,
    Listing.CANNOT_TELL,
    Listing.LEAVE_BE,
    Listing.NOT_COVERED,
)
LISTING_WORDS = {
    Listing.LOOK_FIRST: N_("look first"),
    Listing.WATCH: "watch",
    Listing.CANNOT_TELL: N_("cannot tell"),
    Listing.LEAVE_BE: N_("can be left"),
    Listing.NOT_COVERED: N_("no estimate covers these"),
}
NOTICE_WORDS = Worded(
    {
        "humidity": N_("humidity"),
        "sustained damp": N_("damp for long"),
        "sustained dry": N_("dry for long"),
        "works": N_("a print has changed"),
        "seen on a round": N_("seen on a round"),
        "no data": N_("no readings"),
        "silent house": N_("no readings at all"),
    }
)
FELT_WITHIN = timedelta(hours=24)
MANY_ROOMS = 12  # more rooms are counted in a sentence, not named
FEW = 5  # so many works are named in a sentence; more are counted
NOTICED_RH_PCT = 1.0  # a change in a frame below this is not worth a sentence
CAUTION = N_(
    "These are estimates. People look; a conservator decides. "
    "No notice does not mean that all is well."
)


class Listed(Protocol):
    """What stands in a list of the round, judged at a time."""

    @property
    def listing(self) -> Listing:
        """Return in which."""

    @property
    def at_utc(self) -> datetime:
        """Return the hour that is judged."""

    @property
    def look_again_utc(self) -> datetime | None:
        """Return when to look again, where that is told."""


def counts_words(counts: Mapping[Listing, int]) -> str:
    """Return how many works stand in which list.

    Examples
    --------
    >>> counts_words({Listing.LOOK_FIRST: 2, Listing.LEAVE_BE: 5, Listing.NOT_COVERED: 1})
    'Look first 2 · can be left 5 · no estimate covers 1'
    """
    words = {**LISTING_WORDS, Listing.NOT_COVERED: N_("no estimate covers")}
    said = [
        f"{_(words[which])} {wording.number(counts[which])}"
        for which in LISTINGS
        if counts.get(which)
    ]
    return wording.capital(" · ".join(said))


def felt_sentence(week: RoomWeek, event: Event) -> str:
    """Return what the glazed frames felt of an event within a day, or an empty text.

    The change is that of each frame's middle estimate, from the event's start to the furthest
    point within 24 hours.
    """
    changes = [
        change
        for history in glazed_histories(week)
        if (change := _felt(history, event)) is not None
    ]
    if not changes:
        return ""
    low, high = min(changes), max(changes)
    if high < NOTICED_RH_PCT:
        return _(
            "The air inside the glazed frames moved by less than {size}.", size=wording.rh(1.0)
        )
    if round(low) < 1:
        return _("The air inside the glazed frames moved by {size} at most.", size=wording.rh(high))
    size = wording.span(low, high, "%RH")
    return _("The air inside the glazed frames moved by {size}.", size=size)


def glazed_histories(week: RoomWeek) -> list[History]:
    """Return the histories of the works behind glazing."""
    return [
        history
        for work_id, history in week.histories.items()
        if work_id in week.works and week.works[work_id].frame in GLAZED
    ]


def _felt(history: History, event: Event) -> float | None:
    times = history.time_utc.astype("datetime64[s]")
    start, end = (
        np.datetime64(int(t.timestamp()), "s")
        for t in (event.start_utc, event.start_utc + FELT_WITHIN)
    )
    felt = history.frame_rh_pct[(times >= start) & (times <= end), 1]
    felt = felt[np.isfinite(felt)]
    return float(np.abs(felt - felt[0]).max()) if felt.size else None


def room_of_many(number: int, many: int, name: str) -> str:
    """Return how far it is, where rooms are worked out one after the other."""
    return _("room {number} of {many}: {name}", number=number, many=many, name=name)


def round_sentence(judgements: Sequence[Listed], zone: str, noun: str = "print") -> str:
    """Return what the four lists ask for, as one sentence.

    Examples
    --------
    >>> round_sentence([], "UTC")
    'No prints hang here.'
    """
    if not judgements:
        return wording.capital(_("{none} hang here.", none=wording.plural(0, noun)))
    lists = {which: [j for j in judgements if j.listing == which] for which in LISTINGS}
    first, watch = len(lists[Listing.LOOK_FIRST]), len(lists[Listing.WATCH])
    unsure, leave = len(lists[Listing.CANNOT_TELL]), len(lists[Listing.LEAVE_BE])
    parts = [_opening_part(first, unsure, bool(watch or leave), noun)]
    if watch:
        named = first or unsure
        many = wording.count(watch) if named else wording.plural(watch, noun)
        parts.append(_("watch {many}", many=many))
    parts += _rest(lists[Listing.LEAVE_BE], bool(first or watch or unsure), zone, noun)
    if unsure and first:
        parts.append(_("for {many} we cannot tell", many=wording.count(unsure)))
    if beside := len(lists[Listing.NOT_COVERED]):
        parts.append(_("no estimate covers {many}", many=wording.count(beside)))
    return wording.capital("; ".join(parts)) + "."


def _opening_part(first: int, unsure: int, others: bool, noun: str) -> str:
    """Return where to go first; what cannot be told is never told as nothing to do."""
    if first:
        return _("look first at {plural}", plural=wording.plural(first, noun))
    if not unsure:
        return _("no {noun} needs looking at first", noun=_(noun))
    many = wording.plural(unsure, noun)
    if not others:
        return _("for {many} we cannot tell", many=many)
    return _("for {many} we cannot tell; of the others none needs looking at first", many=many)


def _rest(leave: Sequence[Listed], others: bool, zone: str, noun: str) -> list[str]:
    if not leave:
        return []
    dates = [j.look_again_utc for j in leave if j.look_again_utc is not None]
    day = wording.soon(min(dates), zone, leave[0].at_utc) if dates else ""
    until = _(" until {day}", day=day) if dates else ""
    many = len(leave)
    who = (
        _("the other {number}", number=wording.count(many))
        if others and many > 1
        else _all(many, others, noun)
    )
    return [
        _("{who} can be left be{until}", who=who, until=until)
        if not until
        else _("{who} can be left{until}", who=who, until=until)
    ]


def _all(many: int, others: bool, noun: str) -> str:
    if many == 1:
        return _("the other") if others else _("the one {noun}", noun=_(noun))
    if many == 2:
        return _("both {plural}", plural=counted(noun, f"{noun}s", many))
    return _("all {plural}", plural=wording.plural(many, noun))


def week_sentence(week: RoomWeek) -> str:
    """Return a week in plain words: the largest event, what frames felt, what to look at."""
    if week.sentence:
        return week.sentence
    parts = []
    if largest := max(week.events, key=event_size, default=None):
        parts.append(event_sentence(largest, week.zone, week.planned))
        if event_size(largest) > 0:
            parts.append(felt_sentence(week, largest))
    else:
        parts.append(quiet_sentence(week))
    parts += unnamed_plans(week, largest)
    parts.append(round_sentence(week.judgements, week.zone))
    return " ".join(part for part in parts if part)


def unnamed_plans(week: RoomWeek, named: Event | None) -> list[str]:
    """Return a note for each entry of the calendar that an event's sentence does not name."""
    told = None if named is None else told_of(named, week.planned)
    return [planned_note(one, week.zone) for one in week.planned if one is not told]


def quiet_sentence(week: RoomWeek) -> str:
    """Return the range of a week without events, from its measured humidity."""
    values = week.readings["rh_pct"].dropna()
    if values.empty:
        return _("Nothing was measured this week.")
    low, high = float(values.quantile(0.05)), float(values.quantile(0.95))
    return _("Room air kept at {low} nearly all week.", low=wording.span(low, high, "%RH"))


def week_finding(week: RoomWeek) -> str:
    """Return the finding of a week in a few words: what happened, and what it did to the works."""
    largest = telling_event(week)
    reached = reached_works(week.judgements)
    if largest is None or event_size(largest) <= 0.0:
        quiet = quiet_sentence(week).rstrip(".")
        if not reached:
            return quiet
        prints = wording.plural(len(reached), "print")
        return _("{air}; {prints} to look at", air=quiet, prints=prints)
    event = wording.capital(event_name(largest, week.zone))
    if reached:
        return _(
            "{event} reached {prints}",
            event=event,
            prints=wording.plural(len(reached), "print"),
        )
    if any(not math.isnan(j.p_visible_week) for j in week.judgements):
        return _("{event} slackened no print", event=event)
    return event


def reached_works(judgements: Sequence[Judgement]) -> list[Judgement]:
    """Return the works on which waves show, or showed within the week, more likely than not."""
    return [j for j in judgements if j.p_visible_week > 0.5]


def week_answer(judgements: Sequence[Judgement], zone: str, rooms: Sequence[RoomSummary]) -> str:
    """Return the answer for the whole house: what happened, what to look at, and in which rooms."""
    needing = [room for room in rooms if room.counts.get(Listing.LOOK_FIRST, 0)]
    parts = [_causes_sentence(judgements, needing, zone), round_sentence(judgements, zone)]
    if needing:
        parts.append(_("They hang in {rooms}.", rooms=_rooms_named(needing)))
    watch = [j.title for j in judgements if j.listing is Listing.WATCH]
    if 0 < len(watch) <= FEW:
        titles = wording.listed([_("“{title}”", title=title) for title in watch])
        parts.append(_("To watch: {works}.", works=titles))
    return " ".join(part for part in parts if part)


def _rooms_named(rooms: Sequence[RoomSummary]) -> str:
    """Return rooms by name where they are few, else how many."""
    if len(rooms) > MANY_ROOMS:
        return wording.plural(len(rooms), "room")
    return wording.listed([room.room_name for room in rooms])


def _causes_sentence(
    judgements: Sequence[Judgement], needing: Sequence[RoomSummary], zone: str
) -> str:
    """Return what reached how many prints in how many rooms.

    It is "" where nothing did, or where not every room's events are known.
    """
    if any(room.in_short for room in needing):
        return ""
    reached = reached_works(judgements)
    events = [r.event for r in needing if r.event is not None and event_size(r.event) > 0.0]
    if not reached or not events:
        return ""
    return _(
        "{events} reached {prints} in {rooms}.",
        events=wording.capital(events_named(events, zone)),
        prints=wording.plural(len(reached), "print"),
        rooms=wording.plural(len(needing), "room"),
    )


def notices_answer(notices: Iterable[NoticeLine]) -> str:
    """Return how many notices are open and how many of them nobody has seen.

    Examples
    --------
    >>> notices_answer([])
    'No notice is open. That does not mean that all is well.'
    """
    waiting = list(notices)
    if not waiting:
        return _("No notice is open. That does not mean that all is well.")
    unseen = sum(n.unseen for n in waiting)
    many = wording.capital(wording.plural(len(waiting), "notice"))
    some = _("nobody has seen {unseen_words} of them", unseen_words=wording.count(unseen))
    none = _("nobody has seen any of them")
    seen = (none if unseen == len(waiting) else some) if unseen else _("all have been seen")
    if len(waiting) == 1:
        seen = _("nobody has seen it yet") if unseen else _("it has been seen")
    if len(waiting) == 1:
        return _("{many} is open; {seen}.", many=many, seen=seen)
    return _("{many} are open; {seen}.", many=many, seen=seen)


def work_answer(judgement: Judgement, zone: str) -> str:
    """Return whether a work is still taut, how sure that is, and its reason."""
    said = judged.reason(judgement, zone)
    if judgement.listing is Listing.CANNOT_TELL:
        return _("We cannot tell. {why}", why=without_lead(said))
    if judgement.state is State.NOT_HELD_BY_TENSION:
        return _("It is not held by tension. {why}", why=said)
    if judgement.state is State.CANNOT_TELL:  # sent to the first list by what was seen of it
        return said
    waves = _("Waves {show}.", show=judged.show_words(judgement.p_visible_now))
    if judgement.asks is not None and judgement.asks.released:
        return f"{said} {waves}"
    if judgement.asks is not None:
        return f"{_opening(judgement)} {waves} {said}"
    return f"{_opening(judgement)} {said}"


def without_lead(said: str) -> str:
    """Return a reason without the words that stand before it already."""
    lead = _("Cannot tell: {why}", why="")
    return wording.capital(said.removeprefix(lead))


def _opening(judgement: Judgement) -> str:
    worst = max(judgement.p_visible_now, judgement.p_visible_week)
    if judgement.state is State.TAUT:
        return _("Yes, as far as can be estimated.")
    if judgement.state is State.EASING:
        return _("Still, but its tension is easing.")
    if judgement.state is State.NEAR_GLAZING:
        return _(
            "The chance that it comes near its glazing is {chance}.",
            chance=wording.percent(judgement.p_clearance),
        )
    if judgement.state is State.HINGES:
        return _(
            "The chance that its hinges are giving way is {chance}.",
            chance=wording.percent(judgement.p_hinges),
        )
    if worst > wording.PROBABLY:
        return _("Probably not ({chance}).", chance=wording.percent(worst))
    if worst >= wording.MAY:
        return _("Not surely: it may have waves ({chance}).", chance=wording.percent(worst))
    return _("Not surely: it may be slack without waves that show.")


def short_reason(judgement: Judgement, zone: str) -> str:
    """Return in a few words why a work is to be looked at; its page says the rest."""
    if judgement.asks is not None:
        first = judged.seen_sentence(judgement.asks, zone).split(".")[0]
        return wording.uncapital(first)
    if Because.TOO_DAMP_TO_TELL in judgement.because:
        return _("too damp for any estimate: look for mould and sticking")
    now, week = judgement.p_visible_now, judgement.p_visible_week
    if judgement.state is State.NEAR_GLAZING:
        near = wording.percent(judgement.p_clearance)
        return _("{chance} chance of coming near its glazing", chance=near)
    if judgement.state is State.HINGES:
        hinges = wording.percent(judgement.p_hinges)
        return _("{chance} chance that its hinges are giving way", chance=hinges)
    if now < week and now < wording.PROBABLY and wording.likely(now) != wording.likely(week):
        return judged.showed_words(judgement, zone)
    lead = judgement.lead_time
    if judgement.listing is Listing.WATCH and lead is not None and now < wording.MAY:
        if lead.if_room_stays_h:
            time = wording.duration(lead.if_room_stays_h)
            return _("waves may show in about {time}", time=time)
        if lead.if_trend_goes_on_h:
            time = wording.duration(lead.if_trend_goes_on_h)
            return _("if its trend goes on, waves may show in about {time}", time=time)
        return judged.showed_words(judgement, zone)
    return _("waves {show}", show=judged.show_words(now))


def ended(text: str) -> str:
    """Return text with a capital and a full stop, where it has none of its own.

    Examples
    --------
    >>> ended("waves may show"), ended("Leave it be."), ended("")
    ('Waves may show.', 'Leave it be.', '')
    """
    ends = not text or text.endswith((".", "!", "?", "…"))
    return wording.capital(text) if ends else f"{wording.capital(text)}."


def leave_or_mend(judgement: Judgement, zone: str) -> str:
    """Return in one line until when a work can be left, or why nothing can be told."""
    if judgement.listing in (Listing.CANNOT_TELL, Listing.NOT_COVERED):
        return without_lead(judged.reason(judgement, zone))
    if judgement.look_again_utc is None:
        return _("Leave it be.")
    until = wording.soon(judgement.look_again_utc, zone, judgement.at_utc)
    now = judgement.now
    if now is None:
        return _("Leave it until {day}.", day=until)
    return _(
        "Leave it until {day}: the print is at {rh}; {spare}.",
        day=until,
        rh=wording.rh(now.print_rh_pct.mid),
        spare=spare_words(now.headroom_up_pct, now.print_rh_pct),
    )


def figures_lines(judgement: Judgement, zone: str) -> list[str]:
    """Return what stands under a work's reason: until when it can be left, or the time left."""
    lines = []
    told = bool(judged.condition(judgement, zone))
    if judgement.listing is Listing.LEAVE_BE and judgement.look_again_utc is not None and not told:
        until = wording.soon(judgement.look_again_utc, zone, judgement.at_utc)
        lines.append(_("Look again by {day}.", day=until))
    lead = judgement.lead_time
    begun = lead is not None and lead.if_room_stays_h is not None and lead.if_room_stays_h <= 0
    if judgement.listing is not Listing.LEAVE_BE and lead is not None and not begun:
        lines.append(wording.lead_words(lead))
    return lines
