"""When waves showed, and when it was too damp to tell, since somebody last looked.

The last days are found in the run that is at hand. What lies before them is worked out once, from
the start of the record and without ranges, and kept until the work, its air or the span changes.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from analysis.air.room_air import RoomAir
from analysis.answers.since_inspection import HALF, beyond_the_model, shown_between
from analysis.results import Floats
from analysis.simulation.checkpoints import instant
from analysis.simulation.estimator import Run, run
from analysis.simulation.phases import DrawnPhase
from analysis.simulation.priors import Draws
from analysis.works import Work
from service.estimates.fingerprints import air_between, facts_at, life_facts, program
from service.storage.results import Result
from service.storage.stores import Stores

# Hours that every run at hand holds.
AT_HAND = timedelta(days=8)
# A print is not damper than its room for long: below this no hour of it is beyond the model.
DAMP_PCT = 80.0
Span = tuple[datetime, datetime]


@dataclass(frozen=True)
class Shown:
    """First and last hour in which waves were more likely than not; last hour too damp to tell."""

    shown_utc: Span | None = None
    beyond_utc: datetime | None = None

    def then(self, shown: Span | None, beyond: datetime | None) -> "Shown":
        """Return the same with what followed."""
        both = self.shown_utc or shown
        if both is not None and shown is not None:
            both = (both[0], shown[1])
        return Shown(both, beyond or self.beyond_utc)


def shown_since(
    stores: Stores,
    work: Work,
    draws: Draws,
    weights: Floats | None,
    air: RoomAir,
    earlier: Sequence[DrawnPhase],
    found: Run,
    since_utc: datetime,
    chance: float,
) -> Shown:
    """Return when waves showed since an instant, and when it was too damp to tell.

    Parameters
    ----------
    found : Run
        The work carried to the last hour of the air, at least through the last days of it.
    chance : float
        Chance that waves showed since then: where it is small, no hour can show them.
    """
    last = instant(air.time_utc[-1])
    lately = max(since_utc, last - AT_HAND)
    sums = found.hourly[work.work_id]
    near = Shown(
        shown_between(found.time_utc, sums, lately), beyond_the_model(found.time_utc, sums, lately)
    )
    if since_utc >= lately or not (chance > HALF or _damp_between(air, since_utc, lately)):
        return near
    facts = facts_at(life_facts(work, draws, weights, earlier), last)
    inputs = "/".join((program(), facts, air_between(air, 0, air.hours), since_utc.isoformat()))
    name = f"shown/{work.work_id}"
    stored = stores.results.load(name, inputs)
    if stored is None:
        stored = Result(
            facts=_facts(_from_the_start(work, draws, weights, air, earlier, since_utc))
        )
        stores.results.save(name, inputs, stored)
    return _shown(stored)


def _from_the_start(
    work: Work,
    draws: Draws,
    weights: Floats | None,
    air: RoomAir,
    earlier: Sequence[DrawnPhase],
    since_utc: datetime,
) -> Shown:
    key, last = work.work_id, instant(air.time_utc[-1])
    whole = run(
        [work],
        {key: draws},
        air,
        weights=None if weights is None else {key: weights},
        detail_from=last,
        keep_weeks=0,
        earlier={key: tuple(earlier)},
    )
    sums = whole.hourly[key]
    return Shown(
        shown_between(whole.time_utc, sums, since_utc),
        beyond_the_model(whole.time_utc, sums, since_utc),
    )


def _damp_between(air: RoomAir, first: datetime, last: datetime) -> bool:
    ends = [np.datetime64(int(one.timestamp()), "s") for one in (first, last)]
    within = (air.time_utc >= ends[0]) & (air.time_utc <= ends[1])
    return bool((within & (air.rh_high_pct > DAMP_PCT)).any())


def _facts(found: Shown) -> dict[str, list[str] | str | None]:
    shown, beyond = found.shown_utc, found.beyond_utc
    return {
        "shown": None if shown is None else [one.isoformat() for one in shown],
        "beyond": None if beyond is None else beyond.isoformat(),
    }


def _shown(stored: Result) -> Shown:
    shown, beyond = stored.facts["shown"], stored.facts["beyond"]
    return Shown(
        None if shown is None else (datetime.fromisoformat(shown[0]), _time(shown[1])),
        None if beyond is None else _time(beyond),
    )


def _time(text: str) -> datetime:
    return datetime.fromisoformat(text)
