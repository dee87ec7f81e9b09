"""A judgement in sentences: where to go, how it is now, what happened and when, what would mend it.

The list says where to go, the mark how it is now, the sentence what happened and when.
"""

import math
from datetime import timedelta

from analysis.chain.headroom import MOST_PCT
from analysis.results import (
    AirNow,
    Because,
    Change,
    ChangeAt,
    Judgement,
    LastLook,
    Listing,
    Range,
    SlackCause,
    State,
    WorkNow,
)
from analysis.works import FRAME_WORDS, GLAZED, Mount, Work
from dashboards.text import wording
from dashboards.text.messages import N_, Worded, _
from dashboards.text.parameters import STATED_WORDS
from dashboards.text.refusal_text import refusal_sentence, refusal_words, too_damp_sentence
from dashboards.text.spare_text import softens_first, spare_words

NOT_HELD = {
    Mount.BONDED: N_("It is bonded overall and not held by tension: not at risk of cockling."),
    Mount.CORNER_HUNG: (
        N_(
            "It hangs by its corners or top edge and is not held by tension: it may sag or curl, "
            "which "
            "no estimate here covers."
        )
    ),
    Mount.WINDOW: (
        N_(
            "It lies in a window mount and is not held by tension: it may undulate freely, which "
            "no "
            "estimate here covers."
        )
    ),
}


CAUSES = {
    SlackCause.TOO_DAMP: N_("It is too damp."),
    SlackCause.PANEL: N_("The panel shrank more than the print."),
    SlackCause.RELAXED: N_("Tension has relaxed."),
    SlackCause.HINGES: N_("Hinges have slipped."),
    SlackCause.MOUNTED_SLACK: N_("It was mounted too slack."),
}
CAUSES_IN_SHORT = {
    SlackCause.TOO_DAMP: N_("too damp"),
    SlackCause.PANEL: N_("the panel shrank more than the print"),
    SlackCause.RELAXED: N_("tension has relaxed"),
    SlackCause.HINGES: N_("hinges have slipped"),
    SlackCause.MOUNTED_SLACK: N_("mounted too slack"),
}
# Where slack is less likely than not, a cause is no fact but a first guess.
IF_SLACK = {
    SlackCause.TOO_DAMP: N_("If it is slack, then most likely by damp."),
    SlackCause.PANEL: N_(
        "If it is slack, then most likely because its panel shrank more than it did."
    ),
    SlackCause.RELAXED: N_("If it is slack, then most likely because tension has relaxed."),
    SlackCause.HINGES: N_("If it is slack, then most likely because hinges slipped."),
    SlackCause.MOUNTED_SLACK: N_("If it is slack, then most likely because it was mounted so."),
}


STEP_WORDS = Worded(
    {
        "room": N_("room"),
        "frame": N_("frame"),
        "print": N_("print"),
        "tension": N_("tension"),
        "surface": N_("surface"),
    }
)
LEAVE_IT = N_("Do not press it back; leave it hanging as it is and call a conservator.")


# Within it a day is called by its name.
LATELY = timedelta(days=7)


# Ends of a chance so far apart are said.
WIDE = 0.3


# Humidity from which mould is looked for, whatever the mount (table of trade levels, 75 %RH).
MOULD_PCT = 75.0


def reason(judgement: Judgement, zone: str) -> str:
    """Return in one or a few sentences why a work stands where it stands."""
    said = [] if judgement.asks is None else [seen_sentence(judgement.asks, zone)]
    if judgement.state is State.NOT_HELD_BY_TENSION:
        said += not_held_sentences(judgement.work, judgement.air)
    elif judgement.refusal:
        said += [refusal_sentence(judgement), too_damp_sentence(judgement, zone)]
    elif judgement.asks is None and judgement.now is not None:
        said += [
            too_damp_sentence(judgement, zone),
            carried_sentence(judgement, zone),
            wide_sentence(judgement),
            _chain_sentence(judgement, judgement.now),
            *happened(judgement, zone),
        ]
    return " ".join(filter(None, said))


def carried_sentence(judgement: Judgement, zone: str) -> str:
    """Return what an answer after the last reading rests on, or "" while readings reach to it."""
    until = judgement.known_until_utc
    if until is None or not judgement.carried_on:
        return ""
    return _(
        "From readings to {when}, and what its room did before at this season:",
        when=wording.date_time(until, zone),
    )


def wide_sentence(judgement: Judgement) -> str:
    """Return the ends of a chance that nobody's knowledge narrows, or ""."""
    since = judgement.since
    if since is None or not since.p_high - since.p_low >= WIDE:
        return ""
    return _(
        "The answer is wide: between {low} and {high} that waves showed, by what nobody knows.",
        low=wording.percent(since.p_low),
        high=wording.percent(since.p_high),
    )


def seen_sentence(seen: LastLook, zone: str) -> str:
    """Return what a last look found that asks for another.

    Examples
    --------
    >>> from datetime import UTC, datetime
    >>> seen_sentence(LastLook(datetime(2026, 3, 2, tzinfo=UTC), 2), "UTC")
    'It was graded 2 on 2 March 2026 and has not been seen since.'
    """
    on = wording.day_only(seen.at_utc, zone)
    if seen.released:
        found = _(
            "A hinge was found loose on {day}, and nobody has found all to hold since.", day=on
        )
        return f"{found} {_(LEAVE_IT)}"
    return _(
        "It was graded {grade} on {day} and has not been seen since.", grade=seen.grade, day=on
    )


def not_held_sentences(work: Work, air: AirNow | None = None) -> list[str]:
    """Return what holds a work instead of tension, and what damp air asks for all the same."""
    said = [_(NOT_HELD[work.mount])]
    if air is not None and air.measured and air.rh_pct >= MOULD_PCT:
        said.append(
            _(
                "Its room is at {rh}: look for mould and for a surface that sticks; a conservator "
                "decides.",
                rh=wording.rh(air.rh_pct),
            )
        )
    return said


def _chain_sentence(judgement: Judgement, now: WorkNow) -> str:
    """Return one sentence: room → frame → print → tension → surface, with its cause."""
    work = judgement.work
    sentence = _(
        "{room}, the frame at {frame} and the print at {print}{mounting}; {spare}; waves {show}.",
        room=_room_short(judgement.air),
        frame=wording.rh(now.frame_rh_pct.mid),
        print=wording.rh(now.print_rh_pct.mid),
        mounting=against_mounting(now.print_rh_pct, work.mounted_rh_pct),
        spare=spare_words(now.headroom_up_pct, now.print_rh_pct),
        show=show_words(judgement.p_visible_now),
    )
    cause = cause_sentence(judgement)
    told = (cause, sentence) if _probably_slack(judgement) else (sentence, cause)
    return " ".join(filter(None, told))


def cause_sentence(judgement: Judgement) -> str:
    """Return why a work is, or may be, slack, as a sentence; "" where nothing says so."""
    if judgement.cause is None:
        return ""
    return _((CAUSES if _probably_slack(judgement) else IF_SLACK)[judgement.cause])


def _probably_slack(judgement: Judgement) -> bool:
    return judgement.now is not None and judgement.now.p_slack >= 0.5


def happened(judgement: Judgement, zone: str) -> list[str]:
    """Return what else put a work on the first list, or on the second, a sentence each."""
    parts, because = [], judgement.because
    if Because.WAVES_SINCE in because:
        parts.append(showed_sentence(judgement, zone))
    lead = judgement.lead_time
    if lead is not None and lead.if_room_stays_h:
        parts.append(
            _(
                "If the room stays as it is, they probably will in {time}.",
                time=wording.duration(lead.if_room_stays_h),
            )
        )
    if Because.GLAZING in because:
        parts.append(
            _(
                "The chance that it comes near the glazing is {chance}.",
                chance=wording.percent(judgement.p_clearance),
            )
        )
    if Because.HINGES in because:
        parts.append(
            _(
                "The chance that its hinges are giving way is {chance}: look at its edges.",
                chance=wording.percent(judgement.p_hinges),
            )
        )
    return parts


def showed_sentence(judgement: Judgement, zone: str) -> str:
    """Return how probably waves showed since somebody looked, when, and what that asks for."""
    chance, since = judgement.p_visible_week, judgement.since
    said = wording.capital(showed_words(judgement, zone))
    if chance <= wording.PROBABLY:
        return f"{said}."
    if since is not None and since.shown_utc is not None:
        said = _("{showed}, and nobody has looked since", showed=said)
    return _("{showed}; look for a ripple that stayed.", showed=said)


def showed_words(judgement: Judgement, zone: str) -> str:
    """Return "waves almost surely showed on Thursday evening (over 99 %)"."""
    chance, figure = judgement.p_visible_week, wording.percent(judgement.p_visible_week)
    when = _showed_when(judgement, zone)
    if chance > wording.ALMOST_SURELY:
        return _("waves almost surely showed {when} ({chance})", when=when, chance=figure)
    if chance > wording.PROBABLY:
        return _("waves probably showed {when} ({chance})", when=when, chance=figure)
    if chance >= wording.MAY:
        return _("waves may have shown {when} ({chance})", when=when, chance=figure)
    return _("waves are unlikely to have shown {when} ({chance})", when=when, chance=figure)


def _showed_when(judgement: Judgement, zone: str) -> str:
    """Return when waves most probably showed: a part of a day, a span of days, or since when."""
    since = judgement.since
    if since is not None and since.shown_utc is not None:
        first, last = since.shown_utc
        if judgement.at_utc - first > LATELY:
            days = [wording.day_only(one, zone) for one in (first, last)]
            if days[0] == days[1]:
                return _("on {day}", day=days[0])
            return _("between {first} and {last}", first=days[0], last=days[1])
    lately = since is None or judgement.at_utc - since.since_utc <= LATELY
    if since is not None and since.shown_utc is None and not lately:
        return _("at some time since {day}", day=wording.day_only(since.since_utc, zone))
    at = None if judgement.now is None else judgement.now.likeliest_utc
    return _("this week") if at is None else _("on {when}", when=wording.part_of_day(at, zone))


def show_words(probability: float) -> str:
    """Return how probably waves show, as the end of a sentence.

    Examples
    --------
    >>> show_words(0.82), show_words(0.5), show_words(0.04)
    ('probably show (82 %)', 'may show (50 %)', 'are unlikely to show (4 %)')
    """
    figure = wording.percent(probability)
    if probability > wording.PROBABLY:
        return _("probably show ({chance})", chance=figure)
    if probability >= wording.MAY:
        return _("may show ({chance})", chance=figure)
    return _("are unlikely to show ({chance})", chance=figure)


def slack_words(probability: float) -> str:
    """Return how probably a work is slack, as the end of a sentence.

    Examples
    --------
    >>> slack_words(0.8), slack_words(0.4), slack_words(0.05)
    ('is probably slack (80 %)', 'may be slack (40 %)', 'is unlikely to be slack (5 %)')
    """
    figure = wording.percent(probability)
    if probability > wording.PROBABLY:
        return _("is probably slack ({chance})", chance=figure)
    if probability >= wording.MAY:
        return _("may be slack ({chance})", chance=figure)
    return _("is unlikely to be slack ({chance})", chance=figure)


def against_mounting(sheet: Range, mounted_pct: float | None) -> str:
    """Return how far a print is from the humidity of its mounting, after a comma; or ""."""
    if mounted_pct is None:
        return ""
    change = round(sheet.mid - mounted_pct)
    if change == 0:
        return _(", as at mounting")
    size = wording.rh(abs(change))
    return (
        _(", {size} above its mounting", size=size)
        if change > 0
        else _(", {size} below its mounting", size=size)
    )


def _room_short(air: AirNow | None) -> str:
    if air is None:
        return _("The room has no usable readings")
    if math.isnan(air.week_low_rh_pct):
        return _("The room was not measured in the last week")
    if not air.measured:
        return _("The room is not measured at this hour")
    return _(
        "The room is at {rh} and {temp}",
        rh=wording.rh(air.rh_pct),
        temp=wording.with_unit(air.temp_c, "°C"),
    )


def room_sentence(air: AirNow | None) -> str:
    """Return what was measured in the room, now and over the week."""
    now = _room_short(air)
    if air is None or math.isnan(air.week_low_rh_pct):
        return f"{now}."
    week = wording.span(air.week_low_rh_pct, air.week_high_rh_pct, "%RH")
    return _("{now}; {week} in the last week.", now=now, week=week)


def condition(judgement: Judgement, zone: str) -> str:
    """Return until when, and on which condition, a work can be left be; "" for other lists."""
    now, again = judgement.now, judgement.look_again_utc
    if judgement.listing is not Listing.LEAVE_BE or now is None or again is None:
        return ""
    said = _(
        "The print is at {rh}, {spare}, {way}; look again by {day}",
        rh=wording.rh(now.print_rh_pct.mid),
        spare=_spare_left(now.headroom_up_pct, now.print_rh_pct),
        way=_way(now.headroom_change_pct),
        day=wording.day_only(again, zone),
    )
    lead = judgement.lead_time
    if lead is None or lead.if_trend_goes_on_h is None:
        return f"{said}."
    return _(
        "{said}; sooner if the room goes on as now: in {time}.",
        said=said,
        time=wording.duration(lead.if_trend_goes_on_h),
    )


def _spare_left(up: Range, print_rh: Range) -> str:
    if up.mid > MOST_PCT - 1.0:
        said = _("which damper air would not slacken")
    else:
        said = _("with {spare} to spare", spare=wording.rh(max(up.mid, 0.0)))
    return said + softens_first(up, print_rh)


def _way(change_pct: float) -> str:
    if change_pct > 0.5:
        return _("growing")
    return _("shrinking") if change_pct < -0.5 else _("steady")


def mend(judgement: Judgement) -> str:
    """Return what would let more be told, or ""."""
    if judgement.refusal:
        return refusal_words(judgement.refusal)[1]
    if "spacer_mm" in judgement.missing:
        return _("Record the spacer's depth: without it the clearance cannot be told.")
    return ""


def chain_sentences(judgement: Judgement, zone: str) -> list[tuple[str, str]]:
    """Return the steps room → frame → print → tension → surface as (name, sentence).

    What changed of the work lately is said first in the step on which it bears.
    """
    steps = _steps(judgement)
    names = [name for name, _said in steps]
    told: dict[str, list[str]] = {name: [] for name in names}
    for change in judgement.changes:
        step = change.step if change.step in told else names[-1]
        told[step].append(change_sentence(change, zone))
    return [(STEP_WORDS[name], " ".join([said, *told[name]])) for name, said in steps]


def _steps(judgement: Judgement) -> list[tuple[str, str]]:
    if judgement.state is State.NOT_HELD_BY_TENSION:
        return [("tension", " ".join(not_held_sentences(judgement.work, judgement.air)))]
    room = ("room", room_sentence(judgement.air))
    now, work = judgement.now, judgement.work
    if judgement.refusal:
        return [room, ("print", refusal_sentence(judgement))]
    if now is None:
        return [room]
    return [room, *_figured_steps(judgement, now, work)]


def _figured_steps(judgement: Judgement, now: WorkNow, work: Work) -> list[tuple[str, str]]:
    mounted = (
        ""
        if work.mounted_rh_pct is None
        else _("; mounted at {rh}", rh=wording.rh(work.mounted_rh_pct))
    )
    return [
        (
            "frame",
            _(
                "{frame}: the air in front of the print is at {rh}.",
                frame=wording.capital(_(FRAME_WORDS[work.frame])),
                rh=wording.range_words(now.frame_rh_pct, "%RH"),
            ),
        ),
        (
            "print",
            _(
                "The {paper} print is at {rh}{mounted}.",
                paper=_(work.paper.value),
                rh=wording.range_words(now.print_rh_pct, "%RH"),
                mounted=mounted,
            ),
        ),
        (
            "tension",
            _(
                "It {slack}; {spare}; tension {tension}; hinges giving way: {hinges}.",
                slack=slack_words(now.p_slack),
                spare=spare_words(now.headroom_up_pct, now.print_rh_pct),
                tension=wording.range_words(now.tension_n_m, "N/m"),
                hinges=wording.percent(judgement.p_hinges),
            ),
        ),
        (
            "surface",
            _(
                "Waves {show}; largest slope {slope}{clearance}.",
                show=show_words(judgement.p_visible_now),
                slope=wording.range_words(now.slope_mrad, "mrad"),
                clearance=clearance_words(work, judgement.p_clearance),
            ),
        ),
    ]


def clearance_words(work: Work, p_clearance: float) -> str:
    """Return the chance of touching the glazing, after a semicolon; NaN: it cannot be told."""
    if work.frame not in GLAZED:
        return _("; nothing in front to touch")
    if math.isnan(p_clearance):
        return _("; the clearance cannot be told, the spacer's depth is not recorded")
    return _("; touching the glazing: {chance}", chance=wording.percent(p_clearance))


# What changed of a work, in sentences.

SENTENCES = {
    Change.ARRIVED: N_("It has hung in this room since {day}."),
    Change.WALL: N_("It has hung on an {detail} since {day}."),
    Change.SUN_GONE: N_("No sun or spotlight has reached it since {day}."),
    Change.MOUNTED: N_("Mounted anew on {day}: the estimate starts again from there."),
    Change.FRAMED: N_("Framed anew on {day}: the estimate of its air starts again from there."),
    Change.MEASURED: N_("Measured, and so counted since {day}: {detail}."),
}


def change_sentence(one: ChangeAt, zone: str) -> str:
    """Return what changed, and when.

    Examples
    --------
    >>> from datetime import UTC, datetime
    >>> at = datetime(2026, 3, 12, tzinfo=UTC)
    >>> change_sentence(ChangeAt(Change.WALL, "room", at, "inside wall"), "UTC")
    'It has hung on an inside wall since 12 March 2026.'
    """
    detail = STATED_WORDS.get(one.detail, one.detail)
    day = wording.day_only(one.at_utc, zone)
    return _(SENTENCES[one.change], day=day, detail=_(detail) if detail else "")
