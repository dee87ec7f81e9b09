"""Fits on measured pairs: TRH-database (TRH-1, anssilaukkarinen/trh-1, CC BY 4.0)."""

from pathlib import Path

import pytest

from analysis.output_error import Bound
from bench.measured_pairs import CavityFit, cavity_fits


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
