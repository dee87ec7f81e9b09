"""The chain of one work at one hour, as numbers and as a picture."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from bench.calibration import MOUNTED, START, room_year

from analysis.air.room_air import RoomAir
from analysis.answers.chain_quantities import QUANTITIES, STEPS, holds
from analysis.answers.explain import (
    Chain,
    air_until,
    explain,
    free_movements,
    idle_warmth,
    quantities_of,
    range_of,
)
from analysis.errors import NotEnoughError
from analysis.simulation import layout
from analysis.simulation.discrepancy import angle_at
from analysis.simulation.drawn_parameters import UNITS
from analysis.simulation.estimator import run
from analysis.simulation.packing import heat_scale, humidity_path, outside_factor, psi_from, stack
from analysis.simulation.pasts import pasts_of
from analysis.simulation.phases import DrawnPhase
from analysis.simulation.priors import Draws, draw
from analysis.simulation.refusals import REFUSALS
from analysis.works import Finish, FrameBuild, Grain, Mount, Panel, Paper, Work
from dashboards.charts import style
from dashboards.charts.chain import chain_figure
from dashboards.text.parameters import LARGER_WORDS, PARAMETER_WORDS, SETTLED_BY
from dashboards.text.reasons import decides_sentence

N = 60
WORK = Work(
    "E1",
    "Pier",
    1500.0,
    1000.0,
    Paper.FIBRE_BASE,
    Finish.GLOSSY,
    mounted_utc=MOUNTED,
    mounted_rh_pct=48.0,
)
AT = START + timedelta(days=200, hours=12)


@pytest.fixture(scope="module")
def air() -> RoomAir:
    return room_year()


@pytest.fixture(scope="module")
def chain(air: RoomAir) -> Chain:
    return explain(WORK, draw(WORK, N), air, AT)


OF_HISTORIES = (
    "frame_rh_pct",
    "print_rh_pct",
    "tension_n_m",
    "slope_mrad",
    "wave_mm",
    "headroom_up_pct",
    "headroom_down_pct",
)


def test_chain_runs_from_room_to_surface(chain: Chain) -> None:
    steps = [STEPS.index(link.step) for link in chain.links]
    assert steps == sorted(steps)
    assert [link.step for link in chain.leading] == [
        "room",
        "frame",
        "print",
        "tension",
        "tension",
        "surface",
    ]
    assert chain.refused == ""
    assert all(link.holds for link in chain.links)


@pytest.mark.parametrize("weighted", [False, True])
@pytest.mark.parametrize("paper", [Paper.FIBRE_BASE, Paper.RESIN_COATED])
def test_the_chain_at_an_hour_is_the_history_at_that_hour(
    air: RoomAir, paper: Paper, weighted: bool
) -> None:
    work = replace(WORK, paper=paper, spacer_mm=12.0)
    draws = draw(work, N)
    weights = np.linspace(1.0, 3.0, N) / np.linspace(1.0, 3.0, N).sum() if weighted else None
    given = {"E1": weights} if weights is not None else None
    whole = run(
        [work], {"E1": draws}, air, weights=given, keep_weeks=0, pasts=pasts_of(air)
    ).histories["E1"]
    at = int(np.searchsorted(whole.time_utc, np.datetime64(AT.replace(tzinfo=None), "s")))
    assert whole.time_utc[at] == np.datetime64(AT.replace(tzinfo=None), "s")
    found = explain(work, draws, air, AT, weights)
    assert found.history.time_utc[-1] == whole.time_utc[at]
    for name in OF_HISTORIES:
        value, there = found.link(name).value, getattr(whole, name)[at]
        # the history's points are resolved to half a thousandth of the span of all draws, which is
        # wider than their range
        near = 2e-3 * (value.high - value.low) + 1e-3
        for point, told in zip((value.low, value.mid, value.high), there, strict=True):
            assert point == pytest.approx(told, abs=near), name


def test_the_last_hour_of_the_air_is_told_too(air: RoomAir) -> None:
    last = START + timedelta(hours=air.hours - 1)
    found = explain(WORK, draw(WORK, N), air, last)
    assert found.history.time_utc[-1] == air.time_utc[-1]


def test_going_on_from_a_checkpoint_gives_the_same_chain(air: RoomAir) -> None:
    draws = draw(WORK, N)
    weeks = run([WORK], {"E1": draws}, air, detail_from=AT, pasts=pasts_of(air)).checkpoints
    since = max((c for c in weeks if c.time_utc < AT - timedelta(days=8)), key=lambda c: c.time_utc)
    on, start = explain(WORK, draws, air, AT, since=since), explain(WORK, draws, air, AT)
    assert on.links == start.links


def test_an_hour_of_an_earlier_phase_is_told_of_the_work_as_it_was_then(air: RoomAir) -> None:
    changed = START + timedelta(days=230)
    before = replace(WORK, frame=FrameBuild.B)
    phase = DrawnPhase(before, changed, draw(before, N))
    draws = draw(WORK, N)
    then = explain(WORK, draws, air, AT, earlier=[phase])
    assert then.work.frame is FrameBuild.B
    assert then.links == explain(before, phase.draws, air, AT).links
    later = changed + timedelta(days=3)
    now = explain(WORK, draws, air, later, earlier=[phase])
    assert now.work == WORK
    given = {"E1": [later]}
    whole = run(
        [WORK],
        {"E1": draws},
        air,
        earlier={"E1": [phase]},
        probe=given,
        keep_weeks=0,
        pasts=pasts_of(air),
    )
    middle = range_of(whole.probes["E1"]["slope_mrad"][0], None)
    assert now.link("slope_mrad").value == middle


def test_the_hinge_load_is_never_above_the_greatest_so_far(air: RoomAir) -> None:
    draws = draw(WORK, N)
    found = run(
        [WORK], {"E1": draws}, air, detail_from=AT, probe={"E1": [AT]}, pasts=pasts_of(air)
    ).probes["E1"]
    probes = {name: values[0] for name, values in found.items()}
    load = quantities_of(WORK, draws, air_until(WORK, air, AT), probes)["hinge_load_pct"]
    assert (load <= 100.0 * probes["overload"] + 1e-9).all()
    assert load.max() > 0.0


def test_the_growth_of_the_print_closes_the_account_of_stretch_in_every_draw(air: RoomAir) -> None:
    """The law of the free strain written out anew, against what closes the loop's account."""
    draws = draw(WORK, N)
    last = START + timedelta(hours=air.hours - 1)
    found = run([WORK], {"E1": draws}, air, detail_from=last, probe={"E1": [last]})
    probes = {name: values[0] for name, values in found.probes["E1"].items()}
    moved = free_movements(WORK, draws, probes)
    state = {name: found.last.states["E1"][layout.STATE.index(name)] for name in layout.STATE}
    assert state["peak"].max() < 0.75  # so that no print has shrunk
    drawn = stack([WORK], {"E1": draws}, None)
    mounted = psi_from(drawn["mounted_rh_pct"], drawn["mounted_temp_c"], heat_scale(drawn))[0]
    outside, share = outside_factor(drawn)[0], draws["image_share"]
    psi = share * state["psi_image"] + (1.0 - share) * state["psi_core"]
    path = humidity_path(psi, outside) - humidity_path(mounted, outside)
    lag = state["play"] - psi
    angle = angle_at(last)
    delta = draws["season_cos_pct"] * np.cos(angle) + draws["season_sin_pct"] * np.sin(angle)
    delta = delta - 100.0 * draws["path_share"] * lag
    for axis in ("md", "cd"):
        # expansion along the path of humidity, the history of damp and dry, warmth
        grown = draws[f"beta_{axis}"] * (100.0 * path - draws["hysteresis_offset_rh_pct"])
        grown = grown - draws[f"beta_{axis}"] * delta  # what the chain may be off by
        grown = grown + draws[f"alpha_{axis}"] * (state["temp_c"] - draws["mounted_temp_c"])
        assert moved[f"print_strain_{axis}"] == pytest.approx(grown, abs=2e-7)


def test_ranges_are_in_order_and_the_room_is_what_was_measured(chain: Chain, air: RoomAir) -> None:
    for link in chain.links:
        assert link.value.low <= link.value.mid <= link.value.high
    hour = (200 * 24) + 12
    room = chain.link("room_rh_pct").value
    assert room.mid == pytest.approx(air.rh_low_pct[hour], abs=0.3)
    # frames.toml, sensor.offset_pct: triangular, 2 %RH at most; drift: 200 days of 1.5 %RH a year
    assert 2.0 < room.high - room.low < 6.0
    assert chain.link("room_temp_c").value.mid == pytest.approx(air.temp_c[hour], abs=1e-3)


def test_every_link_says_what_decides_it(chain: Chain) -> None:
    for link in chain.links:
        assert decides_sentence(link.influences, link.quantity).endswith(".")
        assert len(link.influences) <= 5
        clear = bool(link.influences) and link.influences[0].clear
        assert (link.ends is not None) == clear
    headroom = chain.link("headroom_up_pct")
    said = decides_sentence(headroom.influences, headroom.quantity)
    assert "decides the spare" in said
    assert headroom.influences[0].strength > 0.3


def test_only_what_acts_on_a_link_can_decide_it(chain: Chain) -> None:
    named = {link.name: [one.name for one in link.influences] for link in chain.links}
    air = {"sensor_offset_pct", "logger_drift_pct_a", "gap_fill"}
    assert set(named["room_rh_pct"]) <= air
    assert named["room_temp_c"] == []
    assert not any(name.startswith(("beta", "hinge")) for name in named["print_rh_pct"])
    assert "visible_slope_mrad" not in named["slope_mrad"]


# Each parameter in turn is the only one that varies; its sign is that of the physics.
DECIDING = (
    ("prestrain", "headroom_up_pct", 1.0),
    ("prestrain", "tension_n_m", 1.0),
    ("beta_cd", "print_strain_cd", -1.0),  # mounted damper than it is now: it has shrunk
    ("mounted_rh_pct", "headroom_up_pct", 1.0),
    ("sensor_offset_pct", "print_rh_pct", 1.0),
    ("relax_per_decade", "relaxed_cd", 1.0),
    ("hinge_capacity_n_m", "hinge_load_pct", -1.0),
    ("gap_mm", "clearance_mm", 1.0),
)


@pytest.mark.parametrize(("name", "outcome", "sign"), DECIDING)
def test_a_chain_decided_by_one_parameter_names_it_with_its_sign(
    air: RoomAir, name: str, outcome: str, sign: float
) -> None:
    work = replace(WORK, grain=Grain.HORIZONTAL, panel=Panel.METAL_FACED, spacer_mm=12.0,
                   mounted_rh_pct=60.0)  # fmt: skip
    drawn = draw(work, N)
    still = {key: np.full(N, float(np.median(array))) for key, array in drawn.values.items()}
    draws = Draws("E1", drawn.release, {**still, name: drawn[name]})
    found = explain(work, draws, air, AT).link(outcome)
    assert [one.name for one in found.influences] == [name]
    # what hinges let go of above their sustained load bends the line a little
    assert found.influences[0].correlation == pytest.approx(sign, abs=0.05)
    assert found.ends is not None
    assert (found.ends.high > found.ends.low) == (sign > 0)


def test_a_narrowed_cause_stops_deciding(air: RoomAir) -> None:
    wide = explain(WORK, draw(WORK, N), air, AT).link("headroom_up_pct")
    first = wide.influences[0].name
    fixed = draw(WORK, N)
    middle = np.full(N, np.median(fixed[first]))
    narrow = explain(WORK, fixed.replace(**{first: middle}), air, AT).link("headroom_up_pct")
    assert narrow.influences[0].name != first


def test_weights_move_the_chain(air: RoomAir) -> None:
    draws = draw(WORK, N)
    dry = draws["mounted_rh_pct"] < np.quantile(draws["mounted_rh_pct"], 0.2)
    weighted = explain(WORK, draws, air, AT, np.where(dry, 1.0, 1e-9) / dry.sum())
    plain = explain(WORK, draws, air, AT)
    name = "headroom_up_pct"
    assert weighted.link(name).value.mid < plain.link(name).value.mid


def test_refused_hours_carry_their_reason_and_hold_as_far_as_they_do(air: RoomAir) -> None:
    sunny = replace(WORK, sun_or_spot=True)
    found = explain(sunny, draw(sunny, N), air, AT)
    assert found.refused == "sun or spot"
    assert {link.step for link in found.links if link.holds} == {"room"}
    for key in REFUSALS:
        told = [quantity.step for quantity in QUANTITIES if holds(quantity, key)]
        assert "room" in told
        assert "tension" not in told


def test_both_layers_of_a_resin_coated_print_are_told(air: RoomAir) -> None:
    # E §11, flag 5: core and image layer differ, report both
    coated = replace(WORK, paper=Paper.RESIN_COATED)
    names = {link.name for link in explain(coated, draw(coated, N), air, AT).links}
    assert {"core_rh_pct", "image_rh_pct"} <= names
    assert "core_rh_pct" not in {x.name for x in explain(WORK, draw(WORK, N), air, AT).links}


def test_clearance_is_told_only_where_there_is_a_known_gap(chain: Chain, air: RoomAir) -> None:
    open_frame = replace(WORK, frame=FrameBuild.A, spacer_mm=12.0)
    names = {link.name for link in explain(open_frame, draw(open_frame, N), air, AT).links}
    assert "clearance_mm" not in names
    known = replace(WORK, spacer_mm=12.0)
    clearance = explain(known, draw(known, N), air, AT).link("clearance_mm").value
    assert 0.0 < clearance.mid < 13.0


@pytest.mark.parametrize(
    "work",
    [replace(WORK, mounted_utc=AT + timedelta(days=9)), replace(WORK, mount=Mount.BONDED)],
)
def test_not_yet_mounted_or_bonded_has_no_chain(air: RoomAir, work: Work) -> None:
    with pytest.raises(NotEnoughError):
        explain(work, draw(work, N), air, AT)


@pytest.mark.parametrize("at", [START - timedelta(days=3), START, START + timedelta(days=366)])
def test_hours_outside_the_air_have_no_chain(air: RoomAir, at: object) -> None:
    with pytest.raises(NotEnoughError, match="an hour of the record"):
        explain(WORK, draw(WORK, N), air, at)  # type: ignore[arg-type]


def test_picture_has_a_bar_for_every_leading_link_and_is_repeatable(chain: Chain) -> None:
    figure = chain_figure(chain)
    assert len(figure.axes) == len(chain.leading)
    words = [axes.texts[0].get_text() for axes in figure.axes]
    for link, text in zip(chain.leading, words, strict=True):
        assert link.unit in text
    assert style.svg(figure) == style.svg(chain_figure(chain))


def test_every_parameter_has_words_and_something_that_would_settle_it() -> None:
    assert set(PARAMETER_WORDS) == set(SETTLED_BY) == set(UNITS)
    assert set(LARGER_WORDS) < set(UNITS)
    assert {quantity.step for quantity in QUANTITIES} == set(STEPS)
    assert not any("open the frame" in words for words in SETTLED_BY.values())


def test_warmth_that_did_next_to_nothing_is_no_cause(air: RoomAir) -> None:
    """Trade correction: movement with warmth was named first though it had changed by 0.8 K."""
    draws = draw(WORK, N)
    hour = {"temp_c": draws["mounted_temp_c"] + 0.8}
    left = {f"left_{axis}": np.linspace(-4e-4, 4e-4, N) for axis in ("md", "cd")}
    movements = ("alpha_md", "alpha_cd", "panel_alpha_along_md", "panel_alpha_along_cd")
    assert idle_warmth(draws, {**hour, **left}) == set(movements)
    # Twenty kelvin move a panel by as much as is uncertain otherwise.
    warm = {"temp_c": draws["mounted_temp_c"] + 20.0}
    assert "panel_alpha_along_cd" not in idle_warmth(draws, {**warm, **left})
    # Drawn together with the movement in damp, it goes along with the stretch that is left.
    beta = np.asarray(draws["panel_beta_along_cd"])
    together = draws.replace(
        panel_alpha_along_cd=2e-5 * (1.0 + 1e-3 * np.argsort(np.argsort(beta)) / N),
        mounted_temp_c=np.full(N, float(np.median(air.temp_c))),
    )
    found = explain(WORK, together, air, AT)
    named = {one.name for link in found.links for one in link.influences}
    assert "panel_alpha_along_cd" not in named
