"""Which readings show a frame beside its room: undisturbed spans, and days side by side."""

from typing import Any

import pytest

from analysis.records.room_records import Place
from analysis.records.work_records import Hanging, Print
from service.estimates.half_times import best_record, side_by_side
from service.storage.loggers import placements
from service.storage.records import put_record
from service.storage.works import work_record


def best(work: Any) -> Any:
    register = work.stores.register
    return best_record(work_record(register, "W1"), placements(register), work.now)


def test_a_frame_without_a_logger_has_no_record(work: Any) -> None:
    work.place(3, None, Place.BEHIND_FRAME)
    assert work.records() == []
    assert best(work) is None


def test_a_record_lasts_while_the_logger_is_inside(work: Any) -> None:
    work.place(5, 40, Place.IN_FRAME)
    (found,) = work.records()
    assert (found.from_utc, found.to_utc) == (work.day(5), work.day(40))
    assert (found.placement.logger, found.room, found.position) == ("f1", "north", "place 3")


def test_a_record_that_goes_on_ends_now(work: Any) -> None:
    work.place(5, None, Place.IN_FRAME)
    assert best(work).to_utc == work.now


def test_opening_and_moving_cut_a_record(work: Any) -> None:
    work.place(5, None, Place.IN_FRAME)
    work.frame(20)
    put_record(work.stores.register, Hanging("W1", "north", work.day(-90), work.day(30)))
    put_record(work.stores.register, Hanging("W1", "north", work.day(31)))
    ends = [(work.day(a), work.day(b)) for a, b in ((5, 20), (20, 30), (31, 60))]
    assert [(one.from_utc, one.to_utc) for one in work.records()] == ends
    assert best(work).from_utc == work.day(31)  # the longest of the frame as it is now


def test_an_earlier_frame_counts_where_there_is_no_other(work: Any) -> None:
    work.place(5, 15, Place.IN_FRAME)
    work.frame(20)
    found = best(work)
    assert found.to_utc == work.day(15)
    assert found.framing == work_record(work.stores.register, "W1").framings[0]


def test_a_logger_in_the_frame_of_another_work_is_not_this_ones(work: Any) -> None:
    sheet = Print("W2", "Slip road", 900, 700, "fibre base", "matt")
    put_record(work.stores.register, sheet)
    work.place(5, None, Place.IN_FRAME)
    kept = work_record(work.stores.register, "W2")
    assert best_record(kept, placements(work.stores.register), work.now) is None


def test_days_side_by_side_tell_the_offset(paired_work: Any) -> None:
    found = side_by_side(paired_work.stores, best(paired_work))
    assert found is not None
    assert found.pairs > 100
    assert found.bias == pytest.approx(paired_work.offset_pct, abs=0.05)


def test_a_placement_left_open_ends_where_the_logger_went_next(work: Any) -> None:
    work.place(0, None, Place.ROOM_AIR)
    work.place(5, None, Place.IN_FRAME)
    work.place(30, None, Place.ROOM_AIR)
    work.bring(work.room())  # the same as the room's: no offset, if only the wall counts
    (found,) = work.records()
    assert (found.from_utc, found.to_utc) == (work.day(5), work.day(30))
    beside = side_by_side(work.stores, found)
    assert beside is not None
    assert beside.pairs <= 24 * 30 + 1
    assert beside.bias == pytest.approx(0.0, abs=1e-9)


def test_two_loggers_that_hang_there_still_are_compared(work: Any) -> None:
    work.place(0, 5, Place.IN_FRAME)
    work.place(5, None, Place.ROOM_AIR)
    work.bring(work.room())
    beside = side_by_side(work.stores, best(work))
    assert beside is not None
    assert beside.pairs > 24 * 50


def test_a_logger_that_came_straight_into_the_frame_has_none(work: Any) -> None:
    work.place(5, None, Place.IN_FRAME)
    assert side_by_side(work.stores, best(work)) is None
