"""The mount sheet carries every fact that practice gives, and marks it as practice."""

import dataclasses
from importlib.resources import files
from itertools import pairwise
from xml.etree import ElementTree

import numpy as np
import pytest
from fixtures.paper import pages_of
from matplotlib.patches import Rectangle

from analysis.errors import OutOfRangeError
from analysis.parameters import table
from analysis.planning.mount_sheet import adhesive_for, mount_sheet, panel_thickness_mm
from analysis.works import Finish, Mount, Paper, Work
from dashboards.charts.hinge import MEANING, hinge_run
from dashboards.charts.mount_sheet import hinges_behind, panel_drawing
from dashboards.forms.form import FilledField
from dashboards.pages.record_facts import FIELDS
from dashboards.render import environment
from dashboards.sheets.mount_paper import bench_sheet
from dashboards.sheets.typesetting import sheet_pdf
from dashboards.text.bench_sheet import BOXES, CAUTIONS, adhesive_words, steps, text

WORK = Work("w1", "Harbour, winter", 1500.0, 1000.0, Paper.FIBRE_BASE, Finish.GLOSSY)


def test_panel_is_two_millimetres_larger_with_one_showing_on_each_side() -> None:
    sheet = mount_sheet(WORK)
    assert (sheet.panel_width_mm, sheet.panel_height_mm) == (1502.0, 1002.0)
    assert sheet.panel_shows_mm == 1.0


def test_panel_is_8_mm_for_most_and_13_mm_for_exceptionally_large() -> None:
    assert panel_thickness_mm(1500.0, 1000.0) == 8.0
    assert panel_thickness_mm(1000.0, 2500.0) == 13.0


def test_resin_coated_takes_two_acrylic_dispersions_for_a_day() -> None:
    recipe = adhesive_for(Paper.RESIN_COATED)
    assert recipe is not None
    _family, mixed, applied, wait = adhesive_words(recipe)
    assert mixed == "1 part of the firm to 1 part of the soft, by weight"
    assert "24 h, free of dust" in wait
    assert "burnished down without weights" in applied
    assert adhesive_for(Paper.INKJET_RESIN_COATED) == recipe


def test_fibre_base_takes_cellulose_ether_in_ethanol_under_weights() -> None:
    recipe = adhesive_for(Paper.FIBRE_BASE)
    assert recipe is not None
    _family, mixed, applied, wait = adhesive_words(recipe)
    assert mixed == "10 % cellulose ether in ethanol"
    assert "3 or 4 at a time" in applied
    assert "20 min" in wait


def test_papers_without_a_habit_get_none_and_the_sheet_says_so() -> None:
    work = dataclasses.replace(WORK, paper=Paper.INKJET_COTTON)
    sheet = mount_sheet(work)
    assert sheet.adhesive is None
    assert any("ask a conservator" in step for step in steps(sheet))


def test_tape_lengths_follow_from_the_panel_and_the_hinges() -> None:
    sheet = mount_sheet(WORK)
    total = {tape.purpose: tape.total_mm for tape in sheet.tapes}
    assert total["behind each hinge"] == 100 * 50.0
    assert total["full strip, top and bottom"] == 2 * 1502.0
    assert total["panel edges, sides"] == 2 * 1002.0


def test_order_of_work_runs_from_resting_to_the_frame() -> None:
    order = " | ".join(steps(mount_sheet(WORK, target_rh_pct=47.0)))
    words = ("47 %RH", "tape its cut edges", "feathered edge about 10 mm in", "turn the hinges")
    assert all(word in order for word in words)
    assert "from the middle of each side towards the corners" in order
    assert order.index("turn the hinges") < order.index("one full strip")
    assert "It is meant to stay framed; taking hinges off is a conservator's work" in order
    assert order.index("Air the hinges") < order.index("glaze and close")


def test_a_print_that_lies_face_down_has_its_layers_under_it() -> None:
    # Common practice, no source.
    order = steps(mount_sheet(WORK))
    (down,) = [i for i, step in enumerate(order) if "face down" in step]
    assert "clean non-woven polyester, over blotter, over a flat board" in order[down]
    assert down < next(i for i, step in enumerate(order) if step.startswith("Glue the feathered"))


def test_stamps_and_retouching_are_tested_before_any_solvent() -> None:
    cautions = CAUTIONS
    assert any(c.startswith("Spot-test stamps, inks and retouching before any") for c in cautions)


def test_hinges_sit_on_all_four_edges_and_none_in_the_middle() -> None:
    # common practice, no source: round all four edges, overlapping at the corners
    sheet = mount_sheet(WORK)
    width, height = sheet.panel_width_mm, sheet.panel_height_mm
    boxes = hinges_behind(sheet)
    assert len(boxes) == sheet.hinges.count
    for left, bottom, across, up in boxes:
        at_side = left == 0.0 or left + across == pytest.approx(width)
        at_end = bottom == 0.0 or bottom + up == pytest.approx(height)
        assert at_side or at_end
    corner = [b for b in boxes if b[0] + b[2] <= 60.0 and b[1] + b[3] <= 60.0]
    assert len(corner) == 2  # one from each side: they overlap


def test_a_hinge_turned_over_reaches_behind_what_glue_and_panel_leave_of_it() -> None:
    # 50 mm less 10 mm glued, 1 mm of panel showing and 8 mm of panel; 13 mm for a large one
    assert mount_sheet(WORK).hinge_behind_mm == 31.0
    assert mount_sheet(dataclasses.replace(WORK, width_mm=2400.0)).hinge_behind_mm == 26.0


def test_the_free_length_has_one_definition_on_form_guide_and_sheet() -> None:
    # from the edge of the print to where the strip is fixed: the field's words, the guide's, and
    # what is drawn pale
    words = FIELDS["hinge_free_length_mm"].label
    assert "from the edge of the print to where they are fixed" in words
    assert "from the edge of the print to where the strip is fixed" in MEANING
    guide = files("dashboards").joinpath("guides/planning.md").read_text(encoding="utf-8")
    assert "the length from the edge of the print to where the strip is fixed" in guide
    run = hinge_run(panel_mm=8.0, shows_mm=1.0, glue_mm=15.0, behind_mm=26.0)
    assert run.free[0] == run.glued[-1]
    assert run.free[0][0] == run.printed[0][0] == 1.0
    assert run.free[-1] == run.fixed[0]
    assert run.free[-1][0] == run.tape[0][0]
    along = sum(np.hypot(x - u, y - v) for (x, y), (u, v) in pairwise(run.free))
    assert along == pytest.approx(2.0 + 9.6 + 18.0)


def test_the_form_draws_the_free_length_beside_its_field() -> None:
    one = FIELDS["hinge_free_length_mm"]
    macros = environment().get_template("_forms.html").module
    shown = str(macros.field(FilledField(one)))  # type: ignore[attr-defined]
    assert MEANING in shown
    drawing = ElementTree.fromstring(shown[shown.index("<svg") : shown.index("</svg>") + 6])
    pale = [line for line in drawing.iter("polyline") if line.get("stroke-opacity") == "0.3"]
    start, *_, end = pale[0].get("points", "").split()
    lines = [line.get("points", "").split() for line in drawing.iter("polyline")]
    assert sum(points[-1] == start for points in lines) == 1, "where the glue ends"
    assert sum(points[0] == end for points in lines) == 1, "where the strip is fixed"
    other = FIELDS["hinge_coverage"]
    assert "<svg" not in str(macros.field(FilledField(other)))  # type: ignore[attr-defined]


def test_every_step_of_practice_stands_on_the_sheet() -> None:
    # common practice, no source
    fibre = " ".join(steps(mount_sheet(WORK)))
    resin = " ".join(steps(mount_sheet(dataclasses.replace(WORK, paper=Paper.RESIN_COATED))))
    for words in (
        "Japanese tissue, 50 mm square, one edge feathered",
        "about 10 mm in",
        "round all four edges, overlapping at the corners; none in the middle",
        "archival honeycomb and tape its cut edges",
        "from the middle of each side towards the corners",
        "one piece as wide as the hinge",
        "one full strip of tape behind along each side",
        "spacers of archival board, since they touch: each rests on the print's edge and keeps it",
        "meant to stay framed",
    ):
        assert words in fibre
        assert words in resin
    assert "the hinge applied wet, 3 or 4 at a time, under weights; about 20 min" in fibre
    assert "burnished down without weights; 24 h, free of dust, until tacky" in resin


def test_boxes_ask_for_what_the_register_wants_to_know() -> None:
    asked = " ".join(BOXES)
    for words in ("Humidity at mounting", "Temperature at mounting", "Lot of the adhesive",
                  "Lot of the tissue", "Humidity at closing", "Depth of the spacer",
                  "Free hinge, print edge to where fixed", "Mounted by"):  # fmt: skip
        assert words in asked


def test_the_printed_sheet_is_one_upright_a4_page() -> None:
    for paper in Paper:
        sheet = mount_sheet(dataclasses.replace(WORK, paper=paper), pitch_mm=25.0)
        (page,) = pages_of(sheet_pdf(bench_sheet(sheet)))
        assert BOXES[-1] in page


def test_the_printed_sheet_asks_and_warns() -> None:
    (words,) = pages_of(sheet_pdf(bench_sheet(mount_sheet(WORK))))
    for part in ("Cautions", "Ethanol burns", *BOXES, "common practice, no source"):
        assert part in words


def test_cautions_name_solvents_water_weight_and_height() -> None:
    text = " ".join(CAUTIONS)
    for word in ("Solvents", "Ethanol burns", "water", "two people", "height", "conservator"):
        assert word in text


def test_every_fact_is_marked_as_practice_or_memory_or_ours() -> None:
    for group, rows in table("mounting").items():
        for name, row in rows.items():
            marks = ("common practice, no source", "from memory", "our reading", "taken where")
            assert row.source == "CommonPractice", (group, name)
            assert any(mark in row.note for mark in marks), (group, name)


def test_weight_of_a_4_mm_glass_front() -> None:
    # glass 2.5 kg/m² mm from memory: 4 mm on 1.5 x 1 m about 15 kg; panel 2.5 kg/m² more
    work = dataclasses.replace(WORK, glazing=type(WORK.glazing).GLASS)
    assert mount_sheet(work).weight_kg.mid == pytest.approx(15.0 + 3.75, rel=0.01)


@pytest.mark.parametrize(
    "changes",
    [{"width_mm": -1500.0}, {"mounted_rh_pct": 130.0}, {"mount": Mount.BONDED}],
)
def test_bad_facts_are_refused(changes: dict[str, object]) -> None:
    with pytest.raises(OutOfRangeError) as caught:
        mount_sheet(dataclasses.replace(WORK, **changes))  # type: ignore[arg-type]
    assert all((caught.value.read, caught.value.found, caught.value.action))


def test_text_sheet_fits_the_bench_and_says_everything() -> None:
    sheet = mount_sheet(WORK, target_rh_pct=47.0)
    page = text(sheet)
    assert max(map(len, page.splitlines())) <= 100
    for word in ("1502 × 1002 mm", "47 %RH", "cellulose ether", "Ethanol burns"):
        assert word in page


def test_drawn_sheet_shows_every_hinge_to_scale() -> None:
    sheet = mount_sheet(WORK, pitch_mm=100.0)
    axes = panel_drawing(sheet).axes[0]
    shapes = [p for p in axes.patches if isinstance(p, Rectangle)]
    assert len(shapes) == 1 + sheet.hinges.count
    assert shapes[0].get_width() == 1502.0
    assert {(p.get_width(), p.get_height()) for p in shapes[1:]} == {(50.0, 31.0), (31.0, 50.0)}
    for hinge in shapes[1:]:
        x, y = hinge.get_xy()
        assert 0.0 <= x <= 1502.0 - hinge.get_width()
        assert 0.0 <= y <= 1002.0 - hinge.get_height()


def test_drawn_sheet_is_the_same_bytes_twice() -> None:
    sheet = mount_sheet(WORK)
    first, second = (sheet_pdf(bench_sheet(sheet)) for _ in range(2))
    assert first == second
