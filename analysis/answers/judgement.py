"""The four lists: where a work belongs this week, and why, in one sentence from the chain."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from analysis.air.room_air import RoomAir
from analysis.answers.judgement_words import (
    LOOSE,
    against_mounting,
    clearance_words,
    headroom_words,
    seen_words,
)
from analysis.learning.inspections import Inspection
from analysis.results import Floats, History, Judgement, LeadTime, Listing, Range, State
from analysis.simulation.refusals import REFUSALS
from analysis.words import day, duration, in_hundred, likely, ranged, span, whole
from analysis.works import FRAME_WORDS, GLAZED, Mount, Work

WEEK_H = 168
NOT_HELD = {
    Mount.BONDED: "It is bonded overall and not held by tension: not at risk of cockling.",
    Mount.CORNER_HUNG: (
        "It hangs by its corners or top edge and is not held by tension: it may sag or curl, which "
        "no estimate here covers."
    ),
    Mount.WINDOW: (
        "It lies in a window mount and is not held by tension: it may undulate freely, which no "
        "estimate here covers."
    ),
}


@dataclass(frozen=True)
class JudgementLimits:
    """The limits of the four lists: a setting with a name, an owner and a date.

    Parameters
    ----------
    first_visible, first_clearance, first_hinges : float
        Probabilities above which a work is looked at first.
    first_grade : int
        Grade from which a work is looked at first until it has been seen again, as one with a loose
        hinge is.
    watch_visible : float
        Probability from which a work is watched.
    watch_days : float
        A work that will pass one half within these days, if the room stays, is watched.
    soonest_days, latest_days : float
        Bounds of the day by which to look again.
    """

    name: str = "as delivered"
    owner: str = ""
    since: str = ""
    first_visible: float = 0.5
    first_clearance: float = 0.1
    first_hinges: float = 0.2
    first_grade: int = 2
    watch_visible: float = 0.1
    watch_days: float = 14.0
    soonest_days: float = 7.0
    latest_days: float = 90.0


@dataclass(frozen=True)
class _Week:
    """What a history says of the week up to an hour."""

    at: int
    visible: float
    visible_week: float
    clearance: float
    hinges: float
    slack: float
    frame: Range
    sheet: Range
    tension: Range
    slope: Range
    up: Range
    down: Range
    up_change: float


def judge(
    work: Work,
    history: History | None,
    air: RoomAir | None,
    *,
    at_utc: datetime,
    lead_time: LeadTime | None = None,
    limits: JudgementLimits | None = None,
    last_inspection: Inspection | None = None,
) -> Judgement:
    """Return a work's line on the round at an instant.

    Parameters
    ----------
    history : History or None
        Covering the instant and, where it can, the week before; None where nothing was run.
    air : RoomAir or None
        The room's air over the same span; None where nothing usable was measured.
    lead_time : LeadTime, optional
        As from `analysis.simulation.lead_time.lead_time`.
    last_inspection : Inspection, optional
        How the work was last seen.
    """
    limit = limits or JudgementLimits()
    graded = seen_words(last_inspection, limit.first_grade)
    if work.mount is not Mount.TENSION_HELD:
        return _not_held(work, at_utc, graded)
    if air is None:
        return _cannot_tell(work, "no readings", None, at_utc, graded)
    at = -1 if history is None else _hour(history, at_utc)
    key = "starting up" if at < 0 or history is None else str(history.refused[at])
    if history is None or key:
        return _cannot_tell(work, key, air, at_utc, graded)
    week = _week(history, at)
    return _told(work, week, air, at_utc, lead_time, limit, graded)


def _hour(history: History, at_utc: datetime) -> int:
    now = np.datetime64(at_utc.replace(tzinfo=None), "s")
    return int(np.searchsorted(history.time_utc, now, side="right")) - 1


def _not_held(work: Work, at_utc: datetime, graded: str) -> Judgement:
    sentence = NOT_HELD[work.mount]
    return _without_figures(
        work,
        at_utc,
        listing=Listing.LOOK_FIRST if graded else Listing.LEAVE_BE,
        state=State.NOT_HELD_BY_TENSION,
        reason=f"{graded} {sentence}".strip(),
        chain=(("tension", sentence),),
        order_key=(0.0 if graded else 2.0, 1.0),
    )


def _cannot_tell(
    work: Work, key: str, air: RoomAir | None, at_utc: datetime, graded: str
) -> Judgement:
    why, mend = REFUSALS[key]
    reason = f"Cannot tell: {why}."
    return _without_figures(
        work,
        at_utc,
        listing=Listing.LOOK_FIRST if graded else Listing.CANNOT_TELL,
        state=State.CANNOT_TELL,
        reason=f"{graded} {reason}".strip(),
        chain=(("room", _room(air, at_utc)), ("print", reason)),
        order_key=(0.0 if graded else 3.0, 0.0),
        what_would_mend=mend,
    )


def _without_figures(work: Work, at_utc: datetime, **told: Any) -> Judgement:
    """Return a judgement that rests on no estimate: every probability is NaN."""
    return Judgement(
        work_id=work.work_id,
        title=work.title,
        at_utc=at_utc,
        p_visible_now=float("nan"),
        p_visible_week=float("nan"),
        p_clearance=float("nan"),
        p_hinges=float("nan"),
        headroom_up_pct=None,
        headroom_down_pct=None,
        print_rh_pct=None,
        lead_time=None,
        condition="",
        look_again_utc=None,
        **told,
    )


def _range(values: Floats, at: int) -> Range:
    return Range(*(float(v) for v in values[at]))


def _week(history: History, at: int) -> _Week:
    recent = slice(max(at - WEEK_H + 1, 0), at + 1)
    up = history.headroom_up_pct[recent, 1]
    known = up[np.isfinite(up)]
    return _Week(
        at=at,
        visible=float(history.p_visible[at]),
        visible_week=float(history.p_visible_week[at]),
        clearance=float(history.p_clearance_week[at]),
        hinges=float(history.p_hinges_week[at]),
        slack=float(history.p_slack[at]),
        frame=_range(history.frame_rh_pct, at),
        sheet=_range(history.print_rh_pct, at),
        tension=_range(history.tension_n_m, at),
        slope=_range(history.slope_mrad, at),
        up=_range(history.headroom_up_pct, at),
        down=_range(history.headroom_down_pct, at),
        up_change=float(known[-1] - known[0]),
    )


def _listing(week: _Week, lead: LeadTime | None, limit: JudgementLimits, graded: str) -> Listing:
    if (
        graded
        or week.visible_week > limit.first_visible
        or week.clearance > limit.first_clearance
        or week.hinges > limit.first_hinges
    ):
        return Listing.LOOK_FIRST
    soon = lead is not None and lead.if_room_stays_h is not None
    if soon and lead is not None and lead.if_room_stays_h is not None:
        soon = lead.if_room_stays_h <= 24.0 * limit.watch_days
    return Listing.WATCH if soon or week.visible_week >= limit.watch_visible else Listing.LEAVE_BE


def _state(week: _Week, limit: JudgementLimits) -> State:
    if week.clearance > limit.first_clearance:
        return State.NEAR_GLAZING
    if week.slack > limit.first_visible:
        return State.SLACK
    if week.hinges > limit.first_hinges:
        return State.HINGES
    return State.EASING if week.slack >= limit.watch_visible else State.TAUT


def _told(
    work: Work,
    week: _Week,
    air: RoomAir,
    at_utc: datetime,
    lead: LeadTime | None,
    limit: JudgementLimits,
    graded: str,
) -> Judgement:
    listing = _listing(week, lead, limit, graded)
    again = at_utc + timedelta(days=_days_until_next(week, limit))
    rank = {Listing.LOOK_FIRST: 0.0, Listing.WATCH: 1.0, Listing.LEAVE_BE: 2.0}[listing]
    judged = Judgement(
        work_id=work.work_id,
        title=work.title,
        listing=listing,
        state=State.HINGES if graded.startswith(LOOSE) else _state(week, limit),
        at_utc=at_utc,
        p_visible_now=week.visible,
        p_visible_week=week.visible_week,
        p_clearance=week.clearance,
        p_hinges=week.hinges,
        headroom_up_pct=week.up,
        headroom_down_pct=week.down,
        print_rh_pct=week.sheet,
        lead_time=lead,
        reason=graded or _reason(work, week, air, at_utc, lead, limit),
        chain=_chain(work, week, air, at_utc),
        condition=_condition(week, lead, again) if listing is Listing.LEAVE_BE else "",
        look_again_utc=again if listing is Listing.LEAVE_BE else None,
        order_key=(rank, -_worst(week)),
    )
    return replace(judged, what_would_mend=_unknown_clearance(work))


def _worst(week: _Week) -> float:
    clearance = 0.0 if np.isnan(week.clearance) else week.clearance
    return max(week.visible_week, clearance, week.hinges)


def _unknown_clearance(work: Work) -> str:
    if work.frame in GLAZED and work.spacer_mm is None and "gap_mm" not in work.overrides:
        return "Record the spacer's depth: without it the clearance cannot be told."
    return ""


def _days_until_next(week: _Week, limit: JudgementLimits) -> float:
    """Return the days in which headroom would be used up at the week's pace, within bounds."""
    if week.up_change >= -0.5:
        return limit.latest_days
    days = 7.0 * max(week.up.low, 0.0) / -week.up_change
    return float(min(max(days, limit.soonest_days), limit.latest_days))


def _room(air: RoomAir | None, at_utc: datetime) -> str:
    if air is None:
        return "The room has no usable readings."
    now = np.datetime64(at_utc.replace(tzinfo=None), "s")
    at = max(int(np.searchsorted(air.time_utc, now, side="right")) - 1, 0)
    recent = slice(max(at - WEEK_H + 1, 0), at + 1)
    measured = air.measured[recent]
    week = air.rh_low_pct[recent][measured]
    if not len(week):
        return "The room was not measured in the last week."
    past = f"; {span(float(week.min()), float(week.max()))} % in the last week"
    if not air.measured[at]:
        return f"The room is not measured at this hour{past}."
    return f"The room is at {whole(air.rh_low_pct[at])} %RH and {whole(air.temp_c[at])} °C{past}."


def _chain(work: Work, week: _Week, air: RoomAir, at_utc: datetime) -> tuple[tuple[str, str], ...]:
    mounted = "" if work.mounted_rh_pct is None else f"; mounted at {whole(work.mounted_rh_pct)} %"
    clearance = clearance_words(work, week.clearance)
    return (
        ("room", _room(air, at_utc)),
        (
            "frame",
            f"{FRAME_WORDS[work.frame].capitalize()}: the air in front of the print is at "
            f"{ranged(week.frame, ' %RH')}.",
        ),
        ("print", f"The {work.paper.value} print is at {ranged(week.sheet, ' %RH')}{mounted}."),
        (
            "tension",
            f"It {likely(week.slack, 'slack')}; {headroom_words(week.up)}; tension "
            f"{ranged(week.tension, ' N/m')}; hinges giving way: {in_hundred(week.hinges)}.",
        ),
        (
            "surface",
            f"It {likely(week.visible, 'visibly cockled')}; largest slope "
            f"{ranged(week.slope, ' mrad')}{clearance}.",
        ),
    )


def _reason(
    work: Work,
    week: _Week,
    air: RoomAir,
    at_utc: datetime,
    lead: LeadTime | None,
    limit: JudgementLimits,
) -> str:
    """Return one sentence: room → frame → print → tension → surface."""
    room = _room(air, at_utc).split(";")[0].rstrip(".")
    mounted = against_mounting(week.sheet, work.mounted_rh_pct)
    return (
        f"{room}, the frame at {whole(week.frame.mid)} % and the print at "
        f"{whole(week.sheet.mid)} %{mounted}; {headroom_words(week.up)}, and it "
        f"{likely(week.visible, 'visibly cockled')}{_besides(week, lead, limit)}."
    )


def _besides(week: _Week, lead: LeadTime | None, limit: JudgementLimits) -> str:
    """Return what else put a work on the first list, or on the second."""
    parts, past = [], in_hundred(week.visible_week)
    if week.visible_week > limit.first_visible >= week.visible:
        parts.append(f"it probably was this week ({past})")
    elif week.visible_week >= limit.watch_visible > week.visible:
        parts.append(f"the chance that it was this week is {past}")
    if lead is not None and lead.if_room_stays_h:
        parts.append(f"if the room stays, it probably will be in {duration(lead.if_room_stays_h)}")
    if week.clearance > limit.first_clearance:
        parts.append(f"the chance that it comes near the glazing is {in_hundred(week.clearance)}")
    if week.hinges > limit.first_hinges:
        giving_way = f"the chance that its hinges are giving way is {in_hundred(week.hinges)}"
        parts.append(f"{giving_way}: look at its edges")
    return "".join(f"; {part}" for part in parts)


def _condition(week: _Week, lead: LeadTime | None, again: datetime) -> str:
    """Return until when, and on which condition, a work can be left be."""
    way = "rising" if week.up_change > 0.5 else "falling" if week.up_change < -0.5 else "steady"
    known = lead is not None and lead.if_trend_goes_on_h is not None
    trend = ""
    if known and lead is not None and lead.if_trend_goes_on_h is not None:
        trend = f"; sooner if the room goes on as now: {duration(lead.if_trend_goes_on_h)}"
    return (
        f"Print RH {whole(week.sheet.mid)} %, {whole(week.up.mid)} % of headroom, {way}; look "
        f"again by {day(again)}{trend}."
    )
