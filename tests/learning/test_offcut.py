"""Movement from offcut strips, half-time from board and back, and what may be stated."""

import math

import numpy as np
import pytest
from hypothesis import given, strategies as st

from analysis.errors import NotEnoughError, OutOfRangeError, UnknownNameError
from analysis.learning.board_back import half_time_range_h, permeance_from, permeance_range
from analysis.learning.offcut import Strip, StripErrors, movement
from analysis.learning.stated_values import GROUPS, NOT_STATED, STATED_UNITS, table_row
from analysis.parameters import parameter
from analysis.results import Range
from analysis.simulation.priors import draw
from analysis.works import Adhesive, Finish, FrameBuild, Override, Panel, Paper, Wall, Work
from dashboards.forms.stated_words import strip_cautions
from dashboards.text.parameters import STATED_WORDS as WORDS

FINE = StripErrors(0.03, 0.5)


def work(**facts: object) -> Work:
    made: dict[str, object] = {"paper": Paper.FIBRE_BASE, "finish": Finish.GLOSSY} | facts
    return Work("W-1", "Quay", 1500.0, 1000.0, **made)  # type: ignore[arg-type]


def test_a_strip_s_movement_is_its_strain_over_the_step() -> None:
    found = movement([Strip(300.0, 33.0, 75.0, 1.26)], FINE)
    assert found.value == pytest.approx(1.26 / 300.0 / 42.0)
    # JCGM100, eq. 10: relative half-widths add in squares
    relative = math.hypot(math.sqrt(2) * 0.03 / 1.26, math.sqrt(2) * 0.5 / 42.0)
    assert (found.high - found.low) / 2 / found.value == pytest.approx(relative)
    assert found.scatter == 1.0


@given(st.floats(100.0, 600.0), st.floats(20.0, 40.0), st.floats(10.0, 35.0), st.floats(3e-5, 2e-4))
def test_drying_gives_the_same_as_wetting(
    length: float, low: float, step: float, beta: float
) -> None:
    change = beta * length * step
    wetter = movement([Strip(length, low, low + step, change)], StripErrors(0.001, 0.5))
    drier = movement([Strip(length, low + step, low, -change)], StripErrors(0.001, 0.5))
    assert wetter.value == pytest.approx(beta)
    assert (drier.value, drier.low, drier.high) == pytest.approx(
        (wetter.value, wetter.low, wetter.high)
    )


def test_the_range_holds_the_truth_nineteen_times_in_twenty() -> None:
    chance = np.random.default_rng(4)
    beta, errors = 9e-5, StripErrors(0.1, 1.5)
    held = 0
    for _ in range(4000):
        true = 300.0 * beta * 42.0
        first, last = chance.normal(0.0, errors.rh_pct / 2, 2)  # the same boxes for all strips
        strips = [
            Strip(300.0, 33.0 + first, 75.0 + last, true + float(noise))
            for noise in chance.normal(0.0, math.sqrt(2.0) * errors.reading_mm / 2, 3)
        ]
        found = movement(strips, errors)
        held += found.low <= beta <= found.high
    assert 0.93 < held / 4000 < 0.985


def test_strips_that_disagree_widen_the_range() -> None:
    agreeing = [Strip(300.0, 33.0, 75.0, change) for change in (1.12, 1.13, 1.14)]
    scattered = [Strip(300.0, 33.0, 75.0, change) for change in (0.9, 1.13, 1.36)]
    # BIRGE1932: the ratio is sqrt(chi²/(n-1)); here chi² = 2·(0.23/u)² with u = √2·0.03/2 mm
    expected = math.sqrt(2 * (0.23 / (math.sqrt(2) * 0.015)) ** 2 / 2)
    assert movement(scattered, FINE).scatter == pytest.approx(expected)
    assert movement(agreeing, FINE).scatter == 1.0
    assert movement(scattered, FINE).high > movement(agreeing, FINE).high


def test_more_strips_narrow_only_what_is_their_own() -> None:
    one, many = [Strip(300.0, 33.0, 75.0, 1.13)], [Strip(300.0, 33.0, 75.0, 1.13)] * 4
    only_reading = StripErrors(0.1, 0.0)
    only_humidity = StripErrors(0.0, 1.5)
    narrower = movement(many, only_reading).high - movement(many, only_reading).value
    wider = movement(one, only_reading).high - movement(one, only_reading).value
    assert narrower == pytest.approx(wider / 2)
    assert movement(many, only_humidity).high == pytest.approx(movement(one, only_humidity).high)


@pytest.mark.parametrize(
    ("strip", "where"),
    [
        (Strip(-300.0, 33.0, 75.0, 1.1), "length_mm"),
        (Strip(300.0, 33.0, 34.0, 0.1), "rh_after_pct"),
        (Strip(300.0, 33.0, 175.0, 1.1), "rh_after_pct"),
        (Strip(300.0, 33.0, 75.0, -1.1), "change_mm"),
        (Strip(300.0, 75.0, 33.0, 1.1), "change_mm"),
        (Strip(300.0, 33.0, 75.0, 0.0), "change_mm"),
        (Strip(300.0, 33.0, 75.0, 113.0), "change_mm"),
        (Strip(math.nan, 33.0, 75.0, 1.1), "length_mm"),
        (Strip(300.0, math.nan, 75.0, 1.1), "rh_before_pct"),
        (Strip(300.0, 33.0, 75.0, math.nan), "change_mm"),
    ],
)
def test_what_cannot_be_of_a_strip_is_refused(strip: Strip, where: str) -> None:
    with pytest.raises(OutOfRangeError) as problem:
        movement([strip])
    assert problem.value.where == where


def test_a_change_that_misreading_alone_could_give_is_no_answer() -> None:
    with pytest.raises(NotEnoughError, match="misreading alone"):
        movement([Strip(300.0, 33.0, 75.0, 0.3)], StripErrors(0.3, 1.5))
    with pytest.raises(NotEnoughError, match="no strip"):
        movement([])


def test_a_damp_step_is_cautioned() -> None:
    dry, damp = Strip(300.0, 33.0, 60.0, 1.0), Strip(300.0, 33.0, 80.0, 1.0)
    assert len(strip_cautions([damp])) == len(strip_cautions([dry])) + 1


def test_the_half_time_from_board_and_back_is_that_of_the_draws() -> None:
    # enclosure paper, eq. 2: tau = M xi / (G p_sat); times ln 2
    found = half_time_range_h(Range(0.9, 1.0, 1.1), Range(4e-9, 5e-9, 6e-9))
    assert found.mid == pytest.approx(math.log(2) * 1.0 * 0.10162 / (5e-9 * 2332.6) / 3600, 1e-3)
    stated = {
        "board_mass_kg_m2": Override(1.0, 0.9, 1.1, "weighed"),
        "back_permeance": Override(5e-9, 4e-9, 6e-9, "data sheet"),
    }
    drawn = draw(work(overrides=stated), 4000)["half_time_h"]
    assert np.median(drawn) == pytest.approx(found.mid, rel=0.05)
    inside = (drawn >= found.low) & (drawn <= found.high)
    assert 0.9 < inside.mean() <= 1.0


def test_without_a_permeance_that_of_common_board_is_taken() -> None:
    row = parameter("frames", "board", "permeance")
    mass = Range(0.9, 1.0, 1.1)
    stated = half_time_range_h(mass, Range(row.low, row.value, row.high))
    assert half_time_range_h(mass) == stated


def test_permeances_come_in_several_units() -> None:
    assert permeance_from(1.0, "US perm") == pytest.approx(5.72e-11, rel=2e-3)  # ASTM E96, memory
    assert permeance_range(Range(0.02, 0.04, 0.08), "m of still air") == Range(
        1.9e-10 / 0.08, 1.9e-10 / 0.04, 1.9e-10 / 0.02
    )
    with pytest.raises(UnknownNameError):
        permeance_from(1.0, "metric perm")
    for bad in (0.0, -1.0, math.nan):
        with pytest.raises(OutOfRangeError):
            permeance_from(bad, "US perm")
    with pytest.raises(OutOfRangeError):
        half_time_range_h(Range(0.0, 1.0, 2.0))


def test_every_parameter_stands_in_one_group_or_says_why_not() -> None:
    grouped = [name for names in GROUPS.values() for name in names]
    assert len(grouped) == len(set(grouped))
    assert set(grouped) | set(NOT_STATED) == set(STATED_UNITS)
    assert not set(grouped) & set(NOT_STATED)
    assert all(WORDS[name] for name in grouped)


@pytest.mark.parametrize(
    "of",
    [
        work(),
        work(paper=Paper.RESIN_COATED, adhesive=Adhesive.PRESSURE_SENSITIVE, finish=Finish.MATT),
        work(frame=FrameBuild.E, panel=Panel.MUSEUM_BOARD, wall=Wall.OUTSIDE_MASONRY),
    ],
    ids=["fibre base", "resin-coated", "sealed"],
)
def test_the_row_shown_is_the_row_drawn_from(of: Work) -> None:
    drawn = draw(of, 2000)
    # Conditioned on one another; capped at 1; limited by what the hinges hold; one age a past.
    others = (
        "beta_md",
        "beta_cd",
        "modulus_md_gpa",
        "modulus_cd_gpa",
        "hinge_coverage",
        "prestrain",
        "mounted_years",
    )
    for name in drawn.values:
        row = table_row(of, name)
        if row is None or name in others:
            continue
        assert abs(np.median(drawn[name]) - row.value) <= 0.3 * (row.high - row.low), name
        if row.high > row.low:
            assert np.unique(drawn[name]).size > 100, name
