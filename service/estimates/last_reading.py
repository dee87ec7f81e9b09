"""Works carried through the readings of their rooms to the last one, and on from there.

What is found up to the last reading holds for every later hour until something is read, looked at
or written down: an hour that passes costs its own hours alone.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

import numpy as np

from analysis.air.ahead import carried_on, joined
from analysis.air.room_air import RoomAir, part_of
from analysis.answers.judgement import JudgementLimits
from analysis.answers.since_inspection import HALF, shares_within
from analysis.learning.posterior import Inspection as Seen, Learned
from analysis.records.inspection_records import TIGHT, Inspection
from analysis.results import Floats, History, Judgement, LeadTime
from analysis.simulation.checkpoints import instant
from analysis.simulation.estimator import Run, run
from analysis.simulation.histories import joined_histories
from analysis.simulation.lead_time import lead_time
from analysis.simulation.pasts import pasts_of
from analysis.simulation.phases import DrawnPhase, Phase, drawn_at, drawn_before
from analysis.simulation.priors import Draws, draw
from analysis.works import Work
from service.estimates.checkpoints import run_from_checkpoint, week_names
from service.estimates.fingerprints import air_chain
from service.estimates.learned import learned_draws
from service.estimates.questions import DETAIL, HOUR, Question
from service.estimates.record_problems import as_seen
from service.estimates.shown import Shown, shown_since
from service.storage.results import Results

# How far the air is carried on beyond what an hour needs, so that later hours go on from the same.
GOES_ON = timedelta(days=7)
TAIL_H = 200  # of the air before the last reading: a judgement tells of a week


@dataclass(frozen=True)
class Known:
    """What is known of some works before their air: by work, after what was seen of them."""

    learned: Mapping[str, Learned]
    draws: Mapping[str, Draws]
    weights: Mapping[str, Floats]
    earlier: Mapping[str, tuple[DrawnPhase, ...]]


@dataclass(frozen=True)
class Stretch:
    """Works carried to an hour: the air up to it, the run that ended there, and the lead times."""

    at_utc: datetime
    air: RoomAir
    run: Run
    leads: Mapping[str, LeadTime]
    histories: Mapping[str, History]


@dataclass(frozen=True)
class SinceRead:
    """What the hours that were read show of a work since it counts.

    ``likely``: whether waves were taken to have been more likely than not at some time since.
    """

    since_utc: datetime
    likely: bool
    shown: Shown


@dataclass(frozen=True)
class Reached:
    """Works carried to the last reading of their air, from which every later hour goes on.

    ``since`` has None for works that were not mounted by then; ``ahead`` is how the air may go on;
    ``last`` the judgements at the last reading, once they are made.
    """

    question: Question
    known: Known
    first: Stretch
    since: Mapping[str, SinceRead | None]
    ahead: RoomAir
    last: Mapping[str, Judgement] = field(default_factory=dict)

    def without_past_air(self) -> "Reached":
        """Return the same with the last hours of the air, and of the run what goes on."""
        hours = max([TAIL_H, *(len(one.time_utc) for one in self.first.histories.values())])
        tail = part_of(self.first.air, slice(-hours, None))
        none: Floats = np.empty(0)
        no_time = none.astype("datetime64[s]")
        ended = replace(self.first.run, time_utc=no_time, hourly={}, checkpoints=(), probes={})
        learned = {key: replace(one, reached=None) for key, one in self.known.learned.items()}
        return replace(
            self,
            known=replace(self.known, learned=learned),
            question=replace(self.question, air=None),
            first=replace(self.first, air=tail, run=ended),
        )


class AskAnewError(Exception):
    """An hour cannot be told from what was kept of works at their last reading."""


@dataclass(frozen=True)
class Record:
    """The whole record of some works up to the last reading, and what is kept beside it."""

    results: Results
    known: Known
    air: RoomAir
    run: Run
    weeks: Mapping[str, Mapping[datetime, str]]
    found: dict[str, SinceRead] = field(default_factory=dict)

    def of(self, work: Work, asked: Question) -> SinceRead | None:
        """Return what was read of a work since it counts; None where it was not mounted then."""
        state = self.run.last.states.get(work.work_id)
        if state is None:
            return None
        since = asked.since_utc(work)
        hours = (instant(self.air.time_utc[-1]) - since) / HOUR
        chance = shares_within(state, weight_of(work, self.known), hours)[0]
        return self.since(work, since, chance)

    def since(self, work: Work, since_utc: datetime, chance: float) -> SinceRead:
        """Return when waves showed, and when it was too damp to tell, in the hours read."""
        key, known = work.work_id, self.known
        earlier = known.earlier.get(key, ())
        shown = shown_since(
            self.results,
            work,
            known.draws[key],
            known.weights.get(key),
            self.air,
            earlier,
            self.run,
            since_utc,
            chance,
            self.weeks[key],
        )
        self.found[key] = SinceRead(since_utc, chance > HALF, shown)
        return self.found[key]


def reached_in(
    results: Results, asked: Question, air: RoomAir, goes_on: timedelta = timedelta(0)
) -> tuple[Reached, Record]:
    """Return works carried to the last reading, and their record, from which it was read.

    How their room may go on is worked out for ``goes_on`` longer than the hour asked for needs.
    """
    known, pasts = _known(results, asked, air), pasts_of(air)
    chain = air_chain(air, pasts.digest)
    held, last = asked.held, instant(air.time_utc[-1])
    names = week_names(held, known.draws, known.weights, chain, known.earlier)
    read = run_from_checkpoint(
        results,
        held,
        known.draws,
        known.weights,
        air,
        detail_from=min(last - DETAIL, asked.at_utc - asked.detail),
        earlier=known.earlier,
        before=(pasts, names),
    )
    first = _stretch(held, known, last, air, air, read, read.histories)
    record = Record(results, known, air, read, names)
    since = {one.work_id: record.of(one, asked) for one in held}
    ahead = carried_on(air, asked.at_utc + timedelta(days=JudgementLimits().latest_days) + goes_on)
    return Reached(asked, known, first, since, ahead), record


def weight_of(work: Work, known: Known) -> Floats:
    """Return the weights of a work's draws, shape (n,)."""
    n = known.draws[work.work_id].n
    return known.weights.get(work.work_id, np.full(n, 1.0 / n))


def carried_further(reached: Reached, ahead: RoomAir) -> Stretch:
    """Return works carried on from the last reading through air that nobody has read yet."""
    first, known, held = reached.first, reached.known, reached.question.held
    further = run(
        held,
        known.draws,
        ahead,
        since=first.run.last,
        weights=known.weights,
        keep_weeks=0,
        earlier=known.earlier,
    )
    histories = {
        key: joined_histories(history, further.histories[key])
        for key, history in first.histories.items()
    }
    at = instant(ahead.time_utc[-1])
    return _stretch(held, known, at, joined(first.air, ahead), ahead, further, histories)


def _stretch(
    held: Sequence[Work],
    known: Known,
    at_utc: datetime,
    air: RoomAir,
    lately: RoomAir,
    found: Run,
    histories: Mapping[str, History],
) -> Stretch:
    leads = lead_time(held, known.draws, found.last, lately, weights=known.weights) if held else {}
    return Stretch(at_utc, air, found, leads, histories)


def _known(results: Results, question: Question, air: RoomAir) -> Known:
    """Return the draws of works, now and in their phases since the air began."""
    before, draws = question.before, question.draws
    learned = learned_of(results, question, air, before)
    now, earlier = {}, {}
    for key, work in {work.work_id: work for work in question.held}.items():
        one, phases = learned.get(key), before.get(key, ())
        now[key] = draw(work, draws) if one is None else one.draws
        if phases:
            earlier[key] = (
                drawn_before(phases, draws) if one is None else drawn_at(phases, one.levels)
            )
    weights = {key: one.weights for key, one in learned.items()}
    return Known(learned, now, weights, earlier)


def learned_of(
    results: Results,
    question: Question,
    air: RoomAir,
    before: Mapping[str, Sequence[Phase]],
) -> dict[str, Learned]:
    """Return what inspections of the register taught of works."""
    held = question.held
    asked = {one.work_id: [_teaches(i) for i in question.seen[one.work_id]] for one in held}
    return learned_draws(results, held, asked, air, question.draws, before)


def _teaches(one: Inspection) -> Seen:
    """Return what a look teaches: ridges of too much tension say nothing of slack."""
    seen = as_seen(one)
    return replace(seen, grade=None, wave_mm=None) if one.finding == TIGHT else seen
