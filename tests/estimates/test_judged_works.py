"""What is said of a work: not held by tension, without air, seen since the last reading."""

from datetime import datetime, timedelta
from typing import Any

import pytest

from analysis.records.inspection_records import Inspection
from analysis.records.work_records import Framing
from analysis.results import Judgement, Listing, State
from analysis.works import Mount
from dashboards.text.judgement_text import reason
from service.answers.cache import size_of
from service.estimates.questions import DETAIL
from service.storage.inspections import put_inspection
from service.storage.records import put_record


def now_of(small: Any) -> datetime:
    now: datetime = small.museum.now()
    return now


def only(small: Any, room: str = "north") -> Judgement:
    judgements: tuple[Judgement, ...] = small.museum.judgements(room, now_of(small))
    assert len(judgements) == 1
    return judgements[0]


@pytest.mark.parametrize("mount", [Mount.BONDED, Mount.CORNER_HUNG, Mount.WINDOW])
def test_a_work_not_held_by_tension_is_left_be_and_said_so(small: Any, mount: Mount) -> None:
    small.bring("n1", 0, 21)
    small.hang("W-1", mount=mount)
    found = only(small)
    assert (found.listing, found.state) == (Listing.NOT_COVERED, State.NOT_HELD_BY_TENSION)
    (assessed,) = small.museum.assessed("north", now_of(small))
    assert assessed.history is None


def test_a_room_that_was_never_measured_cannot_be_told(small: Any) -> None:
    small.bring("n1", 0, 21)
    small.hang("W-1", "south")
    found = only(small, "south")
    assert found.listing is Listing.CANNOT_TELL
    assert "no usable readings" in reason(found, "UTC")


def test_a_grade_of_two_sends_a_work_to_look_first_until_it_is_seen_again(
    small: Any,
) -> None:
    small.bring("n1", 0, 28)
    small.hang("W-1")
    assert only(small).listing is not Listing.LOOK_FIRST
    later = now_of(small) + timedelta(days=2)  # the round came after the last download
    small.set_clock(later + timedelta(days=2))
    put_inspection(small.stores.register, Inspection("W-1", later, 2, by="R. Keeper"))
    assert only(small).listing is Listing.LOOK_FIRST
    put_inspection(
        small.stores.register, Inspection("W-1", later + timedelta(days=1), 0, by="R. Keeper")
    )
    assert only(small).listing is not Listing.LOOK_FIRST


def test_an_older_week_knows_only_what_was_seen_until_then(small: Any) -> None:
    small.bring("n1", 0, 28)
    small.hang("W-1")
    week_three = small.day(21)
    put_inspection(
        small.stores.register, Inspection("W-1", week_three + timedelta(days=2), 2, by="R. Keeper")
    )
    (then,) = small.museum.judgements("north", week_three)
    assert then.listing is not Listing.LOOK_FIRST
    assert only(small).listing is Listing.LOOK_FIRST


def test_a_corrected_fact_is_used_at_once(small: Any) -> None:
    small.bring("n1", 0, 28)
    small.hang("W-1", frame="F")
    before = only(small)  # sealed; the unknown closing humidity is carried as width
    assert before.listing is not Listing.CANNOT_TELL
    put_record(small.stores.register, Framing("W-1", "C", spacer_mm=8.0))
    assert only(small) != before


def test_what_is_kept_of_a_room_does_not_grow_with_its_record(small: Any) -> None:
    """Ten years of hours once were kept with each room that was judged; those judged went out."""
    small.hang("W-1")
    small.bring("n1", 0, 60)
    short = size_of(small.museum.assessed("north"))
    small.bring("n1", 60, 360)
    long = size_of(small.museum.assessed("north"))
    assert long < 1.05 * short
    now = now_of(small)
    (whole,) = small.museum.assessed_over(now, now - DETAIL)
    (kept,) = small.museum.assessed("north")
    assert kept.air is None
    assert kept.lately.time_utc.tolist() == kept.history.time_utc.tolist()
    assert whole.air.temp_c[-kept.lately.hours :].tolist() == kept.lately.temp_c.tolist()
    assert whole.lately.rh_low_pct.tolist() == kept.lately.rh_low_pct.tolist()
