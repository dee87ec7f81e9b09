"""A work's phases: mounted, framed, hung anew, measured; each hour keeps the facts of its own."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from analysis.air.room_air import RoomAir, part_of
from analysis.errors import NotEnoughError, OutOfRangeError
from analysis.simulation import estimator, layout
from analysis.simulation.checkpoints import instant
from analysis.simulation.estimator import Run
from analysis.simulation.lead_time import lead_time
from analysis.simulation.phases import (
    DrawnPhase,
    Phase,
    drawn_at,
    drawn_before,
    levels_of_phases,
    phases_at,
)
from analysis.simulation.priors import Draws, draw
from analysis.simulation.redraw import levels_of
from analysis.works import Finish, FrameBuild, Mount, Override, Paper, Wall, Work

Knowing = Callable[..., tuple[Work, Draws]]
AirOf = Callable[..., RoomAir]

N = 24
DAYS = 60
MOUNTED = datetime(2024, 4, 1, tzinfo=UTC)
BEFORE = Work(
    "A", "Quay A", 1500.0, 1000.0, Paper.FIBRE_BASE, Finish.GLOSSY,
    mounted_utc=MOUNTED, mounted_rh_pct=48.0, frame=FrameBuild.D,
    closed_utc=MOUNTED, closing_rh_pct=48.0, spacer_mm=8.0,
)  # fmt: skip
ROW = layout.indices(layout.STATE)


@pytest.fixture(scope="module")
def air(museum_air: RoomAir) -> RoomAir:
    """Return the first sixty days of the made-up room."""
    return part_of(museum_air, slice(DAYS * 24))


def at_hour(air: RoomAir, hour: float) -> datetime:
    return instant(air.time_utc[0]) + timedelta(hours=hour)


def remounted(when: datetime, **facts: Any) -> Work:
    fresh = {"mounted_utc": when, "mounted_rh_pct": 41.0, "closed_utc": when, "mounting_no": 1}
    return replace(BEFORE, **{**fresh, "framing_no": 1, "closing_rh_pct": 42.0, **facts})


def reframed(when: datetime, rh_pct: float | None, **facts: Any) -> Work:
    return replace(BEFORE, closed_utc=when, closing_rh_pct=rh_pct, framing_no=1, **facts)


def run_life(air: RoomAir, work: Work, earlier: Sequence[Phase], **options: Any) -> Run:
    drawn = {work.work_id: drawn_before(earlier, N)}
    return estimator.run([work], {work.work_id: draw(work, N)}, air, earlier=drawn, **options)


def same(one: Run, other: Run, key: str = "A") -> bool:
    """Tell whether two runs end in the same state, with the same last hours, to the bit."""
    hours = min(one.hourly[key].shape[1], other.hourly[key].shape[1])
    a, b = (r.hourly[key][:, r.hourly[key].shape[1] - hours :] for r in (one, other))
    x, y = (r.histories[key] for r in (one, other))
    return (
        np.array_equal(one.last.states[key], other.last.states[key])
        and np.array_equal(a, b, equal_nan=True)
        and np.array_equal(x.slope_mrad[-24:], y.slope_mrad[-24:], equal_nan=True)
        and list(x.refused[-24:]) == list(y.refused[-24:])
    )


@settings(deadline=None, max_examples=8)
@given(cuts=st.lists(st.floats(-500.0, DAYS * 24.0 + 500.0), max_size=4))
def test_a_life_cut_into_equal_phases_is_the_same_to_the_bit(
    air: RoomAir, cuts: list[float]
) -> None:
    whole = run_life(air, BEFORE, [])
    cut = run_life(air, BEFORE, [Phase(BEFORE, at_hour(air, hour)) for hour in sorted(cuts)])
    assert same(whole, cut)
    for name in ("tension_n_m", "p_visible_week", "headroom_up_pct"):
        a, b = (getattr(r.histories["A"], name) for r in (whole, cut))
        assert np.array_equal(a, b, equal_nan=True)


def test_a_print_mounted_anew_begins_again_there(air: RoomAir) -> None:
    when = at_hour(air, 700)
    after = remounted(when)
    life = run_life(air, after, [Phase(BEFORE, when)])
    old, new = run_life(air, BEFORE, []), run_life(air, after, [])
    assert np.array_equal(life.hourly["A"][:, :700], old.hourly["A"][:, :700])
    assert np.array_equal(life.hourly["A"][:, 700:], new.hourly["A"][:, 700:])
    assert np.array_equal(life.last.states["A"], new.last.states["A"])
    assert set(new.histories["A"].refused[:699]) == {"not yet mounted"}
    assert life.histories["A"].refused[690] == ""
    assert life.histories["A"].print_rh_pct[701, 1] == pytest.approx(41.0, abs=2.5)


def test_a_frame_closed_anew_holds_the_air_of_its_closing(air: RoomAir) -> None:
    when = at_hour(air, 700)
    after = reframed(when, 60.0, frame=FrameBuild.E)
    before = run_life(air, BEFORE, [], week_starts=[when]).checkpoints[0].states["A"]
    life = run_life(air, after, [Phase(BEFORE, when)], week_starts=[when])
    state = life.checkpoints[0].states["A"]
    moved = [name for name, row in ROW.items() if not np.array_equal(state[row], before[row])]
    assert set(moved) <= {"psi_frame", "band_frame"}
    assert np.median(state[ROW["psi_frame"]]) == pytest.approx(0.60, abs=0.03)
    assert not state[ROW["band_frame"]].any()
    assert life.histories["A"].frame_rh_pct[720, 1] > 55.0


def test_a_closing_that_nobody_wrote_down_is_a_band_that_the_frame_forgets(air: RoomAir) -> None:
    when = at_hour(air, 700)
    builds = {build: reframed(when, None, frame=build) for build in (FrameBuild.C, FrameBuild.D)}
    wide = {}
    for build, after in builds.items():
        history = run_life(air, after, [Phase(BEFORE, when)]).histories["A"]
        assert set(history.refused[600:]) == {""}  # width, and no refusal
        wide[build] = np.ptp(history.frame_rh_pct[:, [0, 2]], axis=1)
        assert wide[build][702] > 1.2 * wide[build][690]
    for width in wide.values():
        assert width[-1] < width[702]


def test_the_band_of_an_unknown_closing_spans_print_and_room(air: RoomAir) -> None:
    when = at_hour(air, 900)
    after = reframed(when, None)
    state = run_life(air, after, [Phase(BEFORE, when)], week_starts=[when])
    kept = state.checkpoints[0].states["A"]
    recent = air.rh_low_pct[900 - 719 : 901] / 100.0
    low, high = np.quantile(recent, 0.01), np.quantile(recent, 0.99)
    width = kept[ROW["band_frame"]]
    assert np.all(width >= 0.9 * (high - low))
    frame, own = kept[ROW["psi_frame"]], kept[ROW["psi_core"]]
    offset = 0.1  # sensor offset and heat of sorption
    assert np.all(frame >= np.minimum(low, own) - offset)
    assert np.all(frame <= np.maximum(high, own) + offset)
    assert np.ptp(frame) > 0.5 * (high - low)


def test_mounted_anew_without_a_recorded_closing_the_frame_is_a_band(air: RoomAir) -> None:
    when = at_hour(air, 900)
    unrecorded = remounted(when, closed_utc=None, closing_rh_pct=None, frame=FrameBuild.D)
    life = run_life(air, unrecorded, [Phase(BEFORE, when)], week_starts=[when])
    state = life.checkpoints[0].states["A"]
    assert np.all(state[ROW["band_frame"]] > 0.02)
    assert not state[ROW["band_print"]].any()
    assert set(life.histories["A"].refused[900:]) == {""}
    at_once = replace(unrecorded, closed_utc=when)
    again = run_life(air, at_once, [Phase(BEFORE, when)], week_starts=[when]).checkpoints[0]
    assert not again.states["A"][ROW["band_frame"]].any()
    open_ = replace(unrecorded, frame=FrameBuild.B)
    unglazed = run_life(air, open_, [Phase(BEFORE, when)], week_starts=[when]).checkpoints[0]
    assert not unglazed.states["A"][ROW["band_frame"]].any()


def test_hung_on_an_outside_wall_it_grows_cold_and_its_state_goes_on(air: RoomAir) -> None:
    cold = replace(air, outdoor_temp_c=np.full(air.hours, -5.0))
    when = at_hour(air, 700)
    after = replace(BEFORE, wall=Wall.OUTSIDE_MASONRY)
    inside = run_life(cold, BEFORE, [])
    life = run_life(cold, after, [Phase(BEFORE, when)], week_starts=[when])
    assert np.array_equal(life.hourly["A"][:, :700], inside.hourly["A"][:, :700])
    kept = run_life(cold, BEFORE, [], week_starts=[when]).checkpoints[0].states["A"]
    assert np.array_equal(life.checkpoints[0].states["A"], kept)
    temp = ROW["temp_c"]
    assert np.median(life.last.states["A"][temp]) < np.median(inside.last.states["A"][temp]) - 1.0


def test_a_value_measured_later_counts_from_then_on(air: RoomAir) -> None:
    when = at_hour(air, 700)
    quick = {"half_time_h": Override(3.0, 2.5, 3.5, "logger in the frame")}
    after = replace(BEFORE, overrides=quick)
    whole, life = run_life(air, BEFORE, []), run_life(air, after, [Phase(BEFORE, when)])
    assert np.array_equal(life.hourly["A"][:, :700], whole.hourly["A"][:, :700])
    swing = [np.ptp(r.histories["A"].frame_rh_pct[800:, 1]) for r in (whole, life)]
    assert swing[1] > 1.2 * swing[0]


CHANGES: dict[str, Callable[[datetime], Work]] = {
    "mounted anew": remounted,
    "framed anew": lambda when: reframed(when, 55.0, frame=FrameBuild.E),
    "closed at an unknown humidity": lambda when: reframed(when, None),
    "mounted anew and closed days later": lambda when: remounted(
        when, closed_utc=when + timedelta(days=2.5), closing_rh_pct=None
    ),
    "mounted anew, closing unrecorded": lambda when: remounted(
        when, closed_utc=None, closing_rh_pct=None
    ),
}


def changed(air: RoomAir, kind: str, hour: float) -> tuple[Work, list[Phase]]:
    when = at_hour(air, hour)
    return CHANGES[kind](when), [Phase(BEFORE, when)]


@pytest.mark.parametrize("kind", list(CHANGES))
@pytest.mark.parametrize("hour", [24 * 33, 24 * 33 - 0.5, 24 * 36 + 7.2])
def test_the_same_to_the_bit_from_any_week(air: RoomAir, kind: str, hour: float) -> None:
    monday = next(i for i in range(24 * 33, 24 * 40) if instant(air.time_utc[i]).weekday() == 0)
    work, earlier = changed(air, kind, monday + hour - 24 * 33)
    late = at_hour(air, 24 * 54)
    whole = run_life(air, work, earlier, detail_from=late)
    assert len(whole.checkpoints) == 8
    for since in whole.checkpoints[3:7]:
        assert same(whole, run_life(air, work, earlier, since=since, detail_from=late))


def after_change(work: Work, kind: str, when: datetime) -> Work:
    """Return a work as it is after a change of a kind."""
    numbers = {"mounting_no": work.mounting_no + 1, "framing_no": work.framing_no + 1}
    anew = {"mounted_utc": when, "closed_utc": when, "mounted_rh_pct": 44.0}
    framed = {"closed_utc": when, "framing_no": work.framing_no + 1}
    facts: dict[str, dict[str, Any]] = {
        "mounted": {**anew, **numbers, "mount": Mount.TENSION_HELD},
        "loose": {**anew, **numbers, "mount": Mount.CORNER_HUNG},
        "framed": {**framed, "closing_rh_pct": 55.0, "frame": FrameBuild.E},
        "taped": {**framed, "closing_rh_pct": None, "frame": FrameBuild.D},
        "opened": {**framed, "closing_rh_pct": None, "frame": FrameBuild.A},
        "wall": {"wall": Wall.OUTSIDE_MASONRY},
        "sun": {"sun_or_spot": not work.sun_or_spot},
    }
    return replace(work, **facts[kind])


KINDS = ("mounted", "loose", "framed", "taped", "opened", "wall", "sun")


@settings(deadline=None, max_examples=10)
@given(
    changes=st.lists(
        st.tuples(st.floats(-50.0, DAYS * 24.0 + 50.0), st.sampled_from(KINDS)),
        min_size=1,
        max_size=4,
        unique_by=lambda change: change[0],
    ),
    week=st.integers(0, 7),
)
def test_any_life_goes_on_from_any_week_to_the_same_bit(
    air: RoomAir, changes: list[tuple[float, str]], week: int
) -> None:
    work, earlier = BEFORE, []
    for hour, kind in [*sorted(changes), (DAYS * 24.0 + 60.0, "mounted")]:
        earlier.append(Phase(work, at_hour(air, hour)))
        work = after_change(work, kind, at_hour(air, hour))
    late = at_hour(air, 24 * 54)
    whole = run_life(air, work, earlier, detail_from=late)
    part = run_life(air, work, earlier, since=whole.checkpoints[week], detail_from=late)
    assert set(whole.last.states) == set(part.last.states)
    if "A" in whole.last.states:
        assert same(whole, part)
    tail = part.hourly["A"]
    assert np.array_equal(whole.hourly["A"][:, -tail.shape[1] :], tail, equal_nan=True)
    assert list(whole.histories["A"].refused) == list(part.histories["A"].refused)


def test_a_history_from_a_week_names_the_same_reasons(air: RoomAir) -> None:
    work, earlier = changed(air, "closed at an unknown humidity", 24 * 39 + 3.2)
    whole = run_life(air, work, earlier)
    assert set(whole.histories["A"].refused) == {""}
    for since in whole.checkpoints[4:6]:
        part = run_life(air, work, earlier, since=since).histories["A"].refused
        assert list(whole.histories["A"].refused[-len(part) :]) == list(part)


def test_while_not_held_by_tension_nothing_is_told(air: RoomAir) -> None:
    first, second = at_hour(air, 400), at_hour(air, 800)
    loose = replace(
        BEFORE, mount=Mount.CORNER_HUNG, mounting_no=1, mounted_utc=first, closed_utc=None
    )
    again = remounted(second, mounting_no=2)
    found = run_life(air, again, [Phase(BEFORE, first), Phase(loose, second)])
    refused = found.histories["A"].refused
    assert refused[390] == ""
    assert set(refused[400:800]) == {"not held"}
    assert np.isnan(found.hourly["A"][:, 400:800]).all()
    assert refused[805] == ""
    assert "A" not in run_life(air, loose, [Phase(BEFORE, first)]).histories


def test_each_hour_is_refused_by_the_facts_of_its_phase(air: RoomAir) -> None:
    when = at_hour(air, 700)
    sunny = Phase(replace(BEFORE, sun_or_spot=True), when)
    refused = run_life(air, BEFORE, [sunny]).histories["A"].refused
    assert set(refused[:700]) == {"sun or spot"}
    assert refused[720] == ""
    dim = run_life(air, replace(BEFORE, sun_or_spot=True), [Phase(BEFORE, when)]).histories["A"]
    assert dim.refused[690] == ""
    assert set(dim.refused[700:]) == {"sun or spot"}


def test_two_changes_on_one_day_and_in_one_hour(air: RoomAir) -> None:
    first, second = at_hour(air, 700.2), at_hour(air, 700.6)
    other = reframed(first, 70.0, frame=FrameBuild.E)
    after = replace(reframed(second, 50.0), framing_no=2)
    both = run_life(air, after, [Phase(BEFORE, first), Phase(other, second)])
    assert same(both, run_life(air, after, [Phase(BEFORE, second)]))
    later = at_hour(air, 709)
    after = replace(after, closed_utc=later)
    day = run_life(air, after, [Phase(BEFORE, first), Phase(other, later)])
    assert day.histories["A"].frame_rh_pct[706, 1] > 60.0
    assert day.histories["A"].frame_rh_pct[712, 1] < 55.0


def test_phases_before_the_record_and_after_it_change_nothing(air: RoomAir) -> None:
    long_ago, ahead = at_hour(air, -5000), at_hour(air, DAYS * 24 + 100)
    alone = run_life(air, BEFORE, [])
    other = replace(BEFORE, frame=FrameBuild.A, framing_no=3, mounted_rh_pct=None)
    assert same(alone, run_life(air, BEFORE, [Phase(other, long_ago)]))
    found = run_life(air, other, [Phase(BEFORE, ahead)])
    assert np.array_equal(found.last.states["A"], alone.last.states["A"])
    assert found.histories["A"].refused[-1] == ""


def test_probes_are_those_of_their_phase(air: RoomAir) -> None:
    when = at_hour(air, 700)
    after = remounted(when)
    at = [at_hour(air, 600), at_hour(air, 900)]
    life = run_life(air, after, [Phase(BEFORE, when)], probe={"A": at}).probes["A"]["slack"]
    alone = [run_life(air, w, [], probe={"A": at}).probes["A"]["slack"] for w in (BEFORE, after)]
    assert np.array_equal(life[0], alone[0][0])
    assert np.array_equal(life[1], alone[1][1])


def test_alone_or_in_company(air: RoomAir) -> None:
    when = at_hour(air, 700)
    others = [replace(BEFORE, work_id=key) for key in ("B", "C", "D")]
    works = [others[0], reframed(when, None), *others[1:]]
    lives = {
        "A": drawn_before([Phase(BEFORE, when)], N),
        "D": drawn_before([Phase(replace(others[2], frame=FrameBuild.A), when)], N),
    }
    draws = {work.work_id: draw(work, N) for work in works}
    together = estimator.run(works, draws, air, earlier=lives)
    for key in ("A", "D"):
        work = next(w for w in works if w.work_id == key)
        alone = estimator.run([work], draws, air, earlier=lives)
        assert same(together, alone, key)
    assert same(together, estimator.run([others[0]], draws, air), "B")


def test_what_lies_ahead_goes_on_with_the_last_phase(air: RoomAir) -> None:
    when = at_hour(air, 700)
    after = remounted(when)
    draws = {"A": draw(after, N)}
    life = run_life(air, after, [Phase(BEFORE, when)]).last
    new = run_life(air, after, []).last
    assert lead_time([after], draws, life, air) == lead_time([after], draws, new, air)


def test_what_is_not_known_of_a_mounting_is_doubted_anew_and_the_sheet_stays(air: RoomAir) -> None:
    after = remounted(at_hour(air, 700))
    (drawn,) = drawn_before([Phase(BEFORE, at_hour(air, 700))], N)
    now = draw(after, N)
    assert np.array_equal(drawn.draws["beta_cd"], now["beta_cd"])
    assert not np.array_equal(drawn.draws["half_time_h"], now["half_time_h"])
    assert not np.array_equal(drawn.draws["prestrain"], now["prestrain"])


def test_levels_of_a_life_hold_the_doubts_of_every_phase(air: RoomAir) -> None:
    when = at_hour(air, 700)
    after, earlier = remounted(when), [Phase(BEFORE, when)]
    levels = levels_of_phases(after, earlier, N)
    assert list(levels)[: len(levels_of(after, N))] == list(levels_of(after, N))
    assert set(levels_of(BEFORE, N)) <= set(levels)
    (drawn,) = drawn_at(earlier, levels)
    expected = draw(BEFORE, N)
    assert all(np.array_equal(drawn.draws[name], expected[name]) for name in expected.values)
    assert list(levels_of_phases(after, [], N)) == list(levels_of(after, N))


def test_the_life_at_an_instant(air: RoomAir) -> None:
    when = at_hour(air, 700)
    earlier = [Phase(BEFORE, when), Phase(reframed(when, None), when + timedelta(days=9))]
    after = remounted(when + timedelta(days=9))
    assert phases_at(after, earlier, when - timedelta(hours=1)) == (BEFORE, ())
    assert phases_at(after, earlier, when) == (earlier[1].work, (earlier[0],))
    assert phases_at(after, earlier, when + timedelta(days=30)) == (after, tuple(earlier))


def test_what_is_no_life_is_refused(air: RoomAir) -> None:
    when = at_hour(air, 700)
    wider = Phase(replace(BEFORE, width_mm=1600.0), when)
    with pytest.raises(OutOfRangeError, match="the same sheet"):
        run_life(air, BEFORE, [wider])
    swapped = [Phase(BEFORE, when), Phase(BEFORE, when - timedelta(days=3))]
    with pytest.raises(OutOfRangeError, match="phases in order of time"):
        run_life(air, BEFORE, swapped)
    with pytest.raises(OutOfRangeError, match="a time in UTC"):
        run_life(air, BEFORE, [Phase(BEFORE, when.replace(tzinfo=None))])
    few = {"A": [DrawnPhase(BEFORE, when, draw(BEFORE, N // 2))]}
    with pytest.raises(NotEnoughError, match="the same number of draws in every phase"):
        estimator.run([BEFORE], {"A": draw(BEFORE, N)}, air, earlier=few)
