"""What was seen at the edges reaches the draws, the lists and the round, and can be withdrawn."""

from datetime import timedelta
from typing import Any

import numpy as np
import pytest

from analysis.answers.judgement import JudgementLimits
from analysis.records.inspection_records import Inspection
from analysis.records.work_records import Print
from analysis.results import Listing, State
from analysis.works import Finish, Paper
from dashboards.text.judgement_text import reason
from dashboards.text.sentences import work_answer
from service.answers.rounds import round_lines
from service.estimates.assessments import Assessed
from service.storage.inspections import put_inspection, withdraw_inspection
from service.storage.records import put_record

BY = "a technician"


@pytest.fixture
def dry(small: Any) -> Any:
    """The small museum after weeks so dry that the hinges of a fibre-base print are loaded."""
    small.hang("W-1", frame="C")
    sheet = Print("W-1", "Breakwater", 1500, 1000, Paper.FIBRE_BASE, Finish.GLOSSY)
    put_record(small.stores.register, sheet)
    small.bring("n1", 0, 40, wet=-26.0)
    return small


def found(small: Any) -> Assessed:
    museum = small.museum
    museum.forget()
    one: Assessed = next(iter(museum.assessed("north", museum.now())))
    return one


def look(small: Any, day: float, released: bool | None, grade: int = 0) -> None:
    seen = Inspection("W-1", small.day(day), grade, by=BY, released=released)
    put_inspection(small.stores.register, seen)


def test_edges_that_hold_teach_more_than_a_plain_flat(dry: Any) -> None:
    unseen = found(dry).judgement.p_hinges
    look(dry, 30, None)
    plain = found(dry)
    look(dry, 30, released=False)
    held = found(dry)
    # a flat sheet is a taut one, and what is taut loads its hinges; only edges that hold clear them
    assert held.judgement.p_hinges < min(plain.judgement.p_hinges, unseen)
    assert plain.learned is not None and held.learned is not None
    assert plain.learned.p_released_after is not None
    assert held.learned.p_released_after is not None
    assert held.learned.p_released_after < plain.learned.p_released_after


def test_a_loose_hinge_goes_first_and_withdrawn_leaves_no_trace(small: Any) -> None:
    small.hang("W-1", frame="C")
    small.bring("n1", 0, 40)
    look(small, 20, None)
    before = found(small)
    assert before.judgement.listing is not Listing.LOOK_FIRST
    look(small, 30, released=True)
    loose = found(small)
    assert loose.judgement.listing is Listing.LOOK_FIRST
    assert reason(loose.judgement, "UTC").startswith("A hinge was found loose on 3 February 2026")
    assert "Do not press it back" in work_answer(loose.judgement, "UTC")
    assert loose.learned is not None and before.learned is not None
    assert not np.array_equal(loose.learned.weights, before.learned.weights)
    withdraw_inspection(small.stores.register, "W-1", small.day(30), BY, why="slip", by=BY)
    again = found(small)
    assert again.learned is not None
    assert np.array_equal(again.learned.weights, before.learned.weights)
    assert again.judgement == before.judgement


def test_seen_again_it_leaves_the_first_list(small: Any) -> None:
    small.hang("W-1", frame="C")
    small.bring("n1", 0, 40)
    look(small, 20, released=True)
    look(small, 25, None)  # somebody passed by, and did not look at the edges
    assert found(small).judgement.listing is Listing.LOOK_FIRST
    assert reason(found(small).judgement, "UTC").startswith("A hinge was found loose")
    look(small, 30, released=False)
    assert not reason(found(small).judgement, "UTC").startswith("A hinge")


def test_a_loose_hinge_in_a_room_without_readings(small: Any) -> None:
    small.hang("W-1", "south")
    small.bring("n1", 0, 21)
    look(small, 20, released=True)
    (judged,) = small.museum.judgements("south", small.museum.now())
    assert (judged.listing, judged.state) == (Listing.LOOK_FIRST, State.HINGES)
    assert work_answer(judged, "UTC").startswith("A hinge was found loose")
    assert "no usable readings" in work_answer(judged, "UTC")


def test_the_round_asks_for_the_edges_where_hinges_sent_people(dry: Any) -> None:
    now = dry.museum.now()
    (line,) = (one for many in round_lines(dry.museum, now).values() for one in many)
    assert line.judgement.p_hinges > JudgementLimits().first_hinges
    assert line.at_its_edges
    later = now - timedelta(minutes=30)
    put_inspection(dry.stores.register, Inspection("W-1", later, 0, by=BY, released=True))
    (line,) = (one for many in round_lines(dry.museum, now).values() for one in many)
    assert (line.at_its_edges, line.last_released) == (True, True)


def test_ridges_of_too_much_tension_teach_no_slack(small: Any) -> None:
    small.hang("W-1", frame="C")
    small.bring("n1", 0, 40)
    before = found(small)
    seen = Inspection("W-1", small.day(30), 2, by=BY, finding="tight ridges")
    put_inspection(small.stores.register, seen, by=BY)
    after = found(small)
    assert after.judgement.listing is Listing.LOOK_FIRST  # it is to be seen again all the same
    assert np.allclose(weights(after), weights(after)[0])
    assert after.judgement.p_visible_now == before.judgement.p_visible_now
    waves = Inspection("W-1", small.day(30), 2, by=BY, finding="waves")
    put_inspection(small.stores.register, waves, by=BY)
    taught = found(small)
    assert taught.learned is not None
    alike = np.allclose(weights(taught), weights(taught)[0])
    assert taught.learned.redrawn > 0 or not alike
    assert taught.judgement.p_visible_now > before.judgement.p_visible_now


def weights(assessed: Assessed) -> Any:
    """Return the weights of the draws, all alike where nothing was learned."""
    return np.ones(1) if assessed.learned is None else assessed.learned.weights
