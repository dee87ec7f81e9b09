"""What inspections taught of each work, kept until the work, its air or an inspection changes."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from typing import Any

import numpy as np

from analysis.air.room_air import RoomAir
from analysis.learning.particles import Particles
from analysis.learning.posterior import (
    Inspection,
    Learned,
    Reached,
    learn,
    learning_release,
    standing,
    until,
)
from analysis.learning.weighted import weighted_range
from analysis.results import Floats, Range
from analysis.simulation.pasts import pasts_of
from analysis.simulation.phases import Phase, levels_of_phases, mounted_anew, phases_at
from analysis.simulation.priors import Draws, draw
from analysis.simulation.redraw import draws_from
from analysis.works import Work
from service.estimates.fingerprints import air_between, work_facts
from service.storage.results import Result, Results

Phased = tuple[Work, Sequence[Phase]]
RANGES = ("before", "after")
LEVEL = "level of "
# Where learning stands: what the draws before and after it show at each look, and their state.
SHOWN_BY, STATE_OF = "shown by {} ", "state of {}"
OF_REACHED = ("shown by ", "state of ")
NEWEST = 6  # looks that may be new at once and still go on from what was kept
AT_LAST_LOOK = ("slope_before_mrad", "slope_after_mrad", "wave_before_mm", "wave_after_mm")
RELEASED = ("p_released_before", "p_released_after")


def learned_draws(
    results: Results,
    works: Sequence[Work],
    inspections: Mapping[str, Sequence[Inspection]],
    air: RoomAir,
    draws: int,
    earlier: Mapping[str, Sequence[Phase]] | None = None,
) -> dict[str, Learned]:
    """Return what is known of each inspected work's parameters after its inspections.

    What was learned rests on the work as it was at its last inspection and before; mounted or
    framed anew since, what was learned of the sheet goes with it.
    """
    seen = {w.work_id: counted for w in works if (counted := standing(inspections[w.work_id]))}
    phased = {
        w.work_id: phases_at(w, (earlier or {}).get(w.work_id, ()), seen[w.work_id][-1].at_utc)
        for w in works
        if w.work_id in seen
    }
    asked = {key: _inputs(*phased[key], counted, air, draws) for key, counted in seen.items()}
    found: dict[str, Learned] = {}
    for key, counted in seen.items():
        stored = results.load(_name(key, len(counted)), asked[key])
        if stored is not None:
            found[key] = _from_result(key, counted, stored)
    missing = [key for key in seen if key not in found]
    if missing:
        resume = {
            key: before
            for key in missing
            if (before := _reached(results, key, works, seen[key], air, draws, earlier)) is not None
        }
        new = _learn(missing, phased, inspections, air, draws, resume)
        for key, learned in new.items():
            _keep(results, key, len(seen[key]), asked[key], learned)
        found |= new
    return {w.work_id: _carried(found[w.work_id], w, phased) for w in works if w.work_id in found}


def _learn(
    missing: Sequence[str],
    phased: Mapping[str, Phased],
    inspections: Mapping[str, Sequence[Inspection]],
    air: RoomAir,
    draws: int,
    resume: Mapping[str, Learned],
) -> dict[str, Learned]:
    """Return what inspections teach of works, going on from what is kept of earlier looks."""
    return learn(
        [phased[key][0] for key in missing],
        {key: inspections[key] for key in missing},
        air,
        draws,
        earlier={key: phased[key][1] for key in missing},
        resume=resume,
    )


def _reached(
    results: Results,
    key: str,
    works: Sequence[Work],
    counted: Sequence[Inspection],
    air: RoomAir,
    draws: int,
    earlier: Mapping[str, Sequence[Phase]] | None,
) -> Learned | None:
    """Return what is kept of a work's looks before the newest few, where it still holds."""
    work = next(one for one in works if one.work_id == key)
    for count in range(len(counted) - 1, max(len(counted) - 1 - NEWEST, 0), -1):
        first = counted[:count]
        phased_work = phases_at(work, (earlier or {}).get(key, ()), first[-1].at_utc)
        stored = results.load(_name(key, count), _inputs(*phased_work, first, air, draws))
        if stored is not None:
            prior = levels_of_phases(*phased_work, draws)
            return _with_reached(_from_result(key, first, stored), stored, prior)
    return None


def _with_reached(learned: Learned, stored: Result, prior: Mapping[str, Floats]) -> Learned:
    """Return what was learned with where learning stands, from which one more look goes on."""
    found = []
    for which, levels in (("prior", prior), ("now", learned.levels)):
        begin = SHOWN_BY.format(which)
        shown = {k.removeprefix(begin): v for k, v in stored.arrays.items() if k.startswith(begin)}
        found.append(Particles(levels, shown, stored.arrays.get(STATE_OF.format(which))))
    return replace(learned, reached=Reached(*found)) if found[0].shown else learned


def _carried(learned: Learned, work: Work, phased: Mapping[str, Phased]) -> Learned:
    """Return what was learned of a work as it was for the work as it is.

    Mounted anew it has new hinges, of which nothing was learned.
    """
    seen = phased[work.work_id][0]
    if seen == work:
        return learned
    prior = draw(work, learned.draws.n)
    drawn = draws_from(work, learned.levels)
    hinges: dict[str, Any] = dict.fromkeys(RELEASED) if mounted_anew(seen, work) else {}
    return replace(
        learned,
        draws=drawn,
        before={name: weighted_range(prior[name]) for name in learned.before},
        after={name: weighted_range(drawn[name], learned.weights) for name in learned.after},
        **hinges,
    )


def _inputs(
    work: Work,
    earlier: Sequence[Phase],
    counted: Sequence[Inspection],
    air: RoomAir,
    draws: int,
) -> str:
    part = until(air, counted[-1].at_utc)
    before = [f"{work_facts(one.work)} until {one.until_utc.isoformat()}" for one in earlier]
    heard = air_between(part, 0, part.hours, pasts_of(air).digest + repr(air.checked_utc))
    return "/".join(
        (LEVEL, learning_release(), *before, work_facts(work), repr(counted), str(draws), heard)
    )


def _as_result(learned: Learned) -> Result:
    facts = {name: {k: asdict(r) for k, r in getattr(learned, name).items()} for name in RANGES}
    shown = {name: getattr(learned, name) for name in AT_LAST_LOOK}
    return Result(
        {
            **learned.draws.values,
            "weights": learned.weights,
            **{LEVEL + name: level for name, level in learned.levels.items()},
            **_reached_arrays(learned),
        },
        {
            **facts,
            **{name: None if r is None else asdict(r) for name, r in shown.items()},
            **{name: getattr(learned, name) for name in RELEASED},
            "release": learned.draws.release,
            "effective": float(learned.effective),
            "redrawn": int(learned.redrawn),
        },
    )


def _reached_arrays(learned: Learned) -> dict[str, Floats]:
    """Return the arrays from which one more look is learned."""
    if learned.reached is None:
        return {}
    arrays: dict[str, Floats] = {}
    for which, one in (("prior", learned.reached.prior), ("now", learned.reached.now)):
        arrays |= {SHOWN_BY.format(which) + name: values for name, values in one.shown.items()}
        if one.state is not None:
            arrays[STATE_OF.format(which)] = one.state
    return arrays


def _from_result(work_id: str, seen: Sequence[Inspection], stored: Result) -> Learned:
    arrays = {
        name: np.asarray(array)
        for name, array in stored.arrays.items()
        if name != "weights" and not name.startswith(OF_REACHED)
    }
    values = {name: array for name, array in arrays.items() if not name.startswith(LEVEL)}
    levels = {k.removeprefix(LEVEL): v for k, v in arrays.items() if k.startswith(LEVEL)}
    facts = stored.facts
    ranges = {name: {k: Range(**r) for k, r in facts[name].items()} for name in RANGES}
    released: dict[str, Any] = {name: facts[name] for name in RELEASED}
    released |= {n: None if facts[n] is None else Range(**facts[n]) for n in AT_LAST_LOOK}
    return Learned(
        work_id=work_id,
        draws=Draws(work_id, facts["release"], values),
        weights=np.asarray(stored.arrays["weights"]),
        used=tuple(seen),
        effective=facts["effective"],
        redrawn=facts["redrawn"],
        before=ranges["before"],
        after=ranges["after"],
        levels=levels,
        **released,
    )


def _keep(results: Results, work_id: str, looks: int, inputs: str, learned: Learned) -> None:
    """Keep what so many looks taught, beside what is kept of a few other numbers of looks.

    A question about the past, which knows fewer looks, thus takes nothing from the present.
    """
    results.save(_name(work_id, looks), inputs, _as_result(learned))
    begin = _name(work_id, "")
    ends = (one.removeprefix(begin) for one in results.names(begin.removesuffix("/")))
    counts = sorted(int(end) for end in ends if end.isdigit())
    for count in counts[:-NEWEST]:
        if count != looks:
            results.forget(_name(work_id, count))


def _name(work_id: str, looks: int | str) -> str:
    return f"learned/{work_id}/{looks}"
