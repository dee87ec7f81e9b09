"""Clearance sums."""

import dataclasses

import pytest

from analysis.errors import OutOfRangeError
from analysis.planning.spacer import clearance
from analysis.results import Range
from analysis.works import Finish, Glazing, Panel, Paper, Work

WORK = Work(
    "w1",
    "Harbour, winter",
    1000.0,
    800.0,
    Paper.FIBRE_BASE,
    Finish.GLOSSY,
    spacer_mm=12.0,
    glazing=Glazing.ACRYLIC,
    panel=Panel.PAPER_HONEYCOMB,
)
WAVE = Range(0.0, 1.0, 2.0)


def test_sum_by_hand() -> None:
    # rows of glazing.toml at 1 m: acrylic 0.5-2-6, paper honeycomb 0-1-4, spacer +-0.5 mm
    found = clearance(WORK, WAVE, 3.0)
    assert found.clearance_mm is not None
    assert found.clearance_mm.low == pytest.approx(12 - 0.5 - 2 - 6 - 4)
    assert found.clearance_mm.mid == pytest.approx(12 - 1 - 2 - 1)
    assert found.clearance_mm.high == pytest.approx(12 + 0.5 - 0 - 0.5 - 0)
    assert found.enough is False
    assert "may touch" in found.sentence


def test_deep_enough_is_said_as_such() -> None:
    found = clearance(dataclasses.replace(WORK, spacer_mm=25.0), WAVE, 3.0)
    assert found.enough is True
    assert "at the worst still the agreed 3 mm" in found.sentence


def test_bow_grows_with_the_square_of_the_longest_side() -> None:
    small, large = (
        clearance(WORK, WAVE),
        clearance(dataclasses.replace(WORK, width_mm=2000.0), WAVE),
    )
    assert small.panel_bow_mm.high * 4.0 == pytest.approx(large.panel_bow_mm.high)


def test_unknown_spacer_or_refused_wave_cannot_be_told() -> None:
    for work, wave in ((dataclasses.replace(WORK, spacer_mm=None), WAVE), (WORK, None)):
        found = clearance(work, wave)
        assert found.clearance_mm is None
        assert found.enough is None
        assert found.sentence.startswith("Cannot tell")


def test_unglazed_needs_no_clearance() -> None:
    found = clearance(dataclasses.replace(WORK, glazing=Glazing.NONE), WAVE)
    assert found.clearance_mm is None
    assert "no glazing" in found.sentence


@pytest.mark.parametrize("changes", [{"spacer_mm": -2.0}, {"height_mm": 0.0}])
def test_negative_depths_are_refused(changes: dict[str, float]) -> None:
    with pytest.raises(OutOfRangeError):
        clearance(dataclasses.replace(WORK, **changes), WAVE)  # type: ignore[arg-type]


def test_negative_agreed_minimum_is_refused() -> None:
    with pytest.raises(OutOfRangeError):
        clearance(WORK, WAVE, -1.0)
