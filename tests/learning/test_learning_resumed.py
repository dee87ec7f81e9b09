"""One more look is learned from where the looks before it ended, to the same result."""

from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from bench.calibration import room_year

from analysis.air.room_air import RoomAir
from analysis.learning import particles
from analysis.learning.inspections import Inspection
from analysis.learning.posterior import Learned, learn
from analysis.simulation.estimator import run
from analysis.simulation.pasts import pasts_of
from analysis.simulation.phases import levels_of_phases
from analysis.works import Adhesive, Finish, Paper, Work

pytestmark = pytest.mark.slow

START = datetime(2025, 1, 1, tzinfo=UTC)
N = 40
WORKS = [
    Work(
        f"R{i}",
        "Quay",
        1500.0,
        1000.0,
        Paper.FIBRE_BASE,
        Finish.GLOSSY,
        adhesive=adhesive,
        mounted_utc=START - timedelta(days=120),
        mounted_rh_pct=50.0 - 4 * i,
    )
    for i, adhesive in enumerate(Adhesive)
]
GRADES = (0, 1, 2, 3, 2)


@pytest.fixture(scope="module")
def air() -> RoomAir:
    return room_year(days=170)


def seen(work: Work, count: int) -> list[Inspection]:
    """Looks a month apart, those at the second work two hours later."""
    late = timedelta(hours=2 if work.work_id == "R1" else 0, minutes=20)
    return [
        Inspection(START + timedelta(days=30 * (i + 1)) + late, grade, wave_mm=float(grade))
        for i, grade in enumerate(GRADES[:count])
    ]


def posterior_of(
    air: RoomAir, count: int, before: dict[str, Learned] | None = None
) -> dict[str, Learned]:
    return learn(WORKS, {w.work_id: seen(w, count) for w in WORKS}, air, N, resume=before)


def same(one: Learned, other: Learned) -> bool:
    assert one.reached is not None
    assert other.reached is not None
    arrays = [
        (one.weights, other.weights),
        *((one.levels[k], other.levels[k]) for k in one.levels),
        *((one.reached.now.shown[k], other.reached.now.shown[k]) for k in one.reached.now.shown),
    ]
    ranges = [f.name for f in fields(Learned) if f.name.startswith(("slope_", "wave_", "p_rel"))]
    return all(np.allclose(a, b, rtol=1e-9, atol=1e-12) for a, b in arrays) and all(
        repr(getattr(one, name))[:12] == repr(getattr(other, name))[:12] for name in ranges
    )


def test_look_by_look_is_the_same_as_all_at_once(air: RoomAir) -> None:
    whole = posterior_of(air, len(GRADES))
    step: dict[str, Learned] = {}
    for count in (2, 3, 5):
        step = posterior_of(air, count, step)
    assert all(same(whole[w.work_id], step[w.work_id]) for w in WORKS)
    assert any(one.redrawn for one in whole.values())


def test_new_air_after_a_look_teaches_nothing_and_a_look_runs_its_own_month(
    air: RoomAir, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = posterior_of(air, 3)
    hours: list[int] = []

    def counted(*args: object, **kwargs: object) -> object:
        since, ran = kwargs["since"], args[2]
        assert isinstance(ran, RoomAir)
        begin = (
            0
            if since is None
            else np.searchsorted(
                ran.time_utc,
                np.datetime64(since.time_utc.replace(tzinfo=None)),  # type: ignore[attr-defined]
            )
        )
        hours.append(ran.hours - int(begin))
        return run(*args, **kwargs)  # type: ignore[arg-type]

    monkeypatch.setattr(particles, "run", counted)
    posterior_of(air, 3, before)
    assert hours == []
    again = posterior_of(air, 4, before)
    plain = [one for one in hours if one < 32 * 24]
    assert len(plain) >= 4  # both works, before and after learning: a month each
    assert all(again[w.work_id].reached is not None for w in WORKS)


def test_draws_that_read_otherwise_read_as_the_chain_would(air: RoomAir) -> None:
    """Season and path moved without running the chain: the same as running it."""
    looked = particles.Inspected(WORKS[0], (), tuple(seen(WORKS[0], 4)))
    rng = np.random.default_rng(1)

    levels = levels_of_phases(WORKS[0], (), N)
    now = particles.simulated([looked], [levels], air, pasts_of(air), [4])[0]
    other = {**levels, **{name: rng.random(N) for name in particles.SEEN_ONLY}}
    ran = particles.simulated([looked], [other], air, pasts_of(air), [4])[0]
    read = particles.seen_otherwise(looked, now, other)
    for name in ("slope_mrad", "wave_mm"):
        assert read.shown[name] == pytest.approx(ran.shown[name], rel=1e-6, abs=1e-6)
    assert replace(read, shown={}).levels.keys() == ran.levels.keys()
