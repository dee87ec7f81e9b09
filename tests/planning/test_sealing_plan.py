"""Seal or not: builds, what closing locks in, and what a package does afterwards."""

from dataclasses import replace
from datetime import timedelta
from importlib.resources import files

import numpy as np
import pytest
from bench.calibration import START

from analysis.air.room_air import RoomAir
from analysis.learning.posterior import until
from analysis.parameters import parameter
from analysis.planning.sealing import (
    SealingComparison,
    before_a_warmer_board_pct,
    held_rh_pct,
    humid_margin_k,
    package,
    sealing_comparison,
)
from analysis.planning.year import years_of
from analysis.simulation.checkpoints import instant
from analysis.works import FrameBuild, Wall, Work
from dashboards.charts import style
from dashboards.charts.sealing import sealing_figure
from dashboards.pages.plan_pages import sealing_table
from dashboards.text.plan_text import (
    package_words,
    sealing_answer,
    sealing_reasons,
    sealing_warnings,
)

N = 40


@pytest.fixture(scope="module")
def found(air: RoomAir, print_on_metal: Work) -> SealingComparison:
    return sealing_comparison(print_on_metal, air, n=N)


@pytest.fixture(scope="module")
def spring(air: RoomAir) -> RoomAir:
    return until(air, START + timedelta(days=80))


def test_tighter_builds_move_less(found: SealingComparison) -> None:
    spans = {b.build: b.frame_rh_pct.high - b.frame_rh_pct.low for b in found.builds}
    order = [spans[b] for b in (FrameBuild.C, FrameBuild.D, FrameBuild.E, FrameBuild.F)]
    assert order == sorted(order, reverse=True)
    assert [b.is_now for b in found.builds] == [True, False, False, False]
    assert "lock in about" in sealing_answer(found)


def test_locked_in_humidity_is_that_of_the_package_now(
    spring: RoomAir, print_on_metal: Work
) -> None:
    found = sealing_comparison(print_on_metal, spring, n=N)
    year = years_of({"P1": print_on_metal}, spring, N, hourly_ranges=True)["P1"]
    assert found.locked_in_rh_pct.mid == pytest.approx(year.history.frame_rh_pct[-1, 1])
    assert found.month_rh_pct.low <= found.locked_in_rh_pct.mid <= found.month_rh_pct.high
    assert (
        f"{found.month_rh_pct.low:.0f} to {found.month_rh_pct.high:.0f} %RH"
        in sealing_reasons(found)[0]
    )


def test_closing_far_from_target_or_on_a_cold_or_sunlit_wall_is_warned_of(
    spring: RoomAir, print_on_metal: Work
) -> None:
    plain = sealing_comparison(print_on_metal, spring, n=N)
    near = plain.locked_in_rh_pct.mid
    assert sealing_comparison(print_on_metal, spring, n=N, target_rh_pct=near).warnings == ()
    far = sealing_warnings(
        sealing_comparison(print_on_metal, spring, n=N, target_rh_pct=near + 9.0)
    )
    assert len(far) == 1
    assert "9 %RH below its target" in far[0]
    cold = replace(print_on_metal, wall=Wall.OUTSIDE_MASONRY, sun_or_spot=True)
    found = sealing_comparison(cold, spring, n=N, target_rh_pct=near)
    words = " ".join(sealing_warnings(found))
    assert "cold wall" in words
    assert "sun" in words


def test_a_damp_closing_is_warned_of(spring: RoomAir, print_on_metal: Work) -> None:
    damp = replace(
        spring, rh_low_pct=spring.rh_low_pct * 0 + 66, rh_high_pct=spring.rh_low_pct * 0 + 66
    )
    found = sealing_comparison(print_on_metal, damp, n=N, target_rh_pct=66.0)
    assert any("do not close it now" in words for words in sealing_warnings(found))


def test_an_unknown_closing_is_carried_as_width(air: RoomAir, print_on_metal: Work) -> None:
    sealed = replace(print_on_metal, frame=FrameBuild.F)
    end = instant(air.time_utc[-1])
    lately = replace(sealed, closed_utc=end - timedelta(days=20))
    known = replace(lately, closing_rh_pct=48.0)
    long_ago, unknown, recorded = (
        sealing_comparison(one, air, n=N).locked_in_rh_pct for one in (sealed, lately, known)
    )
    assert unknown.high - unknown.low > 1.5 * (recorded.high - recorded.low)
    # Through the years before, a package closed long ago has begun to forget how.
    assert long_ago.high - long_ago.low < unknown.high - unknown.low


def test_a_package_follows_temperature_the_buffered_way() -> None:
    # Enclosure notes, values 16 and 17: sealed and buffered from 20 °C, 50 % goes to 46.26 % at
    # 10 °C and to 53.77 % at 30 °C; 30 % to 27.08 % and 70 % to 66.45 % at 10 °C
    for start, now_c, expected in (
        (50, 10, 46.26),
        (50, 30, 53.77),
        (30, 10, 27.08),
        (70, 10, 66.45),
    ):
        assert held_rh_pct(start, 20.0, now_c) == pytest.approx(expected, abs=0.02)


def test_glazing_colder_than_the_package_condenses_inside() -> None:
    # Enclosure notes, value 38: package at 20 °C
    for rh, colder in ((50, 10.74), (65, 6.78), (75, 4.57)):
        assert package(rh, 20.0, 18.0, 22.0).dew_k == pytest.approx(colder, abs=0.03)


def test_air_at_the_glass_is_humid_enough_for_mould_sooner() -> None:
    # Enclosure notes, section 8: 85 % at the glass at 8.3, 5.5, 4.3, 3.1, 2.0, 1.0 K
    expected = {50: 8.3, 60: 5.5, 65: 4.3, 70: 3.1, 75: 2.0, 80: 1.0}
    for rh, colder in expected.items():
        assert humid_margin_k(20.0, rh) == pytest.approx(colder, abs=0.06)


def test_a_print_colder_than_its_board_is_damper() -> None:
    # Enclosure notes, value 20: 3 K colder than air of 20 °C, 50 % is 60.3 %; the board's own
    # humidity at its temperature is taken here as given
    assert before_a_warmer_board_pct(50.0, 20.0, 0.0) == pytest.approx(50.0)
    damper = [before_a_warmer_board_pct(50.0, 20.0, k) for k in (1.0, 2.0, 3.0)]
    assert np.all(np.diff(damper) > 3.0)
    board = held_rh_pct(50.0, 17.0, 20.0)  # a board at 20 °C behind a print at 17 °C
    assert before_a_warmer_board_pct(50.0, 17.0, 3.0) == pytest.approx(60.3 * board / 50.0, abs=0.1)


def test_the_words_carry_the_figures() -> None:
    words = " ".join(package_words(package(50.0, 20.0, 10.0, 30.0)))
    for figure in ("46 to 54 %RH", "10.7 K", "8.3 K"):
        assert figure in words


def test_each_build_is_drawn_the_same_twice(found: SealingComparison) -> None:
    first, second = (style.svg(sealing_figure(found)) for _ in range(2))
    assert first == second
    assert len(sealing_figure(found, narrow=True).axes) == len(found.builds)
    assert len(sealing_table(found).rows) == len(found.builds)


def test_hours_that_cannot_be_told_are_named_in_the_picture(found: SealingComparison) -> None:
    blank = replace(found.builds[0].history, frame_rh_pct=np.full_like(
        found.builds[0].history.frame_rh_pct, np.nan))  # fmt: skip
    untold = replace(found, builds=[replace(found.builds[0], history=blank), *found.builds[1:]])
    words = [t.get_text() for t in sealing_figure(untold).axes[0].texts]
    assert "cannot tell" in words


def test_the_guide_says_the_programs_numbers() -> None:
    guide = (files("dashboards") / "guides" / "planning.md").read_text(encoding="utf-8")
    at_50, at_70 = package(50.0, 20.0, 18.0, 22.0), package(70.0, 20.0, 18.0, 22.0)
    words = " ".join(guide.split())
    assert f"that is {at_50.dew_k:.1f} K colder than a package at 50 %RH" in words
    assert f"only {at_70.dew_k:.1f} K at 70 %" in words
    assert f"already at {at_50.humid_k:.1f} and at {at_70.humid_k:.1f} K" in words
    per_k = (held_rh_pct(50.0, 20.0, 21.0) - held_rh_pct(50.0, 20.0, 19.0)) / 2.0
    assert f"at 50 %RH by about {per_k:.1f} %RH a kelvin" in words
    far = parameter("planning", "sealing", "far_from_target_pct").value
    assert f"more than {far:.0f} %RH from its target" in words
