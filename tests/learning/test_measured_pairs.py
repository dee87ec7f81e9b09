"""Fits on measured pairs: TRH-database (TRH-1, anssilaukkarinen/trh-1, CC BY 4.0)."""

import re
from pathlib import Path

import pytest
from bench.measured_pairs import SEASONS, AtticFits, CavityFit, attic_fits, cavity_fits

from analysis.learning.output_error import Bound
from dashboards.text.half_time_text import statements


@pytest.fixture(scope="module")
def cavity(shared_data: Path) -> dict[tuple[str, str], CavityFit]:
    return {(f.place, f.looked_at): f for f in cavity_fits(shared_data / "wall_cavity_pair")}


@pytest.mark.parametrize(("place", "tau_min"), [("mid bay", 165.0), ("corner", 290.0)])
def test_cavity_time_constants_on_ten_minute_changes(
    cavity: dict[tuple[str, str], CavityFit], place: str, tau_min: float
) -> None:
    # README of the set: about 165 min (mid bay) and 290 min (corner), one pole of a mix
    found = cavity[place, "changes"]
    assert found.fit.bound is Bound.BOTH
    assert found.low_min <= tau_min <= found.high_min


def test_corner_is_slower_than_mid_bay_whichever_way_it_is_looked_at(
    cavity: dict[tuple[str, str], CavityFit],
) -> None:
    for view in ("levels", "changes"):
        assert cavity["corner", view].tau_min > 1.3 * cavity["mid bay", view].tau_min


def test_one_pole_does_not_describe_the_wall_and_the_residuals_say_so(
    cavity: dict[tuple[str, str], CavityFit],
) -> None:
    for place in ("mid bay", "corner"):
        levels, changes = cavity[place, "levels"], cavity[place, "changes"]
        assert levels.fit.lag_one > 0.99
        assert levels.low_min > changes.high_min  # days and minutes ask for different lags
        assert levels.fit.residual_rms > 0.2  # g/kg


@pytest.fixture(scope="module")
def attic(shared_data: Path) -> AtticFits:
    return attic_fits(shared_data / "attic_paper_pair")


def test_half_time_behind_the_paper_falls_from_winter_to_summer_by_more_than_ten(
    attic: AtticFits,
) -> None:
    # README of the set: buffering depends on temperature, a single time constant does not hold
    winter, spring, summer = (attic.by_season[name] for name in SEASONS)
    assert winter.half_time_h > 10.0 * spring.half_time_h
    assert spring.half_time_h > 10.0 * summer.half_time_h
    assert winter.fit.bound is Bound.AT_LEAST
    assert summer.fit.bound is Bound.AT_MOST
    assert winter.fit.low_h > summer.fit.high_h


def test_over_the_year_one_half_time_leaves_more_than_noise_and_the_fit_says_so(
    attic: AtticFits,
) -> None:
    assert attic.whole.fit.residual_rms > 2.0 * attic.by_season["winter"].fit.residual_rms
    assert not attic.whole.sound
    assert any("one half-time does not describe" in words for words in statements(attic.whole))


def test_where_the_program_warns_of_a_half_time_it_is_measured_to_fail(attic: AtticFits) -> None:
    for (fitted, used), (left, words) in attic.elsewhere.items():
        own, _ = attic.elsewhere[used, used]
        if fitted == used:
            assert words == ""
        else:
            assert words.startswith("The half-time was fitted in other conditions"), (fitted, used)
            assert left > 1.05 * own, (fitted, used)


GUIDES = Path(__file__).resolve().parents[2] / "dashboards" / "guides"


def test_the_guide_gives_the_numbers_of_these_fits(
    cavity: dict[tuple[str, str], CavityFit], attic: AtticFits
) -> None:
    guide = (GUIDES / "validation.md").read_text(encoding="utf-8")
    for (place, view), one in cavity.items():
        looked_at = "ten-minute changes" if view == "changes" else view
        row = next(x for x in guide.splitlines() if x.startswith(f"| {place} | {looked_at} |"))
        found = re.search(r"(\d+) min \((\d+) to (\d+)\)", row)
        assert found is not None
        stated = [float(number) for number in found.groups()]
        assert stated == pytest.approx([one.tau_min, one.low_min, one.high_min], rel=0.02)
    for name, fitted in {**attic.by_season, "whole record": attic.whole}.items():
        row = next(line for line in guide.splitlines() if line.startswith(f"| {name} |"))
        assert f"{fitted.fit.residual_rms:.1f} %RH" in row
    for (fitted_in, used), (left, _) in attic.elsewhere.items():
        if fitted_in != used:
            row = next(line for line in guide.splitlines() if line.startswith(f"| {fitted_in} |"))
            assert f" {left:.1f} |" in row


def test_the_guides_figures_are_there() -> None:
    guide = (GUIDES / "validation.md").read_text(encoding="utf-8")
    pictures = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", guide)
    assert len(pictures) == 5
    assert [name for name in pictures if not (GUIDES / name).is_file()] == []
