"""What inspections taught of each work, kept until the work, its air or an inspection changes."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict

import numpy as np

from analysis.learning import Inspection, Learned, learn, standing, until
from analysis.priors import Draws
from analysis.results import Range
from analysis.room_air import RoomAir
from analysis.works import Work
from service.fingerprints import air_between, work_facts
from service.storage.results import Result
from service.storage.stores import Stores

RANGES = ("before", "after")
LEVEL = "level of "
SLOPES = ("slope_before_mrad", "slope_after_mrad")


def learned_draws(
    stores: Stores,
    works: Sequence[Work],
    inspections: Mapping[str, Sequence[Inspection]],
    air: RoomAir,
    draws: int,
) -> dict[str, Learned]:
    """Return what is known of each inspected work's parameters after its inspections."""
    asked = {w.work_id: _inputs(w, inspections[w.work_id], air, draws) for w in works}
    found: dict[str, Learned] = {}
    missing: list[Work] = []
    for work in works:
        seen = standing(inspections[work.work_id])
        if not seen:
            continue
        kept = stores.results.load(_name(work.work_id), asked[work.work_id])
        if kept is None:
            missing.append(work)
        else:
            found[work.work_id] = _from_result(work.work_id, seen, kept)
    if missing:
        new = learn(missing, {w.work_id: inspections[w.work_id] for w in missing}, air, draws)
        for work_id, learned in new.items():
            stores.results.save(_name(work_id), asked[work_id], _as_result(learned))
        found |= new
    return found


def _inputs(work: Work, seen: Sequence[Inspection], air: RoomAir, draws: int) -> str:
    counted = standing(seen)
    if not counted:
        return ""
    part = until(air, counted[-1].at_utc)
    grades = repr([(one.at_utc.isoformat(), one.grade) for one in counted])
    return "/".join((LEVEL, work_facts(work), grades, str(draws), air_between(part, 0, part.hours)))


def _as_result(learned: Learned) -> Result:
    facts = {name: {k: asdict(r) for k, r in getattr(learned, name).items()} for name in RANGES}
    slopes = {name: getattr(learned, name) for name in SLOPES}
    return Result(
        {
            **learned.draws.values,
            "weights": learned.weights,
            **{LEVEL + name: level for name, level in learned.levels.items()},
        },
        {
            **facts,
            **{name: None if r is None else asdict(r) for name, r in slopes.items()},
            "release": learned.draws.release,
            "effective": float(learned.effective),
            "redrawn": int(learned.redrawn),
        },
    )


def _from_result(work_id: str, seen: Sequence[Inspection], kept: Result) -> Learned:
    arrays = {name: np.asarray(array) for name, array in kept.arrays.items() if name != "weights"}
    values = {name: array for name, array in arrays.items() if not name.startswith(LEVEL)}
    levels = {k.removeprefix(LEVEL): v for k, v in arrays.items() if k.startswith(LEVEL)}
    facts = kept.facts
    ranges = {name: {k: Range(**r) for k, r in facts[name].items()} for name in RANGES}
    slopes = {name: None if facts[name] is None else Range(**facts[name]) for name in SLOPES}
    return Learned(
        work_id=work_id,
        draws=Draws(work_id, facts["release"], values),
        weights=np.asarray(kept.arrays["weights"]),
        used=tuple(seen),
        effective=facts["effective"],
        redrawn=facts["redrawn"],
        before=ranges["before"],
        after=ranges["after"],
        slope_before_mrad=slopes["slope_before_mrad"],
        slope_after_mrad=slopes["slope_after_mrad"],
        levels=levels,
    )


def _name(work_id: str) -> str:
    return f"learned/{work_id}"
