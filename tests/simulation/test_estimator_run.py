"""Runs: checkpoints, gaps, refusals, order of works as physics says, weights, probes."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings, strategies as st

from analysis.air.room_air import RoomAir, hourly_air
from analysis.errors import NotEnoughError, OutOfRangeError
from analysis.results import Floats
from analysis.simulation import estimator, layout
from analysis.simulation.checkpoints import instant, merged
from analysis.simulation.estimator import Run
from analysis.simulation.priors import Draws, draw
from analysis.simulation.ranges import counted, counted_weights, shares_of_levels, weighted_ranges
from analysis.works import (
    Adhesive,
    Finish,
    FrameBuild,
    Mount,
    Panel,
    Paper,
    Wall,
    Work,
)

Knowing = Callable[..., tuple[Work, Draws]]
AirOf = Callable[..., RoomAir]

MOUNTED = datetime(2024, 4, 1, tzinfo=UTC)


def work(key: str, paper: Paper = Paper.FIBRE_BASE, **facts: Any) -> Work:
    known: dict[str, Any] = {
        "mounted_utc": MOUNTED,
        "mounted_rh_pct": 48.0,
        "closed_utc": MOUNTED,
        "closing_rh_pct": 48.0,
        "spacer_mm": 8.0,
        **facts,
    }
    return Work(key, f"Quay {key}", 1500.0, 1000.0, paper, Finish.GLOSSY, **known)


def run_all(works: list[Work], air: RoomAir, **options: Any) -> Run:
    draws = {w.work_id: draw(w, 80) for w in works}
    return estimator.run(works, draws, air, **options)


def cut_air(air: RoomAir, first: int, last: int) -> RoomAir:
    span = slice(first, last)
    return replace(
        air,
        time_utc=air.time_utc[span],
        temp_c=air.temp_c[span],
        rh_low_pct=air.rh_low_pct[span],
        rh_high_pct=air.rh_high_pct[span],
        outdoor_temp_c=air.outdoor_temp_c[span],
        measured=air.measured[span],
    )


MIXED = [
    work("A", frame=FrameBuild.A),
    work("B", Paper.RESIN_COATED, adhesive=Adhesive.PRESSURE_SENSITIVE),
    work("C", Paper.POLYESTER, frame=FrameBuild.E, panel=Panel.MUSEUM_BOARD),
    work(
        "D",
        Paper.INKJET_COTTON,
        frame=FrameBuild.D,
        mounted_utc=datetime(2025, 2, 3, 5, tzinfo=UTC),
        closed_utc=datetime(2025, 2, 20, tzinfo=UTC),
    ),
]


def same_tail(longer: np.ndarray, shorter: np.ndarray) -> bool:
    """Whether the last rows of one array are the other's, to the bit, NaN where NaN."""
    tail = longer[-len(shorter) :]
    if shorter.dtype.kind == "U":
        return list(tail) == list(shorter)
    return np.array_equal(tail, shorter, equal_nan=True)


def test_the_same_to_the_bit_from_a_checkpoint(museum_air: RoomAir) -> None:
    air = cut_air(museum_air, 0, 24 * 75)
    late = instant(air.time_utc[24 * 60])
    whole = run_all(MIXED, air, detail_from=late)
    assert len(whole.checkpoints) == 10
    for i in (3, 6, 8):
        part = run_all(MIXED, air, since=whole.checkpoints[i], detail_from=late)
        for key, state in whole.last.states.items():
            assert np.array_equal(state, part.last.states[key])
        for key, sums in part.hourly.items():
            assert same_tail(whole.hourly[key].T, sums.T)
        for key, history in part.histories.items():
            for name in ("time_utc", "slope_mrad", "headroom_up_pct", "p_hinges", "refused"):
                assert same_tail(getattr(whole.histories[key], name), getattr(history, name))


def test_the_same_with_air_that_begins_at_the_checkpoint(museum_air: RoomAir) -> None:
    air = cut_air(museum_air, 0, 24 * 40)
    whole = run_all(MIXED[:3], air)
    since = whole.checkpoints[2]
    first = round((since.time_utc - instant(air.time_utc[0])) / timedelta(hours=1))
    for begin in (first, first + 1):
        part = run_all(MIXED[:3], cut_air(air, begin, 24 * 40), since=since)
        assert all(np.array_equal(whole.last.states[k], s) for k, s in part.last.states.items())
    with pytest.raises(NotEnoughError, match="air from that hour on"):
        run_all(MIXED[:3], cut_air(air, first + 2, 24 * 40), since=since)


def test_alone_or_in_company(museum_air: RoomAir) -> None:
    air = cut_air(museum_air, 0, 24 * 20)
    together, alone = run_all(MIXED[:3], air), run_all(MIXED[1:2], air)
    assert np.array_equal(together.last.states["B"], alone.last.states["B"])


def test_checkpoints_kept_and_week_starts(museum_air: RoomAir) -> None:
    air = cut_air(museum_air, 0, 24 * 30)
    assert run_all(MIXED[:1], air, keep_weeks=0).checkpoints == ()
    assert len(run_all(MIXED[:1], air, keep_weeks=40).checkpoints) == 4
    kept = run_all(MIXED[:1], air, keep_weeks=2).checkpoints
    assert [c.time_utc.strftime("%a %H") for c in kept] == ["Mon 00", "Mon 00"]
    at = [datetime(2025, 1, 6, 23, tzinfo=UTC), datetime(2025, 1, 13, 23, tzinfo=UTC)]
    assert [c.time_utc for c in run_all(MIXED[:1], air, week_starts=at).checkpoints] == at
    state = next(iter(kept[0].states.values()))
    assert state.shape == (len(layout.STATE), 80)


def test_works_from_two_rooms(museum_air: RoomAir) -> None:
    # a work that moves takes its state with it
    first, second = cut_air(museum_air, 0, 24 * 20), cut_air(museum_air, 24 * 20 - 1, 24 * 30)
    damp = replace(second, rh_low_pct=second.rh_low_pct + 9, rh_high_pct=second.rh_high_pct + 9)
    a, b = run_all(MIXED[:1], first), run_all(MIXED[1:3], first)
    both = merged([a.last, b.last])
    assert set(both.states) == {"A", "B", "C"}
    moved = run_all(MIXED[:3], damp, since=both)
    stayed = run_all(MIXED[:3], second, since=both)
    assert np.isfinite(moved.hourly["A"]).all()
    assert moved.histories["A"].print_rh_pct[-1, 1] > stayed.histories["A"].print_rh_pct[-1, 1] + 8
    with pytest.raises(OutOfRangeError, match="one instant"):
        merged([a.last, moved.last])


def test_mounted_within_the_record(museum_air: RoomAir) -> None:
    air = cut_air(museum_air, 0, 24 * 75)
    history = run_all(MIXED, air).histories["D"]
    begin = 33 * 24 + 5
    assert set(history.refused[: begin - 1]) == {"not yet mounted"}
    assert np.isnan(history.slope_mrad[: begin - 1]).all()
    assert history.refused[begin] == ""
    assert history.print_rh_pct[begin, 1] == pytest.approx(48.0, abs=2.0)


def test_order_of_papers_frames_and_panels(museum_air: RoomAir) -> None:
    """In one museum year: fibre base before resin-coated, metal before paper, untaped before taped.

    "Before" is the first hour at which waves are more likely seen than not, after mounting in the
    driest week.
    """
    begin = 24 * 20
    air = cut_air(museum_air, begin, begin + 24 * 250)
    dry: dict[str, Any] = {"mounted_utc": instant(air.time_utc[2]), "mounted_rh_pct": 39.0}
    closed: dict[str, Any] = {"closed_utc": dry["mounted_utc"], "closing_rh_pct": 39.0}
    metal: dict[str, Any] = {"panel": Panel.METAL_FACED, "frame": FrameBuild.C, **dry, **closed}
    works = [
        work("fibre", **metal),
        work("coated", Paper.RESIN_COATED, **metal),
        work("paper panel", **{**metal, "panel": Panel.PAPER_HONEYCOMB}),
        work("film-taped", **{**metal, "frame": FrameBuild.E}),
        work("bonded", **{**metal, "mount": Mount.BONDED}),
    ]
    found = run_all(works, air, detail_from=instant(air.time_utc[-1]))
    seen = {key: sums[1] for key, sums in found.hourly.items()}
    assert "bonded" not in seen
    assert "bonded" not in found.histories
    first = {key: int(np.argmax(p > 0.5)) if (p > 0.5).any() else 10**9 for key, p in seen.items()}
    assert first["fibre"] < 10**9
    assert first["fibre"] < first["coated"]
    assert first["fibre"] < first["paper panel"]
    assert first["fibre"] < first["film-taped"]


def test_slack_across_before_along(knowing: Knowing, air_of: AirOf) -> None:
    # A29: the axis across the grain goes slack first; a resin-coated print lags a fibre-base one
    one, draws = knowing(half_time_h=1.0)
    found = estimator.run([one], {"W1": draws}, air_of(20.0, 50.0 + np.arange(300) * 0.03))
    row = layout.STATE.index
    state = found.last.states["W1"]
    assert np.all(state[row("above_cd")] < state[row("above_md")])


def test_more_damp_is_never_tauter(knowing: Knowing, air_of: AirOf) -> None:
    # A29, elastic: a room that is damper at every hour leaves no more tension at any hour
    base = 45 + 6 * np.sin(np.arange(400) / 30)
    one, draws = knowing(n=16, beta_cd=np.linspace(60e-6, 150e-6, 16), half_time_h=6.0)
    low = estimator.run([one], {"W1": draws}, air_of(20.0, base, first=(45.0, 45.0)))
    high = estimator.run([one], {"W1": draws}, air_of(20.0, base + 3.0, first=(48.0, 48.0)))
    drier, damper = low.histories["W1"], high.histories["W1"]
    assert np.all(damper.tension_n_m <= drier.tension_n_m + 1e-3)
    assert np.all(damper.slope_mrad >= drier.slope_mrad - 1e-3)
    assert np.all(damper.headroom_up_pct <= drier.headroom_up_pct + 1e-3)


def with_gap(museum_year: pd.DataFrame, start: int, hours: int) -> pd.DataFrame:
    readings = museum_year.iloc[: 24 * 90].copy()
    return readings.drop(readings.index[start : start + hours])


def test_a_gap_is_width_until_forgotten(museum_year: pd.DataFrame) -> None:
    readings = with_gap(museum_year, 24 * 50, 96)
    first, last = readings.index[0].to_pydatetime(), readings.index[-1].to_pydatetime()
    air = hourly_air(readings, start_utc=first, end_utc=last)
    assert int((~air.measured).sum()) == 96
    works = [work("open", frame=FrameBuild.A), work("taped", frame=FrameBuild.D)]
    found = run_all(works, air).histories
    inside, after = 24 * 52, 24 * 54 + 6
    for one in found.values():
        assert set(one.refused) == {""}  # a gap is width, and no refusal
    widths = {name: np.ptp(one.frame_rh_pct[:, [0, 2]], axis=1) for name, one in found.items()}
    before = 24 * 49
    assert widths["open"][inside] > 1.5 * widths["open"][before]
    assert widths["open"][after] == pytest.approx(widths["open"][before], rel=0.3)
    assert widths["taped"][after] > 1.2 * widths["taped"][before]


def test_start_up(museum_air: RoomAir) -> None:
    air = cut_air(museum_air, 0, 24 * 60)
    found = run_all([work("open", frame=FrameBuild.A), work("taped", frame=FrameBuild.D)], air)
    assert set(found.histories["taped"].refused) == {""}
    wide = np.ptp(found.histories["taped"].frame_rh_pct[:, [0, 2]], axis=1)
    assert wide[0] > 1.3 * wide[-1]


def test_refused_for_want_of_facts(museum_air: RoomAir) -> None:
    air = cut_air(museum_air, 0, 24 * 10)
    works = [
        work("sealed", frame=FrameBuild.F, closing_rh_pct=None),
        work("unknown", mounted_rh_pct=None),
        work("sunny", sun_or_spot=True),
        work("open", frame=FrameBuild.B),
        work("no spacer", spacer_mm=None),
    ]
    found = run_all(works, air).histories
    assert set(found["sealed"].refused) == set(found["unknown"].refused) == {""}
    assert np.ptp(found["sealed"].frame_rh_pct[-1]) > 20.0
    assert np.ptp(found["unknown"].headroom_up_pct[-1]) > 20.0
    assert set(found["sunny"].refused) == {"sun or spot"}
    assert np.isnan(found["sunny"].slope_mrad).all()
    coarse = run_all(works, replace(air, interval_s=4 * 3600.0)).histories
    assert set(coarse["open"].refused) == {"interval"}
    assert np.isnan(found["no spacer"].p_clearance).all()
    assert np.all(found["open"].p_clearance[-24:] == 0.0)


def test_too_damp_too_cold_and_wet(air_of: AirOf) -> None:
    one = [work("open", frame=FrameBuild.A)]
    damp = run_all(one, air_of(20.0, np.linspace(60, 92, 200), first=(60.0, 60.0))).histories
    assert damp["open"].refused[-1] == "above 85 %RH"
    cold = run_all(one, air_of(np.linspace(10, -4, 200), 50.0, first=(50.0, 50.0))).histories
    assert cold["open"].refused[-1] == "temperature"
    wall = [replace(one[0], frame=FrameBuild.C, wall=Wall.OUTSIDE_MASONRY)]
    rh = np.concatenate([np.full(50, 50.0), np.full(30, 88.0)])
    wet = run_all(wall, air_of(20.0, rh, first=(50.0, 50.0), outdoor_c=-20.0)).histories
    assert "condensation" in set(wet["open"].refused[50:])


def test_first_damp_excursion_shrinks_once(knowing: Knowing, air_of: AirOf) -> None:
    # an excursion above 75 %RH leaves the sheet shorter, and a second one no shorter still
    shape = [np.full(200, 50.0), np.full(48, 82.0), np.full(200, 50.0)]
    one, draws = knowing(half_time_h=0.5, shrinkage_cd=1e-3, shrinkage_md=5e-4)
    at = [datetime(2025, 1, 1, tzinfo=UTC) + timedelta(hours=h) for h in (190, 440, 690)]
    rh = np.concatenate([*shape, *shape[1:]])
    found = estimator.run([one], {"W1": draws}, air_of(20.0, rh), probe={"W1": at})
    before, after, again = found.probes["W1"]["headroom_up_pct"][:, 0]
    assert after - before == pytest.approx(1e-3 / 80e-6, abs=0.05)
    assert again == pytest.approx(after, abs=0.02)


def test_cycles_of_moisture_take_tension(knowing: Knowing, air_of: AirOf) -> None:
    # wide swings lose tension for good, small ones (within half the sorption loop) none
    hours = np.arange(24 * 60)
    one, draws = knowing(
        half_time_h=0.5, mechano_sorptive_per_pct=0.03, prestrain=3e-3, hinge_capacity_n_m=1e6
    )
    last = {}
    for size in (3.0, 12.0):
        rh = 50 + size * np.sin(2 * np.pi * hours / 72)
        found = estimator.run([one], {"W1": draws}, air_of(20.0, rh, first=(50.0, 50.0)))
        last[size] = found.last.states["W1"][layout.STATE.index("loss_cd")][0]
    assert last[3.0] == 0.0
    assert 1e-4 < last[12.0] < 3e-3


def test_weights_and_ranges(museum_air: RoomAir) -> None:
    air = cut_air(museum_air, 0, 24 * 20)
    one = work("A", frame=FrameBuild.A)
    draws = draw(one, 80)
    only = np.zeros(80)
    only[:40] = 1.0
    at = [instant(air.time_utc[-1])]
    found = estimator.run([one], {"A": draws}, air, weights={"A": only}, probe={"A": at})
    rh = np.sort(found.probes["A"]["print_rh_pct"][0, :40])
    low, mid, high = found.histories["A"].print_rh_pct[-1]
    assert (low, mid, high) == pytest.approx((rh[1], rh[19], rh[37]), abs=0.02)
    slack = found.probes["A"]["slack"][0, :40] > 0.0
    assert found.histories["A"].p_slack[-1] == pytest.approx(slack.mean(), abs=1e-6)


def ranges_of(values: Floats, weight: Floats) -> Floats:
    """Return the 5, 50 and 95 % points as the loop finds them."""
    shares = counted_weights(weight)
    x = np.array([counted(float(value)) for value in values], dtype=np.int32)
    out = np.zeros(3, dtype=np.float32)
    weighted_ranges(x, shares, shares_of_levels(shares), np.zeros_like(shares), out)
    return out.astype(np.float64)


def test_ranges_of_known_numbers() -> None:
    values = np.random.default_rng(0).permutation(100).astype(np.float64)
    equal = np.full(100, 0.01)
    # exactly the fifth, fiftieth and ninety-fifth number, to half of 1/1023 of the span
    assert ranges_of(values, equal) == pytest.approx([4.0, 49.0, 94.0], abs=99 / 2046 + 1e-4)
    assert list(ranges_of(np.zeros(100), equal)) == [0.0, 0.0, 0.0]
    assert ranges_of(np.full(7, -3.2), np.full(7, 1 / 7)) == pytest.approx([-3.2] * 3, abs=1e-4)
    # a draw that carries all the weight, and one that carries none, at the very ends
    assert ranges_of(np.array([1.0, 5.0, 9.0]), np.array([0.0, 1.0, 0.0])) == pytest.approx(
        [5.0] * 3, abs=8 / 2046 + 1e-4
    )


@given(
    st.lists(st.tuples(st.floats(-50, 3000), st.floats(0.0, 1.0)), min_size=1, max_size=300),
    st.booleans(),
)
@settings(max_examples=80, deadline=None)
def test_ranges_are_the_weighted_quantiles(draws: list[tuple[float, float]], mass: bool) -> None:
    values, weight = np.array(draws).T
    if mass:  # many draws at one value, as where nothing is slack
        values = np.maximum(values, np.median(values))
    weight = (weight + 1e-3) / np.sum(weight + 1e-3)
    found = ranges_of(values, weight)
    near = np.ptp(values) / 2046 + 1e-3
    for got, level in zip(found, (0.05, 0.50, 0.95), strict=True):
        # the share of weight below and up to what was found brackets the level, but for the
        # rounding of 300 weights to 1/65,385
        assert np.sum(weight[values < got - near]) < level + 0.003
        assert np.sum(weight[values <= got + near]) > level - 0.003


def test_draws_are_missing(museum_air: RoomAir) -> None:
    with pytest.raises(NotEnoughError, match=r"analysis\.simulation\.priors\.draw"):
        estimator.run(MIXED, {"A": draw(MIXED[0])}, cut_air(museum_air, 0, 48))


def test_no_works(museum_air: RoomAir) -> None:
    bonded = replace(MIXED[0], mount=Mount.BONDED)
    found = estimator.run([bonded], {}, cut_air(museum_air, 0, 48))
    assert found.histories == {}
    assert found.last.states == {}
