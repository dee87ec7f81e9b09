"""The four lists: where a work belongs this week, and what put it there, as data alone.

`dashboards.text.judgement_text` turns a judgement into sentences.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from analysis.air.room_air import RoomAir
from analysis.answers.since_inspection import gone_slack, says_nothing
from analysis.learning.inspections import Inspection
from analysis.results import (
    AirNow,
    Because,
    Floats,
    History,
    Judgement,
    LastLook,
    LeadTime,
    Listing,
    Range,
    SinceLook,
    SlackCause,
    State,
    WorkNow,
)
from analysis.simulation.checkpoints import instant
from analysis.works import GLAZED, Mount, Work

WEEK_H = 168
NO_READINGS, NOT_HUNG, RECORD = "no readings", "not hung", "record"
# Refusals that are no reason to stay away: too damp for any estimate.
# A frame that conditions its own air: the room's damp says nothing of it.
OWN_AIR = "conditioned"
TOO_DAMP = ("above 85 %RH", "condensation")
RANKS = {
    Listing.LOOK_FIRST: 0.0,
    Listing.WATCH: 1.0,
    Listing.CANNOT_TELL: 2.0,
    Listing.LEAVE_BE: 3.0,
    Listing.NOT_COVERED: 4.0,
}
# What sends people to a work, whatever the chance of waves.
FIRST = {
    Because.LOOSE_HINGE,
    Because.GRADED,
    Because.GLAZING,
    Because.HINGES,
    Because.TOO_DAMP_TO_TELL,
}


@dataclass(frozen=True)
class JudgementLimits:
    """The limits of the four lists; the same for every house and every surface.

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
    """The chances of a history at an hour and since the last look, or over the week up to it."""

    visible: float
    visible_week: float
    clearance: float
    hinges: float
    slack: float
    gone_slack: bool
    since: SinceLook | None

    @property
    def worst(self) -> float:
        """The largest chance that sends people to a work."""
        clearance = 0.0 if np.isnan(self.clearance) else self.clearance
        waves = self.visible_week
        if self.since is not None and says_nothing(self.since):
            waves = self.since.p_high
        return max(waves, clearance, self.hinges)


def judge(
    work: Work,
    history: History | None,
    air: RoomAir | None,
    *,
    at_utc: datetime,
    lead_time: LeadTime | None = None,
    limits: JudgementLimits | None = None,
    last_inspection: Inspection | None = None,
    since: SinceLook | None = None,
    hung: bool = True,
    impossible: str = "",
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
    since : SinceLook, optional
        What was so since then; without it, the week up to the instant.
    hung : bool
        False for a work that is lent, stored, or in no room for another reason.
    impossible : str
        What the work's record holds that nothing can be computed with, or "".
    """
    limit = limits or JudgementLimits()
    asks = asks_for_another(last_inspection, limit.first_grade)
    if impossible:
        return _cannot_tell(work, RECORD, None, at_utc, asks, impossible=impossible)
    if work.mount is not Mount.TENSION_HELD:
        return _without_figures(
            work,
            at_utc,
            asks,
            Listing.NOT_COVERED,
            state=State.NOT_HELD_BY_TENSION,
            air=None if air is None else air_now(air, at_utc),
        )
    if not hung:
        return _cannot_tell(work, NOT_HUNG, None, at_utc, asks)
    if air is None:
        return _cannot_tell(work, NO_READINGS, None, at_utc, asks)
    at = -1 if history is None else _hour(history, at_utc)
    key = "starting up" if at < 0 or history is None else str(history.refused[at])
    if history is None or key:
        return _cannot_tell(work, key, air, at_utc, asks, since=since)
    return _judgement(work, history, at, air, at_utc, lead_time, limit, asks, since)


def asks_for_another(last: Inspection | None, first_grade: int) -> LastLook | None:
    """Return the last look where it asks for another, or None.

    Parameters
    ----------
    last : Inspection or None
        How a work was last seen.
    first_grade : int
        Grade from which a work is to be seen again. A loose hinge is, whatever the grade.
    """
    if last is None:
        return None
    graded = last.grade is not None and last.grade >= first_grade
    if last.released or graded:
        return LastLook(last.at_utc, last.grade, bool(last.released))
    return None


def _hour(history: History, at_utc: datetime) -> int:
    now = np.datetime64(at_utc.replace(tzinfo=None), "s")
    return int(np.searchsorted(history.time_utc, now, side="right")) - 1


def _cannot_tell(
    work: Work,
    key: str,
    air: RoomAir | None,
    at_utc: datetime,
    asks: LastLook | None,
    *,
    since: SinceLook | None = None,
    impossible: str = "",
) -> Judgement:
    return _without_figures(
        work,
        at_utc,
        asks,
        Listing.CANNOT_TELL,
        too_damp=key in TOO_DAMP or (key != OWN_AIR and _was_too_damp(since)),
        state=State.HINGES if asks is not None and asks.released else State.CANNOT_TELL,
        refusal=key,
        air=None if air is None else air_now(air, at_utc),
        since=since,
        impossible=impossible,
    )


def _was_too_damp(since: SinceLook | None) -> bool:
    return since is not None and since.beyond_utc is not None


def _without_figures(
    work: Work,
    at_utc: datetime,
    asks: LastLook | None,
    otherwise: Listing,
    *,
    too_damp: bool = False,
    **known: Any,
) -> Judgement:
    """Return a judgement that rests on no estimate: every probability is NaN."""
    because = (*_because_seen(asks), *((Because.TOO_DAMP_TO_TELL,) if too_damp else ()))
    listing = Listing.LOOK_FIRST if because else otherwise
    return Judgement(
        work_id=work.work_id,
        title=work.title,
        listing=listing,
        at_utc=at_utc,
        p_visible_now=float("nan"),
        p_visible_week=float("nan"),
        p_clearance=float("nan"),
        p_hinges=float("nan"),
        headroom_up_pct=None,
        headroom_down_pct=None,
        print_rh_pct=None,
        lead_time=None,
        look_again_utc=None,
        work=work,
        because=because,
        asks=asks,
        order_key=(RANKS[listing], -1.0 if too_damp else 0.0),
        **known,
    )


def _because_seen(asks: LastLook | None) -> tuple[Because, ...]:
    if asks is None:
        return ()
    return (Because.LOOSE_HINGE if asks.released else Because.GRADED,)


def _range(values: Floats, at: int) -> Range:
    return Range(*(float(v) for v in values[at]))


def _chances(history: History, at: int, since: SinceLook | None, limit: JudgementLimits) -> _Week:
    week = (history.p_visible_week[at], history.p_clearance_week[at], history.p_hinges_week[at])
    over = week if since is None else (since.p_visible, since.p_clearance, since.p_hinges)
    # a clearance that cannot be told of a week cannot be told of a longer span
    known = [float(x if np.isfinite(w) else w) for x, w in zip(over, week, strict=True)]
    lately = history.p_slack[max(at - WEEK_H + 1, 0) : at + 1]
    return _Week(
        visible=float(history.p_visible[at]),
        visible_week=known[0],
        clearance=known[1],
        hinges=known[2],
        slack=float(history.p_slack[at]),
        gone_slack=gone_slack(lately, limit.first_visible),
        since=since,
    )


def _now(history: History, at: int) -> WorkNow:
    """Return the chain at an hour, with what the week before it did."""
    recent = slice(max(at - WEEK_H + 1, 0), at + 1)
    up = history.headroom_up_pct[recent, 1]
    known = up[np.isfinite(up)]
    seen = history.p_visible[recent]
    likeliest = None
    if np.isfinite(seen).any():
        likeliest = instant(history.time_utc[recent][int(np.nanargmax(seen))])
    return WorkNow(
        p_slack=float(history.p_slack[at]),
        frame_rh_pct=_range(history.frame_rh_pct, at),
        print_rh_pct=_range(history.print_rh_pct, at),
        tension_n_m=_range(history.tension_n_m, at),
        slope_mrad=_range(history.slope_mrad, at),
        headroom_up_pct=_range(history.headroom_up_pct, at),
        headroom_down_pct=_range(history.headroom_down_pct, at),
        headroom_change_pct=float(known[-1] - known[0]),
        likeliest_utc=likeliest,
        headroom_quick_pct=_range(history.headroom_quick_pct, at),
        headroom_dry_pct=_range(history.headroom_dry_pct, at),
        hinge_slip_mm_m=_range(history.hinge_slip_mm_m, at),
        slack_causes=history.slack_causes if at == len(history.time_utc) - 1 else {},
        unmeasured_years=history.unmeasured_years,
    )


def _because(
    week: _Week, lead: LeadTime | None, limit: JudgementLimits, asks: LastLook | None
) -> tuple[Because, ...]:
    """Return everything that puts a work on the first list or on the second."""
    stays = None if lead is None else lead.if_room_stays_h
    listed = limit.first_visible if week.visible_week > limit.first_visible else limit.watch_visible
    holds = {
        Because.WAVES_NOW: week.visible > limit.first_visible,
        Because.WAVES_SINCE: week.visible <= listed <= week.visible_week,
        Because.TOO_DAMP_TO_TELL: _was_too_damp(week.since),
        Because.GLAZING: week.clearance > limit.first_clearance,
        Because.HINGES: week.hinges > limit.first_hinges,
        Because.LEAD_TIME: stays is not None and stays <= 24.0 * limit.watch_days,
    }
    return (*_because_seen(asks), *(reason for reason, so in holds.items() if so))


def _listing(week: _Week, because: tuple[Because, ...], limit: JudgementLimits) -> Listing:
    if week.visible_week > limit.first_visible or FIRST & set(because):
        return Listing.LOOK_FIRST
    if week.since is not None and says_nothing(week.since):
        return Listing.CANNOT_TELL
    watched = Because.LEAD_TIME in because or week.visible_week >= limit.watch_visible
    return Listing.WATCH if watched else Listing.LEAVE_BE


def _state(week: _Week, limit: JudgementLimits, asks: LastLook | None) -> State:
    if asks is not None and asks.released:
        return State.HINGES
    if week.clearance > limit.first_clearance:
        return State.NEAR_GLAZING
    if week.gone_slack:
        return State.SLACK
    if week.hinges > limit.first_hinges:
        return State.HINGES
    return State.EASING if week.slack >= limit.watch_visible else State.TAUT


def _judgement(
    work: Work,
    history: History,
    at: int,
    air: RoomAir,
    at_utc: datetime,
    lead: LeadTime | None,
    limit: JudgementLimits,
    asks: LastLook | None,
    since: SinceLook | None,
) -> Judgement:
    week, now = _chances(history, at, since, limit), _now(history, at)
    because = _because(week, lead, limit, asks)
    listing = _listing(week, because, limit)
    again = at_utc + timedelta(days=_days_until_next(now, limit))
    return Judgement(
        work_id=work.work_id,
        title=work.title,
        listing=listing,
        state=_state(week, limit, asks),
        at_utc=at_utc,
        p_visible_now=week.visible,
        p_visible_week=week.visible_week,
        p_clearance=week.clearance,
        p_hinges=week.hinges,
        headroom_up_pct=now.headroom_up_pct,
        headroom_down_pct=now.headroom_down_pct,
        print_rh_pct=now.print_rh_pct,
        lead_time=lead,
        look_again_utc=again if listing is Listing.LEAVE_BE else None,
        work=work,
        because=because,
        cause=_cause(now, limit),
        air=air_now(air, at_utc),
        now=now,
        asks=asks,
        missing=_missing(work),
        order_key=(RANKS[listing], -week.worst),
        since=since,
    )


def _cause(now: WorkNow, limit: JudgementLimits) -> SlackCause | None:
    """Return what most of the slack draws are slack by, where slack is likely enough to be told."""
    if not now.slack_causes or now.p_slack < limit.watch_visible:
        return None
    return max(now.slack_causes, key=lambda cause: now.slack_causes[cause])


def _missing(work: Work) -> tuple[str, ...]:
    unknown = work.spacer_mm is None and "gap_mm" not in work.overrides
    return ("spacer_mm",) if work.frame in GLAZED and unknown else ()


def _days_until_next(now: WorkNow, limit: JudgementLimits) -> float:
    """Return the days in which headroom would be used up at the week's pace, within bounds."""
    if now.headroom_change_pct >= -0.5:
        return limit.latest_days
    days = 7.0 * max(now.headroom_up_pct.low, 0.0) / -now.headroom_change_pct
    return float(min(max(days, limit.soonest_days), limit.latest_days))


def air_now(air: RoomAir, at_utc: datetime) -> AirNow:
    """Return what was measured in a room at an hour, and over the week before it."""
    hour = np.datetime64(at_utc.replace(tzinfo=None), "s")
    at = max(int(np.searchsorted(air.time_utc, hour, side="right")) - 1, 0)
    recent = slice(max(at - WEEK_H + 1, 0), at + 1)
    week = air.rh_low_pct[recent][air.measured[recent]]
    measured, none = bool(air.measured[at]), float("nan")
    return AirNow(
        measured=measured,
        rh_pct=float(air.rh_low_pct[at]) if measured else none,
        temp_c=float(air.temp_c[at]) if measured else none,
        week_low_rh_pct=float(week.min()) if len(week) else none,
        week_high_rh_pct=float(week.max()) if len(week) else none,
    )
