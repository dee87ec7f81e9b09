"""Stores → analysis → results: which works are still taut at a time, and why.

One function judges for every surface. A work is carried through the readings of its rooms to the
last one that may be used, and from there to the hour asked for through a band about what its room
does at that season (`analysis.air.ahead`). Both hours are judged: the second is the answer, the
first the last answer from readings.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from analysis.air.ahead import ends_at
from analysis.air.room_air import RoomAir, part_of
from analysis.answers.judgement import JudgementLimits, judge
from analysis.answers.left_until import left_until
from analysis.answers.since_inspection import HALF, ends_of_chance, shares_within
from analysis.answers.work_changes import work_changes
from analysis.learning.grades import GRADE_WORDS
from analysis.learning.posterior import Learned
from analysis.records.inspection_records import Inspection
from analysis.results import ChangeAt, History, Judgement, SinceLook
from analysis.simulation.checkpoints import Checkpoint, instant
from analysis.simulation.histories import since_mounting
from analysis.simulation.phases import DrawnPhase
from analysis.simulation.priors import Draws
from analysis.simulation.refusals import closing_known, mounting_known
from analysis.works import NEEDS_CLOSING_RH, Work
from service.climate.room_readings import full_hour
from service.estimates.hanging_history import arrival
from service.estimates.last_reading import (
    GOES_ON,
    AskAnewError,
    Reached,
    Record,
    Stretch,
    carried_further,
    learned_of,
    reached_in,
    weight_of,
)
from service.estimates.questions import HOUR, Question, counted_looks
from service.estimates.record_problems import NOT_COMPUTED, RecordProblem, latest_inspection
from service.estimates.shown import Shown
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


@dataclass(frozen=True)
class Later:
    """Works that were carried to their last reading, and a later hour that is asked about."""

    reached: Reached
    at_utc: datetime


def assess_each(results: Results, question: Question) -> list[Assessed | RecordProblem]:
    """Return what can be said of each work; where one cannot be computed, the others go on.

    Nothing is read but what was kept of earlier answers, so that it can be worked out anywhere.
    """
    found: list[Assessed | RecordProblem] = []
    for one in _parts(results, question):
        found += [one] if isinstance(one, RecordProblem) else one.found
    return found


def begin_each(results: Results, question: Question) -> "list[Begun | RecordProblem]":
    """Return the same with what a later hour goes on from; neither holds the air before."""
    return [
        one if isinstance(one, RecordProblem) else one.without_past_air()
        for one in _parts(results, question, GOES_ON)
    ]


def go_on(_results: Results, later: Later) -> list[Assessed] | None:
    """Return the same as `assess` at a later hour of works carried to their last reading.

    None: the hour cannot be told from there, and the question is to be asked anew.
    """
    reached = later.reached
    asked = replace(reached.question, at_utc=later.at_utc)
    try:
        return [without_past_air(one) for one in _judged_at(asked, reached)]
    except AskAnewError:
        return None


def assess(results: Results, question: Question) -> list[Assessed]:
    """Return what can be said at a time of works that have had the same air."""
    return list(_begun(results, question, timedelta(0)).found)


@dataclass(frozen=True)
class Begun:
    """What was found of works, and where a later hour goes on; None where nothing was carried."""

    reached: Reached | None
    found: Sequence[Assessed]

    def without_past_air(self) -> "Begun":
        """Return the same without the air before the last hours."""
        reached = None if self.reached is None else self.reached.without_past_air()
        return Begun(reached, [without_past_air(one) for one in self.found])


def _parts(
    results: Results, question: Question, goes_on: timedelta = timedelta(0)
) -> list[Begun | RecordProblem]:
    """Return what is found of works together, or of each alone where one cannot be computed."""
    try:
        return [_begun(results, question, goes_on)]
    except NOT_COMPUTED as problem:
        if len(question.group.works) > 1:
            return [one for alone in question.each() for one in _parts(results, alone, goes_on)]
        return [RecordProblem.of(question.group.works[0].work_id, problem)]


def _begun(results: Results, question: Question, goes_on: timedelta) -> Begun:
    if question.air is None:
        return Begun(None, [_without_air(work, question) for work in question.group.works])
    reached, record = reached_in(results, question, question.air, goes_on)
    found = _judged_at(question, reached, record)
    last = {one.work.work_id: one.last for one in found if one.last is not None}
    since = {**reached.since, **record.found}
    return Begun(replace(reached, last=last, since=since), found)


def _judged_at(asked: Question, reached: Reached, record: Record | None = None) -> list[Assessed]:
    """Return works at the hour asked for, carried on from their last reading if it is later.

    Of a crate or of another house nobody knows what its air usually does: nothing is carried on.
    """
    first, later = reached.first, full_hour(asked.at_utc) > reached.first.at_utc
    then = first
    if later and not asked.elsewhere:
        then = carried_further(reached, ends_at(reached.ahead, asked.at_utc))
    found = [_assessed(work, asked, reached, then, record) for work in asked.group.works]
    if later and asked.elsewhere:
        unknown = (_without_air(one.work, asked).judgement for one in found)
        return [replace(one, judgement=now) for one, now in zip(found, unknown, strict=True)]
    return _left_no_longer_than_the_band(found, reached, then)


def _assessed(
    work: Work, asked: Question, reached: Reached, then: Stretch, record: Record | None
) -> Assessed:
    """Return one work, judged at the last reading and at the hour asked for."""
    first, known, key = reached.first, reached.known, work.work_id
    last = reached.last.get(key) or _judged(work, asked, reached, first, record)
    last = replace(last, changes=_changes(work, asked))
    now = last if then is first else _judged(work, asked, reached, then, record)
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
    """Return a work without its ``air``: ten years of it hold five times as much as all else.

    Nor does it hold where learning stands, which is kept for the next look by itself.
    """
    learned = one.learned and replace(one.learned, reached=None)
    return replace(one, air=None, learned=learned)


def _left_no_longer_than_the_band(
    found: Sequence[Assessed], reached: Reached, then: Stretch
) -> list[Assessed]:
    """Return the same, works left no longer than what their room may do till then allows."""
    known, limits = reached.known, JudgementLimits()
    left = [one.work for one in found if one.judgement.look_again_utc is not None]
    ahead, until = reached.ahead, then.at_utc + timedelta(days=limits.latest_days)
    if left and instant(ahead.time_utc[-1]) < full_hour(until):
        raise AskAnewError
    watched = left_until(
        left,
        known.draws,
        then.run.last,
        then.air,
        limits,
        weights=known.weights,
        earlier=known.earlier,
        ahead=ahead,
    )
    return [_no_later(one, watched.get(one.work.work_id)) for one in found]


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
    return learned_of(results, question, question.air, question.before)


def _judged(
    work: Work, asked: Question, reached: Reached, then: Stretch, record: Record | None
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
        since=_since(work, asked, reached, then, record),
    )
    changes = _changes(work, asked)
    return replace(judged, changes=changes, known_until_utc=reached.first.at_utc)


def _changes(work: Work, asked: Question) -> tuple[ChangeAt, ...]:
    earlier = asked.group.earlier.get(work.work_id, ())
    return (
        *arrival(asked.group.stays, asked.at_utc),
        *work_changes(work, earlier, asked.at_utc),
    )


def _since(
    work: Work, asked: Question, reached: Reached, then: Stretch, record: Record | None
) -> SinceLook | None:
    """Return what was so since the last look or read-out; None where the work was not mounted."""
    key, known = work.work_id, reached.known
    state = then.run.last.states.get(key)
    if state is None:
        return None
    read = reached.since.get(key)
    if read is None and record is None:
        raise AskAnewError
    since = asked.since_utc(work) if read is None else read.since_utc
    weight, hours = weight_of(work, known), (then.at_utc - since) / HOUR
    carried = then is not reached.first
    unknown = {name: known.draws[key][name] for name in _unknown(work, carried)}
    low, high = ends_of_chance(state, weight, hours, unknown)
    chances = shares_within(state, weight, hours)
    if read is None or read.likely != (chances[0] > HALF):
        if record is None:
            raise AskAnewError
        read = record.since(work, since, chances[0])
    found = read.shown.then(Shown.within(then.run, key, since)) if carried else read.shown
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
