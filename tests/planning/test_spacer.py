"""Clearance sums."""

import dataclasses
from itertools import combinations

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.patches import Rectangle

from analysis.errors import OutOfRangeError
from analysis.planning.spacer import clearance
from analysis.results import Range
from analysis.simulation.priors import draw
from analysis.works import Finish, Glazing, Panel, Paper, Work
from dashboards.charts.spacer import section_figure
from dashboards.pages.plan_pages import clearance_table
from dashboards.text.plan_text import clearance_answer

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
    # rows of glazing.toml at 1 m: acrylic 0.3-1-3, paper honeycomb 0-0.5-2, spacer +-0.5 mm
    found = clearance(WORK, WAVE, 3.0)
    assert found.clearance_mm is not None
    assert found.clearance_mm.low == pytest.approx(12 - 0.5 - 2 - 3 - 2)
    assert found.clearance_mm.mid == pytest.approx(12 - 1 - 1 - 0.5)
    assert found.clearance_mm.high == pytest.approx(12 + 0.5 - 0 - 0.3 - 0)
    assert found.enough is True
    shallow = clearance(dataclasses.replace(WORK, spacer_mm=7.0), WAVE, 3.0)
    assert shallow.enough is False
    assert "may touch" in clearance_answer(shallow)


def test_deep_enough_is_said_as_such() -> None:
    found = clearance(dataclasses.replace(WORK, spacer_mm=25.0), WAVE, 3.0)
    assert found.enough is True
    assert "at the worst still the agreed 3 mm" in clearance_answer(found)


def test_the_depth_needed_is_the_sum_turned_round() -> None:
    # at 1 m: 3 mm agreed + waves 0-1-2 + acrylic 0.3-1-3 + panel 0-0.5-2, spacer +-0.5 mm
    needed = clearance(WORK, WAVE, 3.0).needed_mm
    assert needed is not None
    assert (needed.low, needed.mid, needed.high) == pytest.approx((2.8, 5.5, 10.5))
    deep = clearance(dataclasses.replace(WORK, spacer_mm=needed.high), WAVE, 3.0)
    assert deep.clearance_mm is not None
    assert deep.clearance_mm.low == pytest.approx(3.0)
    assert deep.enough is True
    assert "about 6 mm, and 10 mm" in clearance_answer(deep)


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
        assert clearance_answer(found).startswith("Cannot tell")


def test_an_unknown_spacer_still_gets_the_depth_it_would_need() -> None:
    found = clearance(dataclasses.replace(WORK, spacer_mm=None), WAVE, 3.0)
    assert "needs a spacer of about 6 mm" in clearance_answer(found)


def test_the_cut_is_drawn_to_scale() -> None:
    found = clearance(dataclasses.replace(WORK, spacer_mm=25.0), WAVE, 3.0)
    axes = section_figure(found).axes[0]
    spacers = [p for p in axes.patches if isinstance(p, Rectangle)]
    assert [p.get_height() for p in spacers] == [25.0, 25.0]
    crest = max(float(line.get_ydata().max()) for line in axes.lines)  # type: ignore[union-attr]
    assert crest <= 25.0
    words = " ".join(t.get_text() for t in axes.texts)
    for part in ("spacer 25.0 mm", "waves", "clearance", "glazing, its bow", "panel, its bow"):
        assert part in words


@pytest.mark.parametrize(("spacer", "wave"), [(None, WAVE), (12.0, None)])
def test_what_is_not_known_is_left_out_of_the_cut(spacer: float | None, wave: Range | None) -> None:
    found = clearance(dataclasses.replace(WORK, spacer_mm=spacer), wave)
    words = " ".join(t.get_text() for t in section_figure(found).axes[0].texts)
    assert "clearance" not in words
    assert ("spacer" in words) == (spacer is not None)
    assert ("waves" in words) == (wave is not None)
    assert clearance_table(found).rows[4] == ("Clearance", "not known")


@pytest.mark.parametrize("spacer", [3.0, 6.0, 12.0, 25.0, 60.0])
@pytest.mark.parametrize("wave", [Range(0.0, 0.0, 0.0), Range(0.0, 2.5, 12.2), Range(4, 11, 30)])
def test_no_words_of_the_cut_lie_over_others(spacer: float, wave: Range) -> None:
    figure = section_figure(clearance(dataclasses.replace(WORK, spacer_mm=spacer), wave, 3.0))
    renderer = FigureCanvasAgg(figure).get_renderer()  # type: ignore[no-untyped-call]
    texts = [text for text in (*figure.texts, *figure.axes[0].texts) if text.get_text()]
    boxes = [text.get_window_extent(renderer) for text in texts]
    assert len(boxes) >= 7
    for one, other in combinations(boxes, 2):
        assert not one.overlaps(other)
    assert min(box.x0 for box in boxes) >= 0.0
    assert min(box.y0 for box in boxes) >= 0.0
    assert max(box.x1 for box in boxes) <= figure.bbox.width
    assert max(box.y1 for box in boxes) <= figure.bbox.height


def test_unglazed_needs_no_clearance() -> None:
    found = clearance(dataclasses.replace(WORK, glazing=Glazing.NONE), WAVE)
    assert found.clearance_mm is None
    assert "no glazing" in clearance_answer(found)


@pytest.mark.parametrize("changes", [{"spacer_mm": -2.0}, {"height_mm": 0.0}])
def test_negative_depths_are_refused(changes: dict[str, float]) -> None:
    with pytest.raises(OutOfRangeError):
        clearance(dataclasses.replace(WORK, **changes), WAVE)  # type: ignore[arg-type]


def test_negative_agreed_minimum_is_refused() -> None:
    with pytest.raises(OutOfRangeError):
        clearance(WORK, WAVE, -1.0)


@pytest.mark.parametrize("panel", list(Panel))
@pytest.mark.parametrize("glazing", [Glazing.GLASS, Glazing.ACRYLIC])
def test_the_round_and_the_plan_draw_on_one_gap(panel: Panel, glazing: Glazing) -> None:
    """The estimator's draws of the gap lie within the plan's sum without waves, and fill it."""
    work = dataclasses.replace(WORK, width_mm=1800.0, spacer_mm=40.0, panel=panel, glazing=glazing)
    sum_mm = clearance(work, Range(0.0, 0.0, 0.0)).clearance_mm
    assert sum_mm is not None
    drawn = np.quantile(draw(work, 2000)["gap_mm"], [0.05, 0.5, 0.95])
    width = sum_mm.high - sum_mm.low
    assert drawn[0] >= sum_mm.low - 0.15 * width
    assert drawn[2] <= sum_mm.high + 0.05 * width
    assert drawn[1] == pytest.approx(sum_mm.mid, abs=0.25 * width)
    assert drawn[2] - drawn[0] > 0.4 * width
