"""An unglazed print follows the room more closely than one behind glazing, on any wall."""

from dataclasses import replace

import numpy as np
import pytest

from analysis.simulation.priors import draw
from analysis.works import Finish, FrameBuild, Paper, Wall, Work

WORK = Work("W1", "Quay", 1500, 1000, Paper.FIBRE_BASE, Finish.GLOSSY)


@pytest.mark.parametrize(
    ("wall", "glazed", "unglazed"),
    # section 2 of the enclosure's paper: U = 1 and 2, and U = 0.3, with a closed gap or flat
    [(Wall.OUTSIDE_MASONRY, 0.25, 0.13), (Wall.OUTSIDE_INSULATED, 0.07, 0.04)],
)
def test_part_of_the_way_to_the_outdoors(wall: Wall, glazed: float, unglazed: float) -> None:
    behind, open_to_air = (
        draw(replace(WORK, wall=wall, frame=frame), 400)["wall_factor"]
        for frame in (FrameBuild.C, FrameBuild.A)
    )
    assert float(np.median(behind)) == pytest.approx(glazed, abs=0.02)
    assert float(np.median(open_to_air)) == pytest.approx(unglazed, abs=0.02)
