"""Where to hang: works by walls of rooms, causes kept apart, sorted, with one sentence."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from bench.calibration import START

from analysis.air.room_air import RoomAir
from analysis.answers.judgement import JudgementLimits, judge
from analysis.errors import NotEnoughError
from analysis.learning.posterior import Inspection, learn
from analysis.planning.hanging import HangingTable, Place, hanging_table, look_first_at
from analysis.planning.year import HOURS_A_MONTH, LookFirst, chances_of, draws_of
from analysis.results import Listing
from analysis.simulation.estimator import run
from analysis.works import Finish, FrameBuild, Mount, Panel, Paper, Wall, Work
from dashboards.charts.hanging import CAUSES, causes_of, grid_of, hanging_figure, hanging_narrow
from dashboards.text import hanging_text

N = 40
Damper = Callable[[RoomAir, float], RoomAir]


def tabled(
    works: Sequence[Work], rooms: Mapping[str, RoomAir], walls: Sequence[Wall] = (Wall.INSIDE,)
) -> HangingTable:
    """Return the table of works in rooms."""
    found = {
        Place(name, wall): look_first_at(works, air, wall, n=N)
        for name, air in rooms.items()
        for wall in walls
    }
    return hanging_table(works, found)


@pytest.fixture(scope="module")
def works(print_on_metal: Work) -> list[Work]:
    return [
        print_on_metal,
        replace(print_on_metal, work_id="P2", title="Kiln", paper=Paper.RESIN_COATED),
        replace(print_on_metal, work_id="P3", title="Well", mount=Mount.BONDED),
        replace(print_on_metal, work_id="P4", title="Mill", conditioned=True),
        replace(print_on_metal, work_id="P5", title="Byre", spacer_mm=None),
    ]


@pytest.fixture(scope="module")
def rooms(air: RoomAir, damper: Damper) -> dict[str, RoomAir]:
    return {"damp room": damper(air, 6.0), "dry room": damper(air, -4.0)}


@pytest.fixture(scope="module")
def table(works: list[Work], rooms: dict[str, RoomAir]) -> HangingTable:
    return tabled(works, rooms)


def test_the_damp_room_shows_more_waves_and_stands_last(table: HangingTable) -> None:
    assert [place.room for place in table.places] == ["dry room", "damp room"]
    dry, damp = next(row for row in table.rows if row.work.work_id == "P1").cells
    assert damp.visible > dry.visible + 0.1
    for cell in (dry, damp):
        assert max(cell.visible, cell.clearance or 0.0, cell.hinges) <= cell.share
        assert cell.share <= cell.visible + (cell.clearance or 0.0) + cell.hinges + 1e-9


def test_works_are_sorted_by_what_the_place_does_to_them(table: HangingTable) -> None:
    spreads = [row.spread for row in table.rows if row.judged]
    assert spreads == sorted(spreads, reverse=True)
    assert not table.rows[-1].judged


def test_the_answer_names_the_best_and_the_worst_place(table: HangingTable) -> None:
    assert hanging_text.answer(table).startswith(
        "These 3 works would have asked for a first look least in dry"
    )
    assert "most in damp room" in hanging_text.answer(table)
    assert "It matters most to “" in hanging_text.answer(table)


def test_like_rooms_are_said_to_hardly_differ(air: RoomAir, print_on_metal: Work) -> None:
    resin = replace(print_on_metal, paper=Paper.RESIN_COATED, panel=Panel.PAPER_HONEYCOMB)
    assert "hardly differ" in hanging_text.answer(tabled([resin], {"one": air, "other": air}))


def test_bonded_is_left_out_and_what_cannot_be_told_says_why_and_what_would_mend_it(
    table: HangingTable,
) -> None:
    assert "P3" not in [row.work.work_id for row in table.rows]
    assert hanging_text.left_out(table) == ["Well: bonded overall"]
    untold = [note for note in hanging_text.notes(table) if note.startswith("“Mill”")]
    assert len(untold) == 1
    assert "anywhere: its frame holds desiccant" in untold[0]
    assert "Leave a logger inside the frame" in untold[0]


def test_an_unknown_spacer_leaves_the_glazing_untold(table: HangingTable) -> None:
    row = next(row for row in table.rows if row.work.work_id == "P5")
    assert [cell.clearance for cell in row.cells] == [None, None]
    assert any(
        "nearness to the glazing cannot be told: Byre" in note for note in hanging_text.notes(table)
    )


def test_an_outside_wall_of_masonry_is_worse_in_a_cold_winter(
    air: RoomAir, print_on_metal: Work
) -> None:
    season = -8.0 * np.cos(2.0 * np.pi * np.arange(air.hours) / 8766.0)
    cold = replace(air, outdoor_temp_c=6.0 + season)
    table = tabled([print_on_metal], {"room": cold}, list(Wall))
    shares = {place.wall: cell.share for place, cell in zip(
        table.places, table.rows[0].cells, strict=True)}  # fmt: skip
    assert shares[Wall.INSIDE] <= shares[Wall.OUTSIDE_INSULATED] <= shares[Wall.OUTSIDE_MASONRY]
    assert shares[Wall.OUTSIDE_MASONRY] > shares[Wall.INSIDE]
    assert "most in room, outside wall, solid masonry" in hanging_text.answer(table)
    assert "Over all rooms: inside wall" in hanging_text.answer(table)


def test_a_work_mounted_in_the_year_is_taken_as_mounted_at_its_beginning(
    air: RoomAir, print_on_metal: Work
) -> None:
    late = replace(print_on_metal, mounted_utc=START + timedelta(days=300))
    early = replace(print_on_metal, mounted_utc=START)
    assert look_first_at([late], air, n=N) == look_first_at([early], air, n=N)


def test_a_slow_frame_forgets_how_it_began_before_the_hours_that_count(
    air: RoomAir, print_on_metal: Work
) -> None:
    slow = replace(print_on_metal, frame=FrameBuild.E, closing_rh_pct=44.0)
    whole = look_first_at([slow], air, n=N)["P1"]
    late = look_first_at([slow], air, n=N, counted_from=START + timedelta(days=90))["P1"]
    assert late.refused_share <= whole.refused_share
    assert late.judged_months == pytest.approx(
        (1.0 - late.refused_share) * 275 * 24 / HOURS_A_MONTH, abs=0.05
    )


def test_the_run_of_many_works_is_the_run_of_each(works: list[Work], air: RoomAir) -> None:
    together = look_first_at(works, air, n=N)
    assert look_first_at(works[:1], air, n=N)["P1"] == together["P1"]


def test_what_was_learned_goes_along_but_not_the_other_rooms_logger(
    air: RoomAir, print_on_metal: Work
) -> None:
    flat = [Inspection(START + timedelta(days=150 + 15 * i), 0) for i in range(6)]
    learned = learn([print_on_metal], {"P1": flat}, air, N)
    plain = look_first_at([print_on_metal], air, n=N)["P1"]
    taught = look_first_at([print_on_metal], air, n=N, learned=learned)["P1"]
    assert taught.visible < plain.visible
    here = draws_of(print_on_metal, N, learned["P1"])
    there = draws_of(print_on_metal, N, learned["P1"], elsewhere=True)
    assert (here["beta_cd"] == there["beta_cd"]).all()
    assert (here["sensor_offset_pct"] == learned["P1"].draws["sensor_offset_pct"]).all()
    prior = draws_of(print_on_metal, N)["sensor_offset_pct"]
    assert (there["sensor_offset_pct"] == prior).all()


def cell(share: float, visible: float, clearance: float | None, hinges: float) -> LookFirst:
    return LookFirst(share, visible, clearance, hinges, 12.0, {})


def test_causes_too_small_to_see_have_no_letter() -> None:
    found = causes_of(cell(0.3, 0.2, None, 0.004))
    assert [(cause.letter, share) for cause, share in found] == [("w", 0.2)]
    assert len({cause.letter for cause in CAUSES}) == 3


def test_every_cell_says_its_share_and_its_causes_in_letters(table: HangingTable) -> None:
    for figure in (hanging_figure(table), hanging_narrow(table)):
        texts = [t.get_text() for axes in figure.axes for t in axes.texts]
        assert texts.count("cannot\ntell") == 2
        assert sum(text.endswith(" %") for text in texts) == 6
        for letter, words in (("w", "waves seen"), ("h", "hinges giving way")):
            assert f"{letter}  {words}" in texts


def test_one_work_is_shown_as_rooms_by_walls(rooms: dict[str, RoomAir], works: list[Work]) -> None:
    columns, rows = grid_of(tabled(works[:1], rooms, list(Wall)))
    assert columns == [wall.value for wall in Wall]
    assert sorted(row.name for row in rows) == sorted(rooms)


def test_the_present_place_is_marked(works: list[Work], rooms: dict[str, RoomAir]) -> None:
    found = {Place(name): look_first_at(works[:2], air, n=N) for name, air in rooms.items()}
    table = hanging_table(works[:2], found, {"P1": "damp room"})
    marked = {row.work.work_id: row.now for row in table.rows}
    assert marked["P1"] == Place("damp room")
    assert marked["P2"] not in table.places
    _, rows = grid_of(table)
    assert {row.name: row.now for row in rows if row.cells} == {"Ferry": 1, "Kiln": None}
    other_wall = [replace(works[0], wall=Wall.OUTSIDE_MASONRY)]
    elsewhere = hanging_table(other_wall, found, {"P1": "damp room"})
    assert grid_of(elsewhere)[1][0].now is None


def one_row(*cells: LookFirst) -> str:
    """Return the answer for one work in some rooms."""
    work = Work("P9", "Moor", 900.0, 700.0, Paper.FIBRE_BASE, Finish.MATT)
    found = {Place(f"room {i}"): {"P9": one} for i, one in enumerate(cells)}
    return hanging_text.answer(hanging_table([work], found))


def test_a_work_that_is_told_in_some_places_is_compared_there() -> None:
    nan = float("nan")
    untold = LookFirst(nan, nan, None, nan, 0.0, {"gap": 1.0})
    some = one_row(cell(0.4, 0.4, None, 0.0), untold, cell(0.1, 0.1, None, 0.0))
    assert "least in room 2 (10 % of the year) and most in room 0 (40 %)" in some
    assert "In 1 of 3 places it cannot be told" in some
    assert one_row(untold, untold) == "Cannot tell for “Moor”: see the reasons."
    assert "hardly differ" in one_row(cell(0.1, 0.1, None, 0.0), untold)


def test_no_rooms_is_refused(print_on_metal: Work) -> None:
    with pytest.raises(NotEnoughError):
        hanging_table([print_on_metal], {})


def test_look_first_means_what_it_means_on_the_round(air: RoomAir, print_on_metal: Work) -> None:
    work = replace(print_on_metal, mounted_rh_pct=53.0, paper=Paper.RESIN_COATED)
    draws = {"P1": draws_of(work, N)}
    found = run([work], draws, air)
    chances, limits = chances_of(work, air, found), JudgementLimits()
    listed = set()
    for hour in range(200, air.hours - 1, 331):
        at = START + timedelta(hours=hour + 1)
        line = judge(work, found.histories["P1"], air, at_utc=at).listing
        first = (
            chances.visible[hour] > limits.first_visible
            or chances.clearance[hour] > limits.first_clearance
            or chances.hinges[hour] > limits.first_hinges
        )
        assert (line is Listing.LOOK_FIRST) == (first and bool(chances.judged[hour])), at
        listed.add(line)
    assert Listing.LOOK_FIRST in listed
    assert len(listed) > 1
