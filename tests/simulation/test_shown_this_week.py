"""The week draw by draw, and the greatest hinge load: carried through hours, weeks, mountings."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from analysis.air.room_air import RoomAir
from analysis.answers.judgement import judge
from analysis.results import Floats, History, Listing
from analysis.simulation import estimator, layout
from analysis.simulation.checkpoints import instant
from analysis.simulation.estimator import Run
from analysis.simulation.packing import fixed_rows, stack
from analysis.simulation.phases import DrawnPhase
from analysis.simulation.priors import Draws
from analysis.simulation.refusals import RefusalLimits, hourly_refusals
from analysis.simulation.weeks import GIVING, NEAR, SEEN, carry_week, is_known, share_within_week
from analysis.works import Work
from dashboards.text.judgement_text import reason

Knowing = Callable[..., tuple[Work, Draws]]
AirOf = Callable[..., RoomAir]

N = 24
KINDS = ("visible", "clearance", "hinges")


def hour_at(air: RoomAir, hour: int) -> datetime:
    return instant(air.time_utc[hour])


def doubted(knowing: Knowing, **values: object) -> tuple[Work, Draws]:
    """Return a work whose draws show themselves at different humidities."""
    spread = {
        "prestrain": np.linspace(5e-5, 9e-4, N),
        "half_time_h": np.geomspace(0.5, 60.0, N),
        "hinge_capacity_n_m": np.linspace(300.0, 2500.0, N),
        "gap_mm": 2.0,
        "wavelength_m": 0.5,
    }
    return knowing(n=N, **{**spread, **values})


def run_through(known: tuple[Work, Draws], air: RoomAir, **options: object) -> Run:
    work, draws = known
    return estimator.run([work], {work.work_id: draws}, air, **options)  # type: ignore[arg-type]


def largest_of_week(hourly: Floats) -> Floats:
    """Return the largest told value of the week up to each hour."""
    known = np.where(np.isfinite(hourly), hourly, 0.0)
    return np.array([known[max(i - 167, 0) : i + 1].max() for i in range(len(known))])


def walk(steps: list[float]) -> Floats:
    """Return a room's humidity that turns to a new level every sixteen hours."""
    return np.repeat(np.clip(np.array(steps), 20.0, 80.0), 16)


@given(st.lists(st.floats(30.0, 72.0), min_size=16, max_size=26))
@settings(max_examples=12, deadline=None)
def test_a_week_is_never_less_likely_than_any_of_its_hours(
    knowing: Knowing, air_of: AirOf, steps: list[float]
) -> None:
    air = air_of(20.0, walk(steps), first=(50.0, 50.0))
    history = run_through(doubted(knowing), air).histories["W1"]
    assert (history.refused == "").all()
    for kind in KINDS:
        hourly, week = getattr(history, f"p_{kind}"), getattr(history, f"p_{kind}_week")
        assert np.all(week >= largest_of_week(hourly) - 1e-6)
        assert np.all(week <= 1.0)
        assert np.all(week <= np.cumsum(hourly) + 1e-6)


def test_draws_that_take_turns_add_up(knowing: Knowing, air_of: AirOf) -> None:
    # half of the draws are seen in a damp spell, the others, whose panel moves more than they do,
    # in a dry one: never more than half at once, all within the week
    air = air_of(20.0, walk([50.0, 50.0, 60.0, 50.0, 50.0, 40.0, 50.0, 50.0]))
    half = np.arange(N) < N // 2
    beta = np.where(half, 80e-6, 1e-9)
    panel = np.where(half, 0.0, 80e-6)
    known = knowing(n=N, half_time_h=0.5, beta_cd=beta, beta_md=beta / 2, panel_beta_along_cd=panel)
    history = run_through(known, air).histories["W1"]
    assert history.p_visible.max() == pytest.approx(0.5)
    assert history.p_visible_week[60] == pytest.approx(0.5)
    assert history.p_visible_week[-1] == pytest.approx(1.0)


def test_nothing_changes_and_the_week_is_the_hour(knowing: Knowing, air_of: AirOf) -> None:
    history = run_through(doubted(knowing, half_time_h=0.5), air_of(20.0, 56.0, 400)).histories
    for kind in KINDS:
        late = slice(200, None)
        hourly, week = (getattr(history["W1"], f"p_{kind}{w}")[late] for w in ("", "_week"))
        assert week == pytest.approx(hourly, abs=1e-6)
    assert 0.1 < history["W1"].p_visible[-1] < 0.9


def test_forgotten_after_a_week(knowing: Knowing, air_of: AirOf) -> None:
    rh = np.full(500, 50.0)
    rh[100:110] = 66.0
    history = run_through(knowing(half_time_h=0.05), air_of(20.0, rh)).histories["W1"]
    seen = np.flatnonzero(history.p_visible == 1.0)
    assert len(seen) > 5
    last = seen[-1]
    assert np.all(history.p_visible_week[seen[0] : last + 168] == 1.0)
    assert np.all(history.p_visible_week[last + 168 :] == 0.0)
    assert np.all(history.p_visible_week[: seen[0]] == 0.0)


def test_refused_hours_show_nothing(knowing: Knowing, air_of: AirOf) -> None:
    # far too damp for any estimate, then back: what those hours would have shown is not kept
    rh = np.full(300, 50.0)
    rh[100:130] = 97.0
    known = knowing(half_time_h=0.05, hinge_stiffness_n_m=1e15)
    history = run_through(known, air_of(20.0, rh)).histories["W1"]
    refused = history.refused == "above 85 %RH"
    assert refused.sum() > 20
    assert np.isnan(history.p_visible_week[refused]).all()
    told = np.where(refused, 0.0, history.p_visible)
    assert np.all(
        (history.p_visible_week == largest_of_week(told)) | refused
    )  # here all draws are alike


@given(
    st.lists(st.lists(st.integers(0, 7), min_size=3, max_size=3), min_size=1, max_size=12),
    st.data(),
)
@settings(deadline=None)
def test_hours_since_by_hand(signs: list[list[int]], data: st.DataObject) -> None:
    told = data.draw(st.lists(st.booleans(), min_size=len(signs), max_size=len(signs)))
    since = (np.full(3, np.inf), np.full(3, np.inf), np.full(3, np.inf))
    for shown, is_so in zip(signs, told, strict=True):
        carry_week(since, np.array(shown, dtype=np.uint8), is_so)
    for bit, hours in zip((SEEN, NEAR, GIVING), since, strict=True):
        for draw in range(3):
            at = [i for i, s in enumerate(signs) if told[i] and s[draw] & bit]
            assert hours[draw] == (len(signs) - 1 - at[-1] if at else np.inf)


def test_share_within_a_week() -> None:
    since = np.array([0.0, 167.0, 168.0, np.inf])
    assert share_within_week(since, np.array([0.1, 0.2, 0.3, 0.4])) == pytest.approx(0.3)


# an exact limit, and what rounding to the kept precision makes of its neighbours
near_limits = st.sampled_from([0.0, 0.0399999999, 0.04, 0.0400000001, 0.0999999999, 0.1, 0.11, 1.0])


@given(st.lists(near_limits, min_size=4, max_size=4))
def test_told_as_refusals_have_it(doubts: list[float]) -> None:
    limits, hour = RefusalLimits(), np.zeros(11)
    hour[4:8] = doubts
    kept = hour.astype(np.float32)[:, None]
    refused = hourly_refusals("", kept, np.array([False]))[0]
    assert is_known(hour, limits.band_rh_pct, limits.probability) == (refused == "")


def test_the_same_to_the_bit_from_a_checkpoint(knowing: Knowing, air_of: AirOf) -> None:
    # as in the museum: a week is carried over the checkpoint, whatever hours the air begins with
    rng = np.random.default_rng(4)
    air = air_of(20.0, 50.0 + np.cumsum(rng.normal(0.0, 0.8, 24 * 30)).clip(-14, 14))
    known = doubted(knowing)
    whole = run_through(known, air)
    for since in whole.checkpoints[1:3]:
        part = run_through(known, air, since=since)
        for name in (f"p_{kind}_week" for kind in KINDS):
            ours = getattr(part.histories["W1"], name)
            assert np.array_equal(ours, getattr(whole.histories["W1"], name)[-len(ours) :])
    assert whole.histories["W1"].p_visible_week[-1] > 0.0


def hinge_loads(known: tuple[Work, Draws], states: Floats) -> Floats:
    """Return the load over short-term capacity, from states of shape (STATE, hours, n)."""
    work, draws = known
    fixed = fixed_rows(stack([work], {work.work_id: draws}, None))[0]
    at = {name: fixed[i] for i, name in enumerate(layout.FIXED)}
    row = {name: states[i] for i, name in enumerate(layout.STATE)}
    psi = at["image_share"] * row["psi_image"] + (1 - at["image_share"]) * row["psi_core"]
    soft = np.exp(-at["soften"] * (psi - 0.5))
    loads = [np.zeros(psi.shape)]
    for axis in ("md", "cd"):
        capacity = draws["hinge_capacity_n_m"] * draws["hinge_coverage"]
        pull = at[f"ea_{axis}"] * at[f"gain_{axis}"] * np.maximum(row[f"above_{axis}"], 0.0)
        loads.append(pull * soft / capacity)
    return np.asarray(np.max(loads, axis=0))


@given(st.lists(st.floats(25.0, 70.0), min_size=3, max_size=5), st.floats(0.0, 0.1))
@settings(max_examples=6, deadline=None)
def test_overload_is_the_largest_load_so_far(
    knowing: Knowing, air_of: AirOf, steps: list[float], softening: float
) -> None:
    air = air_of(20.0, walk(steps), first=(50.0, 50.0))
    known = doubted(knowing, softening_per_pct=softening, relax_per_decade=0.07)
    at = [hour_at(air, i) for i in range(1, air.hours)]
    found = run_through(known, air, week_starts=at, probe={"W1": at[-1:]})
    states = np.stack([one.states["W1"] for one in found.checkpoints], axis=1)
    loads, overload = hinge_loads(known, states), states[layout.STATE.index("overload")]
    assert np.array_equal(found.probes["W1"]["overload"][0], overload[-1])
    assert np.all(np.diff(overload, axis=0) >= 0.0)
    assert np.all(overload >= loads - 1e-6)
    before = overload[0]
    for ours, load in zip(overload[1:], loads[1:], strict=True):
        before = np.maximum(before, load)
        assert ours == pytest.approx(before, rel=1e-6)


def test_overload_begins_with_the_load_at_mounting(knowing: Knowing, air_of: AirOf) -> None:
    # EA · prestrain over capacity, hinges rigid: 1.2e6 N/m × 3e-4 / 200 N/m across the grain,
    # 1.8e6 along it; though the room is damp by the time the record begins
    known = knowing(hinge_capacity_n_m=[200.0, 2000.0], n=2)
    air = air_of(20.0, 60.0, 48, first=(60.0, 60.0))
    found = run_through(known, air, probe={"W1": [hour_at(air, 0), hour_at(air, 40)]})
    expected = [1.8e6 * 3e-4 / 200.0, 1.8e6 * 3e-4 / 2000.0]
    for overload in found.probes["W1"]["overload"]:
        assert overload == pytest.approx(expected, rel=1e-6)


def test_mounted_anew_it_has_no_past(knowing: Knowing, air_of: AirOf) -> None:
    rh = np.full(400, 50.0)
    rh[150:190], rh[190:210] = 66.0, 30.0
    air = air_of(20.0, rh)
    known = knowing(half_time_h=0.5, hinge_capacity_n_m=500.0, n=2)
    when = hour_at(air, 240)
    again = replace(known[0], mounted_utc=when, mounting_no=1)
    draws = known[1].replace(hinge_capacity_n_m=np.full(2, 5000.0))
    before = DrawnPhase(known[0], when, known[1])
    at = [hour_at(air, 239), hour_at(air, 241)]
    found = estimator.run([again], {"W1": draws}, air, earlier={"W1": [before]}, probe={"W1": at})
    history = found.histories["W1"]
    old, new = found.probes["W1"]["overload"][:, 0]
    assert (history.p_visible_week[230], history.p_hinges_week[230]) == (1.0, 1.0)
    assert (history.p_visible_week[241], history.p_hinges_week[241]) == (0.0, 0.0)
    assert old > 1.0 > new


def test_the_judgement_looks_at_the_week_draw_by_draw(knowing: Knowing, air_of: AirOf) -> None:
    # at no hour more than two fifths of the draws are seen; within the week four fifths have been
    hours = 480
    air = air_of(20.0, 50.0, hours, first=(50.0, 50.0))
    history = run_through(knowing(n=5), air).histories["W1"]
    judged_at = datetime(2025, 1, 20, tzinfo=UTC)
    at = int(np.searchsorted(history.time_utc, np.datetime64("2025-01-20T00", "s"), "right")) - 1
    told = replace(
        history,
        p_visible=np.full(hours - 1, 0.4),
        p_visible_week=np.where(np.arange(hours - 1) == at, 0.8, 0.4),
        p_hinges_week=np.where(np.arange(hours - 1) == at, 0.15, 0.9),
    )
    judged = judge(knowing()[0], told, air, at_utc=judged_at)
    assert (judged.p_visible_now, judged.p_visible_week) == (0.4, 0.8)
    assert judged.p_hinges == 0.15
    assert judged.listing is Listing.LOOK_FIRST
    assert "probably showed" in reason(judged, "UTC")


def test_a_short_history_knows_its_week(knowing: Knowing, air_of: AirOf) -> None:
    # the week is carried in the state: a history of one hour tells it as a long one does
    rh = np.full(480, 50.0)
    rh[380:400] = 62.0
    air = air_of(20.0, rh)
    known = knowing(half_time_h=1.0)
    short: History = run_through(known, air, detail_from=hour_at(air, 470)).histories["W1"]
    assert short.p_visible[-1] == 0.0
    assert short.p_visible_week[-1] == 1.0
    until = hour_at(air, 470) + timedelta(hours=1)
    assert judge(known[0], short, air, at_utc=until).listing is Listing.LOOK_FIRST
