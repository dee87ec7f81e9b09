"""Learning over a work's life: mounted anew it has new hinges, and is the same sheet."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from bench.calibration import MOUNTED, START, room_year

from analysis.air.room_air import RoomAir
from analysis.learning.inspections import Inspection
from analysis.learning.particles import Inspected
from analysis.learning.posterior import Learned, learn, until
from analysis.simulation.drawn_parameters import UNITS
from analysis.simulation.phases import Phase, levels_of_phases
from analysis.simulation.redraw import draws_from
from analysis.works import Finish, FrameBuild, Mount, Paper, Work

N = 60
FIRST = Work(
    "P1",
    "Pier head",
    1500.0,
    1000.0,
    Paper.FIBRE_BASE,
    Finish.GLOSSY,
    mounted_utc=MOUNTED,
    mounted_rh_pct=48.0,
)
ANEW = START + timedelta(days=100)
NOW = replace(FIRST, mounting_no=1, mounted_utc=ANEW, mounted_rh_pct=52.0, frame=FrameBuild.D)
EARLIER = [Phase(FIRST, ANEW)]
EARLY = [START + timedelta(days=d) for d in (30, 60, 90)]
LATE = [START + timedelta(days=d) for d in (160, 175)]


@pytest.fixture(scope="module")
def air() -> RoomAir:
    return until(room_year(), START + timedelta(days=180))


def posterior_of(
    air: RoomAir, seen: list[Inspection], earlier: list[Phase] | None = None
) -> Learned:
    phases = None if earlier is None else {NOW.work_id: earlier}
    return learn([NOW], {NOW.work_id: seen}, air, N, earlier=phases)[NOW.work_id]


def flat(*grades: int) -> list[Inspection]:
    return [Inspection(at, grade) for at, grade in zip(EARLY, grades, strict=False)]


def same(a: Learned, b: Learned) -> bool:
    return np.array_equal(a.weights, b.weights) and all(
        np.array_equal(a.draws[name], b.draws[name], equal_nan=True) for name in UNITS
    )


def test_no_earlier_phases_is_the_same_as_none_to_the_bit(air: RoomAir) -> None:
    seen = [Inspection(at, 2) for at in LATE]
    assert same(posterior_of(air, seen), posterior_of(air, seen, []))


def test_looks_before_it_was_mounted_anew_teach_only_where_that_life_is_known(air: RoomAir) -> None:
    unknown, known = posterior_of(air, flat(3, 3, 3)), posterior_of(air, flat(3, 3, 3), EARLIER)
    assert np.allclose(unknown.weights, 1.0 / N)
    assert known.after["beta_cd"] != known.before["beta_cd"]
    assert known.slope_after_mrad is not None
    assert known.slope_after_mrad.mid > 10.0


def test_what_was_learned_of_the_sheet_goes_with_it_and_the_rest_is_doubted_anew(
    air: RoomAir,
) -> None:
    known = posterior_of(air, flat(3, 3, 3), EARLIER)
    before = draws_from(FIRST, known.levels)
    assert np.array_equal(known.draws["beta_cd"], before["beta_cd"])
    assert not np.array_equal(known.draws["prestrain"], before["prestrain"])
    middle = [known.before["prestrain"].mid, known.after["prestrain"].mid]
    assert np.ptp(middle) < 0.5 * (known.before["prestrain"].high - known.before["prestrain"].low)


def test_the_levels_cover_all_doubts_now_and_before(air: RoomAir) -> None:
    found = posterior_of(air, flat(0), EARLIER)
    assert set(found.levels) == set(levels_of_phases(NOW, EARLIER, 2))
    assert "prestrain, mounting 1" in found.levels
    assert "prestrain" in found.levels


def test_hinges_that_let_go_were_replaced_with_the_mounting(air: RoomAir) -> None:
    gone = [Inspection(EARLY[1], 4, released=True)]
    after = [*gone, Inspection(LATE[1], 0)]
    known = posterior_of(air, after, EARLIER)
    old = draws_from(FIRST, known.levels)["hinge_capacity_n_m"]
    new = known.draws["hinge_capacity_n_m"]
    assert np.average(old, weights=known.weights) < np.average(new, weights=known.weights)
    assert known.p_released_before is not None
    assert known.p_released_after is not None
    assert known.p_released_after < 0.7 * known.p_released_before


def test_each_look_falls_under_its_own_mounting() -> None:
    reframed = [Phase(replace(FIRST, frame=FrameBuild.E), EARLY[0]), *EARLIER]
    seen = tuple(Inspection(at, 0) for at in [EARLY[0] - timedelta(days=1), *EARLY, *LATE])
    looked = Inspected(NOW, tuple(reframed), seen)
    assert looked.mountings() == [0, 0, 0, 0, 1, 1]


def test_a_time_in_a_window_mount_teaches_nothing(air: RoomAir) -> None:
    loose = [Phase(replace(FIRST, mount=Mount.WINDOW), ANEW)]
    assert np.allclose(posterior_of(air, flat(3, 3), loose).weights, 1.0 / N)
