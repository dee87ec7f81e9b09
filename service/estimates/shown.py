"""When waves showed, and when it was too damp to tell, since somebody last looked.

The last weeks are found in the run that is at hand. What lies before it was found when that was at
hand, and is kept by the week; only where nothing kept holds is the record worked out from its
start, once.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from analysis.air.room_air import RoomAir
from analysis.answers.since_inspection import HALF, beyond_the_model, shown_between
from analysis.results import Floats
from analysis.simulation.checkpoints import instant
from analysis.simulation.estimator import Run, run
from analysis.simulation.pasts import pasts_of
from analysis.simulation.phases import DrawnPhase
from analysis.simulation.priors import Draws
from analysis.works import Work
from service.estimates.fingerprints import program
from service.storage.results import Result, Results

# A print is not damper than its room for long: below this no hour of it is beyond the model.
DAMP_PCT = 80.0
# Weeks kept of a work: those of its checkpoints, for the present and for a page of the past.
KEEP_WEEKS = 16
HOUR = timedelta(hours=1)
Span = tuple[datetime, datetime]


@dataclass(frozen=True)
class Shown:
    """First and last hour in which waves were more likely than not; last hour too damp to tell."""

    shown_utc: Span | None = None
    beyond_utc: datetime | None = None

    def then(self, later: "Shown") -> "Shown":
        """Return the same with what followed."""
        both = self.shown_utc or later.shown_utc
        if both is not None and later.shown_utc is not None:
            both = (both[0], later.shown_utc[1])
        return Shown(both, later.beyond_utc or self.beyond_utc)

    @classmethod
    def within(
        cls, found: Run, work_id: str, since_utc: datetime, until_utc: datetime | None = None
    ) -> "Shown":
        """Return what the hours of a run show of a work after an instant, up to another."""
        count = len(found.time_utc)
        if until_utc is not None:
            count = int(np.searchsorted(found.time_utc, _second(until_utc), "right"))
        time, sums = found.time_utc[:count], found.hourly[work_id][:, :count]
        return cls(shown_between(time, sums, since_utc), beyond_the_model(time, sums, since_utc))


def shown_since(
    results: Results,
    work: Work,
    draws: Draws,
    weights: Floats | None,
    air: RoomAir,
    earlier: Sequence[DrawnPhase],
    found: Run,
    since_utc: datetime,
    chance: float,
    weeks: Mapping[datetime, str],
) -> Shown:
    """Return when waves showed since an instant, and when it was too damp to tell.

    Parameters
    ----------
    found : Run
        The work carried to the last hour of the air, at least through the last days of it.
    chance : float
        Chance that waves showed since then: where it is small, no hour can show them.
    weeks : mapping of datetime to str
        Monday → a name for all that the work's state then rests on, as
        `service.estimates.checkpoints.week_names`.
    """
    key = work.work_id
    at_hand = instant(found.time_utc[0]) - HOUR
    if chance <= HALF and not _damp_between(air, since_utc, at_hand):
        return Shown.within(found, key, max(since_utc, at_hand))
    stored = _stored(results, key, since_utc, weeks)
    after, before = since_utc, Shown()
    if since_utc < at_hand:
        holding = [week for week in stored if week >= at_hand]
        if holding:
            after = max(holding)
            before = stored[after]
        else:
            found = _from_the_start(work, draws, weights, air, earlier)
    new = {
        week: before.then(Shown.within(found, key, after, week))
        for week in sorted(weeks)[-KEEP_WEEKS // 2 :]
        if week > after and week not in stored
    }
    if new:
        _store(results, key, since_utc, new, weeks)
    return before.then(Shown.within(found, key, after))


def _from_the_start(
    work: Work,
    draws: Draws,
    weights: Floats | None,
    air: RoomAir,
    earlier: Sequence[DrawnPhase],
) -> Run:
    """Return a work carried through its whole record, without ranges."""
    key = work.work_id
    return run(
        [work],
        {key: draws},
        air,
        weights=None if weights is None else {key: weights},
        detail_from=instant(air.time_utc[-1]),
        keep_weeks=0,
        earlier={key: tuple(earlier)},
        pasts=pasts_of(air),
    )


def _stored(
    results: Results, work_id: str, since_utc: datetime, weeks: Mapping[datetime, str]
) -> dict[datetime, Shown]:
    """Return what is kept since an instant, by the week up to which it reaches, where it holds."""
    result = results.load(f"shown/{work_id}", program()) or Result()
    found = {}
    for week, name in weeks.items():
        entry = result.facts.get(_entry_name(week, since_utc))
        if entry is not None and entry["of"] == name:
            found[week] = _shown(entry)
    return found


def _store(
    results: Results,
    work_id: str,
    since_utc: datetime,
    new: Mapping[datetime, Shown],
    weeks: Mapping[datetime, str],
) -> None:
    """Keep what was found up to some weeks beside what was kept, the latest weeks of all."""
    before = results.load(f"shown/{work_id}", program()) or Result()
    facts = dict(before.facts)
    for week, shown in new.items():
        facts[_entry_name(week, since_utc)] = {"of": weeks[week], **_facts(shown)}
    latest = sorted(facts)[-KEEP_WEEKS:]
    results.save(
        f"shown/{work_id}", program(), Result(facts={name: facts[name] for name in latest})
    )


def _entry_name(week: datetime, since_utc: datetime) -> str:
    return f"{week.date()} since {since_utc.isoformat()}"


def _damp_between(air: RoomAir, first: datetime, last: datetime) -> bool:
    within = (air.time_utc >= _second(first)) & (air.time_utc <= _second(last))
    return bool((within & (air.rh_high_pct > DAMP_PCT)).any())


def _second(when: datetime) -> np.datetime64:
    return np.datetime64(int(when.timestamp()), "s")


def _facts(found: Shown) -> dict[str, Any]:
    shown, beyond = found.shown_utc, found.beyond_utc
    return {
        "shown": None if shown is None else [one.isoformat() for one in shown],
        "beyond": None if beyond is None else beyond.isoformat(),
    }


def _shown(stored: Mapping[str, Any]) -> Shown:
    shown, beyond = stored["shown"], stored["beyond"]
    return Shown(
        None if shown is None else (_time(shown[0]), _time(shown[1])),
        None if beyond is None else _time(beyond),
    )


def _time(text: str) -> datetime:
    return datetime.fromisoformat(text)
