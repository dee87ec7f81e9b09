"""Draws: reproducible, within their tables, correlated as published, overridden where stated."""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from analysis.chain.gap import gap_terms
from analysis.chain.tension import series_factor
from analysis.errors import OutOfRangeError, StilltautError, UnknownNameError
from analysis.parameters import parameter, read_toml, table
from analysis.simulation.drawer import TABLES, group_of, release
from analysis.simulation.drawn_parameters import UNITS
from analysis.simulation.priors import axes_of, draw
from analysis.simulation.redraw import draws_from, levels_of
from analysis.simulation.refusals import require_mounted_before_hanging, standing_refusal
from analysis.works import Adhesive, Finish, FrameBuild, Grain, Override, Panel, Paper, Wall, Work

WORK = Work("W1", "Quay", 1500, 1000, Paper.FIBRE_BASE, Finish.GLOSSY, mounted_rh_pct=48.0)


def stated(**values: tuple[float, float, float]) -> Work:
    overrides = {k: Override(v, lo, hi, "measured") for k, (lo, v, hi) in values.items()}
    return replace(WORK, overrides=overrides)


def test_the_same_every_time() -> None:
    first, again, other = draw(WORK), draw(WORK), draw(replace(WORK, work_id="W2"))
    assert first.release == release()
    for name in UNITS:
        assert np.array_equal(first[name], again[name], equal_nan=True)
    assert not np.array_equal(first["beta_cd"], other["beta_cd"])


def test_one_fact_leaves_the_other_draws() -> None:
    before, after = draw(WORK), draw(stated(half_time_h=(5.0, 6.0, 7.0)))
    changed = [n for n in UNITS if not np.array_equal(before[n], after[n], equal_nan=True)]
    assert changed == ["half_time_h"]
    assert 5.0 <= after["half_time_h"].min() <= after["half_time_h"].max() <= 7.0


@pytest.mark.parametrize("paper", list(Paper))
def test_medians_and_spread(paper: Paper) -> None:
    drawn = draw(replace(WORK, paper=paper), 2000)
    for name in ("thickness_mm", "core_half_time_h", "moisture_slope"):
        row = parameter("prints", group_of(paper), name)
        assert float(np.median(drawn[name])) == pytest.approx(row.value, rel=0.02)
        inside = (drawn[name] >= row.low) & (drawn[name] <= row.high)
        assert inside.mean() > 0.80
    assert all(np.isfinite(drawn[n]).all() for n in UNITS if n != "gap_mm")


def test_energy_ratio_is_imposed() -> None:
    # DERUVO1973: E·beta along over across, 0.9-1.05-1.35; without it the medians would give 0.68
    drawn = draw(WORK, 4000)
    ratio = (drawn["modulus_md_gpa"] * drawn["beta_md"]) / (
        drawn["modulus_cd_gpa"] * drawn["beta_cd"]
    )
    assert float(np.median(ratio)) == pytest.approx(1.03, abs=0.04)
    assert np.quantile(ratio, 0.05) > 0.80
    assert np.quantile(ratio, 0.95) < 1.40
    for name in ("beta_md", "beta_cd", "modulus_md_gpa", "modulus_cd_gpa"):
        row = parameter("prints", "fibre_base", name)
        assert 0.95 * row.low < np.quantile(drawn[name], 0.05)
        assert np.quantile(drawn[name], 0.95) < row.high * 1.05


def test_measured_coefficient_hardly_moves() -> None:
    drawn = draw(stated(beta_cd=(97e-6, 100e-6, 103e-6)), 2000)
    assert float(np.median(drawn["beta_cd"])) == pytest.approx(100e-6, rel=0.01)
    assert drawn["beta_cd"].std() < 2e-6


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("mounted_rh_pct", 40.0, 44.0),
        ("closing_rh_pct", 51.0, 53.0),
        ("gap_mm", 5.0, 7.0),
        ("grain_vertical", 1.0, 1.0),
        ("panel_beta_along_cd", 0.0, 1e-6),
        ("hinge_free_length_mm", 9.0, 11.0),
        ("sensor_offset_pct", -3.0, -2.0),
    ],
)
def test_what_is_stated_is_used(name: str, low: float, high: float) -> None:
    drawn = draw(stated(**{name: (low, (low + high) / 2, high)}))[name]
    assert low <= drawn.min() <= drawn.max() <= high


def test_humidities_that_nobody_recorded_are_width_and_no_refusal() -> None:
    sealed = replace(WORK, frame=FrameBuild.E, mounted_rh_pct=None, closing_rh_pct=None)
    assert standing_refusal(sealed, 3600.0) == ""
    wide = draw(sealed)
    for name in ("mounted_rh_pct", "closing_rh_pct"):
        assert np.ptp(wide[name]) > 30.0
    stated_for = {"mounted_rh_pct": (45.0, 48.0, 51.0), "closing_rh_pct": (46.0, 48.0, 50.0)}
    told = draw(replace(sealed, overrides=stated(**stated_for).overrides))
    for name, (low, _, high) in stated_for.items():
        assert low <= told[name].min() <= told[name].max() <= high


def test_a_kind_that_nobody_knows_is_each_of_those_that_may_be_true() -> None:
    unknown = replace(WORK, unknown=frozenset({"panel", "frame"}))
    mixed = draw(unknown)
    found = []
    for build in FrameBuild:
        at = [np.isclose(mixed["half_time_h"], draw(replace(WORK, frame=build))["half_time_h"])]
        found.append(np.flatnonzero(at[0]))
    assert all(len(one) > 10 for one in found)
    assert len(np.unique(np.concatenate(found))) == mixed.n
    levels = levels_of(unknown, mixed.n)
    again = draws_from(unknown, levels)
    assert all(np.array_equal(again[name], mixed[name], equal_nan=True) for name in mixed.values)


def test_polyester_is_the_same_both_ways() -> None:
    drawn = draw(replace(WORK, paper=Paper.POLYESTER))
    assert np.array_equal(drawn["beta_md"], drawn["beta_cd"])


def test_grain_unknown_is_half_and_half() -> None:
    assert draw(WORK)["grain_vertical"].mean() == 0.5
    assert draw(replace(WORK, grain=Grain.VERTICAL))["grain_vertical"].all()
    assert not draw(replace(WORK, grain=Grain.HORIZONTAL))["grain_vertical"].any()


def test_board_and_back_give_the_half_time() -> None:
    # ln 2 · M xi / (G p_sat): 2 kg/m², 0.1016, 2.5e-9 → 6.7 h
    work = stated(board_mass_kg_m2=(2.0, 2.0, 2.0), back_permeance=(2.5e-9, 2.5e-9, 2.5e-9))
    assert float(np.median(draw(work)["half_time_h"])) == pytest.approx(6.7, abs=0.2)


def test_unknown_spacer_is_not_guessed() -> None:
    assert np.isnan(draw(WORK)["gap_mm"]).all()
    # What bow of glazing and panel leave of it: the rows of the spacer plan.
    terms = gap_terms(WORK)
    assert terms.glazing_bow_mm is not None
    left = 30.0 - terms.glazing_bow_mm.value - terms.panel_bow_mm.value
    assert np.median(draw(replace(WORK, spacer_mm=30.0))["gap_mm"]) == pytest.approx(left, abs=1.0)


@pytest.mark.parametrize(
    ("work", "where"),
    [
        (stated(thickness_mm=(-0.3, -0.3, -0.3)), "thickness_mm"),
        (stated(half_time_h=(0.0, 0.0, 0.0)), "half_time_h"),
        (stated(beta_cd=(90e-6, 80e-6, 100e-6)), "beta_cd"),
        (stated(back_permeance=(1e-9, 2e-9, 3e-9)), "back_permeance"),
        (replace(WORK, width_mm=-5.0), "width_mm"),
        (replace(WORK, hinge_coverage=1.4), "hinge_coverage"),
        (replace(WORK, mounted_rh_pct=140.0), "mounted_rh_pct"),
        (replace(WORK, spacer_mm=-1.0), "spacer_mm"),
        (
            replace(
                WORK,
                mounted_utc=datetime(2025, 3, 1, tzinfo=UTC),
                closed_utc=datetime(2025, 2, 1, tzinfo=UTC),
            ),
            "closed_utc",
        ),
        (replace(WORK, mounted_utc=datetime(2025, 3, 1)), "mounted_utc"),  # noqa: DTZ001
    ],
)
def test_what_cannot_be(work: Work, where: str) -> None:
    with pytest.raises(OutOfRangeError) as caught:
        draw(work)
    assert caught.value.where == where
    assert caught.value.read == "work W1"
    assert all((caught.value.found, caught.value.expected, caught.value.action))


def test_unknown_override() -> None:
    with pytest.raises(UnknownNameError, match="half_time_days"):
        draw(stated(half_time_days=(1.0, 1.0, 1.0)))


def test_mounted_after_hanging() -> None:
    mounted = replace(WORK, mounted_utc=datetime(2025, 3, 1, tzinfo=UTC))
    require_mounted_before_hanging(mounted, datetime(2025, 3, 2, tzinfo=UTC))
    with pytest.raises(OutOfRangeError, match="before it was hung"):
        require_mounted_before_hanging(mounted, datetime(2025, 2, 1, tzinfo=UTC))


def test_tables_are_sound() -> None:
    known = read_toml("references")
    for name in (*TABLES, "moisture"):
        for rows in table(name).values():
            for row in rows.values():
                assert row.low <= row.value <= row.high
                assert row.source in known


@given(
    st.sampled_from(list(Paper)),
    st.sampled_from(list(Panel)),
    st.sampled_from(list(FrameBuild)),
    st.sampled_from(list(Wall)),
    st.sampled_from(list(Adhesive)),
    st.sampled_from(list(Finish)),
)
@settings(deadline=None)
def test_every_kind_can_be_drawn(
    paper: Paper, panel: Panel, frame: FrameBuild, wall: Wall, adhesive: Adhesive, finish: Finish
) -> None:
    work = replace(
        WORK, paper=paper, panel=panel, frame=frame, wall=wall, adhesive=adhesive, finish=finish
    )
    try:
        drawn = draw(work, 20)
    except StilltautError:
        pytest.fail("a work without odd facts was refused")
    assert set(drawn.values) == set(UNITS)
    assert (drawn["half_time_h"] > 0).all()
    assert (drawn["thickness_mm"] > 0).all()


def test_no_print_is_mounted_tauter_than_its_hinges_hold() -> None:
    work = WORK
    draws = draw(work)
    for length_m, ea in axes_of(work.width_mm, work.height_mm, draws.values).values():
        free_m = draws["hinge_free_length_mm"] / 1000.0
        taken = series_factor(
            length_m, ea, free_m, draws["hinge_coverage"], draws["hinge_stiffness_n_m"]
        )
        load = draws["prestrain"] * ea * taken
        assert (load <= draws["hinge_capacity_n_m"] * draws["hinge_coverage"] * (1 + 1e-9)).all()


def test_a_new_mounting_is_doubted_anew_and_the_sheet_is_not() -> None:
    before, after = draw(WORK), draw(replace(WORK, mounting_no=1))
    assert np.array_equal(before["beta_cd"], after["beta_cd"])
    assert np.array_equal(before["half_time_h"], after["half_time_h"])
    assert not np.array_equal(before["hinge_capacity_n_m"], after["hinge_capacity_n_m"])
    assert not np.array_equal(before["prestrain"], after["prestrain"])


def test_a_new_frame_is_doubted_anew_and_the_mounting_is_not() -> None:
    before, after = draw(WORK), draw(replace(WORK, framing_no=1))
    assert not np.array_equal(before["half_time_h"], after["half_time_h"])
    assert np.array_equal(before["prestrain"], after["prestrain"])
