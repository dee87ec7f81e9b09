"""Stores → analysis → results: which works are still taut at a time, and why.

One function judges for every surface. A work is carried through the readings of its rooms to the
last one that may be used, and from there to the hour asked for through a band about what its room
does at that season (`analysis.air.ahead`). Both hours are judged: the second is the answer, the
first the last answer from readings.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from analysis.air.ahead import carried_on, ends_at, joined
from analysis.air.room_air import RoomAir, part_of
from analysis.answers.judgement import JudgementLimits, judge
from analysis.answers.left_until import left_until
from analysis.answers.since_inspection import ends_of_chance, shares_within
from analysis.answers.work_changes import work_changes
from analysis.learning.grades import GRADE_WORDS
from analysis.learning.posterior import Inspection as Seen, Learned
from analysis.records.inspection_records import TIGHT, Inspection
from analysis.results import Floats, History, Judgement, LeadTime, SinceLook
from analysis.simulation.checkpoints import Checkpoint, instant
from analysis.simulation.estimator import Run, run
from analysis.simulation.histories import joined_histories, since_mounting
from analysis.simulation.lead_time import lead_time
from analysis.simulation.pasts import pasts_of
from analysis.simulation.phases import DrawnPhase, Phase, drawn_at, drawn_before
from analysis.simulation.priors import Draws, draw
from analysis.simulation.refusals import closing_known, mounting_known
from analysis.works import NEEDS_CLOSING_RH, Work
from service.climate.room_readings import full_hour
from service.estimates.checkpoints import run_from_checkpoint, week_names
from service.estimates.fingerprints import air_chain
from service.estimates.hanging_history import arrival
from service.estimates.learned import learned_draws
from service.estimates.questions import DETAIL, HOUR, Question, counted_looks
from service.estimates.record_problems import (
    NOT_COMPUTED,
    RecordProblem,
    as_seen,
    latest_inspection,
)
from service.estimates.shown import Shown, shown_since
from service.storage.results import Results
from service.storage.stores import Stores


@dataclass(frozen=True)
class Left:
    """Where a work that hangs nowhere hung last, until when, and what was said of it then."""

    room_name: str
    at_utc: datetime
    last: Judgement | None


@dataclass(frozen=True)
class Assessed:
    """One work at a time: what it is, where it hangs, what was found.

    ``last`` is the judgement at the last reading, the same as ``judgement`` where that is the hour
    asked for; ``known_until_utc`` that hour. ``draws`` and ``lately`` are None where nothing was
    run. ``air`` is all its air up to the hour asked for, ``lately`` the hours of its ``history``;
    `Museum` keeps a whole room's works without ``air``, see `without_past_air`.
    ``earlier`` holds the phases of its life before the present one, since the air began;
    ``state_then`` is the state at the end of that air of all works that were run together;
    ``left`` where a work hung last that hangs nowhere.
    """

    work: Work
    room_id: str
    judgement: Judgement
    history: History | None = None
    learned: Learned | None = None
    draws: Draws | None = None
    air: RoomAir | None = None
    lately: RoomAir | None = None
    earlier: Sequence[DrawnPhase] = ()
    last: Judgement | None = None
    known_until_utc: datetime | None = None
    state_then: Checkpoint | None = None
    left: Left | None = None


def assess_each(results: Results, question: Question) -> list[Assessed | RecordProblem]:
    """Return what can be said of each work; where one cannot be computed, the others go on.

    Nothing is read but what was kept of earlier answers, so that it can be worked out anywhere.
    """
    try:
        return list(assess(results, question))
    except NOT_COMPUTED as problem:
        if len(question.group.works) > 1:
            return [one for alone in question.each() for one in assess_each(results, alone)]
        return [RecordProblem.of(question.group.works[0].work_id, problem)]


def assess(results: Results, question: Question) -> list[Assessed]:
    """Return what can be said at a time of works that have had the same air."""
    group, at_utc, air = question.group, question.at_utc, question.air
    if air is None:
        return [_without_air(work, question) for work in group.works]
    known = _known(results, question, air)
    away = question.elsewhere
    ahead = carried_on(air, at_utc + timedelta(days=JudgementLimits().latest_days))
    carried = _carried(known, air, question, None if away else ahead)
    found = [_assessed(work, question, known, carried) for work in group.works]
    if away and full_hour(at_utc) > carried[0].at_utc:
        unknown = (_without_air(one.work, question).judgement for one in found)
        return [replace(one, judgement=now) for one, now in zip(found, unknown, strict=True)]
    return _left_no_longer_than_the_band(found, known, air, carried[1], ahead)


@dataclass(frozen=True)
class _Stretch:
    """Works carried to an hour: the air up to it, the run that ended there, and the lead times."""

    at_utc: datetime
    air: RoomAir
    run: Run
    leads: Mapping[str, LeadTime]
    histories: Mapping[str, History]


def _carried(
    known: "_Known", air: RoomAir, asked: Question, ahead: RoomAir | None
) -> tuple[_Stretch, _Stretch]:
    """Return works carried to the last reading, and on to the hour asked for (if it is later).

    Of a crate or of another house nobody knows what its air usually does: there is nothing
    ``ahead``, and nothing is carried on.
    """
    held, last = asked.held, instant(air.time_utc[-1])
    read = known.carried(held, air, min(last - DETAIL, asked.at_utc - asked.detail))
    first = _stretch(held, known, last, air, air, read, read.histories)
    if full_hour(asked.at_utc) <= last or ahead is None:
        return first, first
    ahead = ends_at(ahead, asked.at_utc)
    further = run(
        held,
        known.draws,
        ahead,
        since=read.last,
        weights=known.weights,
        keep_weeks=0,
        earlier=known.earlier,
    )
    histories = {
        key: joined_histories(history, further.histories[key])
        for key, history in read.histories.items()
    }
    at = instant(ahead.time_utc[-1])
    return first, _stretch(held, known, at, joined(air, ahead), ahead, further, histories)


def _stretch(
    held: Sequence[Work],
    known: "_Known",
    at_utc: datetime,
    air: RoomAir,
    lately: RoomAir,
    found: Run,
    histories: Mapping[str, History],
) -> _Stretch:
    leads = lead_time(held, known.draws, found.last, lately, weights=known.weights) if held else {}
    return _Stretch(at_utc, air, found, leads, histories)


def _assessed(
    work: Work, asked: Question, known: "_Known", carried: tuple[_Stretch, _Stretch]
) -> Assessed:
    """Return one work, judged at the last reading and at the hour asked for."""
    first, then = carried
    last = _judged(work, asked, known, first, first)
    now = last if then is first else _judged(work, asked, known, first, then)
    key = work.work_id
    history = then.histories.get(key)
    return Assessed(
        work=work,
        room_id=asked.group.room,
        judgement=replace(now, at_utc=asked.at_utc),
        history=history,
        learned=known.learned.get(key),
        draws=known.draws.get(key),
        air=then.air,
        lately=None if history is None else part_of(then.air, slice(-len(history.time_utc), None)),
        earlier=known.earlier.get(key, ()),
        last=last,
        known_until_utc=first.at_utc,
        state_then=then.run.last,
    )


def without_past_air(one: Assessed) -> Assessed:
    """Return a work without its ``air``: ten years of it hold five times as much as all else."""
    return replace(one, air=None)


def _left_no_longer_than_the_band(
    found: Sequence[Assessed], known: "_Known", air: RoomAir, then: _Stretch, ahead: RoomAir
) -> list[Assessed]:
    """Return the same, works left no longer than what their room may do till then allows."""
    left = [one.work for one in found if one.judgement.look_again_utc is not None]
    until = left_until(
        left,
        known.draws,
        then.run.last,
        air,
        JudgementLimits(),
        weights=known.weights,
        earlier=known.earlier,
        ahead=ahead,
    )
    return [_no_later(one, until.get(one.work.work_id)) for one in found]


def _no_later(one: Assessed, watched_utc: datetime | None) -> Assessed:
    again = one.judgement.look_again_utc
    if again is None or watched_utc is None or watched_utc >= again:
        return one
    return replace(one, judgement=replace(one.judgement, look_again_utc=watched_utc))


def learned_now(results: Results, question: Question) -> Mapping[str, Learned]:
    """Return what all inspections taught of works that have had the same air, as `assess` has it.

    Nothing is carried through the air but what is not kept: see `learned_draws`.
    """
    if question.air is None or not any(question.seen[one.work_id] for one in question.held):
        return {}
    return _learned(results, question, question.air, question.before)


@dataclass(frozen=True)
class _Known:
    """What is known of some works before their air: by work, after what was seen of them."""

    results: Results
    learned: Mapping[str, Learned]
    draws: Mapping[str, Draws]
    weights: Mapping[str, Floats]
    earlier: Mapping[str, tuple[DrawnPhase, ...]]
    chain: Mapping[datetime, str]

    def since(
        self, work: Work, air: RoomAir, found: Run, since_utc: datetime, chance: float
    ) -> Shown:
        """Return when waves showed, and when it was too damp to tell, in the hours read."""
        key = work.work_id
        phased_work = (work, self.draws[key], self.weights.get(key), air, self.earlier.get(key, ()))
        weeks = week_names([work], self.draws, self.weights, self.chain, self.earlier)[key]
        return shown_since(self.results, *phased_work, found, since_utc, chance, weeks)

    def carried(self, works: Sequence[Work], air: RoomAir, detail_from: datetime) -> Run:
        """Return the works carried through their air, in detail from an instant on."""
        return run_from_checkpoint(
            self.results,
            works,
            self.draws,
            self.weights,
            air,
            detail_from=detail_from,
            earlier=self.earlier,
        )


def _known(results: Results, question: Question, air: RoomAir) -> _Known:
    """Return the draws of works, now and in their phases since the air began."""
    before, draws = question.before, question.draws
    learned = _learned(results, question, air, before)
    now, earlier = {}, {}
    for key, work in {work.work_id: work for work in question.held}.items():
        one, phases = learned.get(key), before.get(key, ())
        now[key] = draw(work, draws) if one is None else one.draws
        if phases:
            earlier[key] = (
                drawn_before(phases, draws) if one is None else drawn_at(phases, one.levels)
            )
    weights = {key: one.weights for key, one in learned.items()}
    return _Known(results, learned, now, weights, earlier, air_chain(air, pasts_of(air).digest))


def _learned(
    results: Results,
    question: Question,
    air: RoomAir,
    before: Mapping[str, Sequence[Phase]],
) -> dict[str, Learned]:
    """Return what inspections of the register taught of works."""
    held = question.held
    asked = {one.work_id: [_teaches(i) for i in question.seen[one.work_id]] for one in held}
    return learned_draws(results, held, asked, air, question.draws, before)


def _judged(
    work: Work, asked: Question, known: _Known, first: _Stretch, then: _Stretch
) -> Judgement:
    """Return a work's judgement at the end of a stretch."""
    key, mounted = work.work_id, asked.mounted(work)
    history = then.histories.get(key)
    judged = judge(
        work,
        None if history is None else since_mounting(history, mounted),
        then.air,
        at_utc=then.at_utc,
        lead_time=then.leads.get(key),
        last_inspection=latest_inspection(asked.seen[key], mounted),
        since=_since(work, asked, known, first, then),
    )
    earlier = asked.group.earlier.get(key, ())
    changes = (
        *arrival(asked.group.stays, asked.at_utc),
        *work_changes(work, earlier, asked.at_utc),
    )
    return replace(judged, changes=changes, known_until_utc=first.at_utc)


def _since(
    work: Work, asked: Question, known: _Known, first: _Stretch, then: _Stretch
) -> SinceLook | None:
    """Return what was so since the last look or read-out; None where the work was not mounted."""
    key = work.work_id
    state = then.run.last.states.get(key)
    if state is None:
        return None
    since = asked.since_utc(work)
    draws = known.draws[key]
    weight = known.weights.get(key, np.full(draws.n, 1.0 / draws.n))
    hours = (then.at_utc - since) / HOUR
    unknown = {name: draws[name] for name in _unknown(work, then is not first)}
    low, high = ends_of_chance(state, weight, hours, unknown)
    chances = shares_within(state, weight, hours)
    found = known.since(work, first.air, first.run, since, chances[0])
    if then is not first:
        found = found.then(Shown.within(then.run, key, since))
    return SinceLook(
        since,
        *chances,
        shown_utc=found.shown_utc,
        beyond_utc=found.beyond_utc,
        p_low=low,
        p_high=high,
        inspected=bool(asked.seen[key]),
    )


def _unknown(work: Work, carried: bool) -> list[str]:
    """Return the parameters that stand for what nobody knows of a work and its air."""
    unknown = {
        "gap_fill": carried,
        "mounted_rh_pct": not mounting_known(work),
        "closing_rh_pct": work.frame in NEEDS_CLOSING_RH and not closing_known(work),
        "half_time_h": "frame" in work.unknown,
        "panel_beta_along_cd": "panel" in work.unknown,
        "beta_cd": "paper" in work.unknown,
        "hinge_capacity_n_m": "adhesive" in work.unknown,
        "wall_factor": "wall" in work.unknown,
    }
    return [name for name, so in unknown.items() if so]


def assessed_without_figures(
    stores: Stores,
    work: Work,
    room_id: str,
    at_utc: datetime,
    seen_until: datetime,
    problem: RecordProblem | None = None,
) -> Assessed:
    """Return a work of which nothing is computed: it hangs nowhere, or its record is impossible.

    What was seen of it counts all the same.
    """
    counted = [
        one for one in counted_looks(stores, work, seen_until) if problem is None or _sound(one)
    ]
    judged = judge(
        work,
        None,
        None,
        at_utc=at_utc,
        last_inspection=latest_inspection(counted, work.mounted_utc if work.mounting_no else None),
        hung=bool(room_id),
        impossible="" if problem is None else problem.words,
    )
    return Assessed(work, room_id, judged, last=judged)


def _sound(inspection: Inspection) -> bool:
    """Whether a look can be counted although something in its work's record cannot."""
    return inspection.grade in GRADE_WORDS


def _without_air(work: Work, question: Question) -> Assessed:
    last = latest_inspection(question.seen[work.work_id], question.mounted(work))
    judged = judge(work, None, None, at_utc=question.at_utc, last_inspection=last)
    return Assessed(work, question.group.room, judged, last=judged)


def _teaches(one: Inspection) -> Seen:
    """Return what a look teaches: ridges of too much tension say nothing of slack."""
    seen = as_seen(one)
    return replace(seen, grade=None, wave_mm=None) if one.finding == TIGHT else seen
