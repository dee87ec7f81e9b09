"""A work's life from the register: phases, what ends with them, what is kept, what is said."""

from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest

import service.estimates.checkpoints
import service.estimates.learned
from analysis.learning.posterior import Learned, learn
from analysis.records.inspection_records import Inspection, Measured
from analysis.records.work_records import Framing, Hanging, Mounting, Print
from analysis.results import Listing
from analysis.works import FrameBuild, Mount, Wall
from dashboards.text.judgement_text import chain_sentences
from service.answers.museum import Museum
from service.estimates.assessments import Assessed
from service.estimates.hanging_history import life_until
from service.storage import works
from service.storage.inspections import put_inspection
from service.storage.records import put_record

NOW = 49.0


def mount(small: Any, day: float, work_id: str = "W-1", **facts: Any) -> None:
    known = {"mounted_rh_pct": 41.0, **facts}
    put_record(small.stores.register, Mounting(work_id, small.day(day), **known))


def frame(small: Any, day: float, build: str = "C", work_id: str = "W-1", **facts: Any) -> None:
    known = {"closing_rh_pct": 46.0, "spacer_mm": 8.0, **facts}
    put_record(small.stores.register, Framing(work_id, build, small.day(day), **known))


def measure(small: Any, name: str, value: float, day: float | None) -> None:
    since = None if day is None else small.day(day)
    item = Measured("W-1", name, value, 0.9 * value, 1.1 * value, "measured", since)
    put_record(small.stores.register, item)


def life(small: Any, day: float = NOW) -> tuple[Any, Any]:
    return life_until(works.work_record(small.stores.register, "W-1"), small.day(day))


def assessed(small: Any, day: float | None = None) -> tuple[Assessed, ...]:
    museum = Museum(small.stores, small.settings)
    at = museum.now() if day is None else small.day(day)
    assert at is not None
    return museum.assessed("north", at)


@pytest.fixture
def works_learned(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """Return the works of each learning, as they come. The learning is real."""
    seen: list[list[str]] = []

    def noted(asked: Any, *given: Any, **named: Any) -> dict[str, Learned]:
        seen.append([work.work_id for work in asked])
        return learn(asked, *given, **named)

    monkeypatch.setattr(service.estimates.learned, "learn", noted)
    return seen


@pytest.fixture
def hung(small: Any) -> Any:
    small.hang("W-1")
    small.hang("W-2", frame="D")
    small.bring("n1", 0, NOW)
    return small


def test_one_mounting_and_one_framing_are_one_phase(small: Any) -> None:
    small.hang("W-1")
    work, earlier = life(small)
    assert earlier == ()
    assert (work.mounting_no, work.framing_no) == (0, 0)


def test_mountings_framings_walls_and_values_are_phases(small: Any) -> None:
    small.hang("W-1", to_utc=small.day(5))
    put_record(
        small.stores.register, Hanging("W-1", "north", small.day(5), wall=Wall.OUTSIDE_MASONRY)
    )
    frame(small, 10, "E")
    measure(small, "half_time_h", 300.0, 12)
    mount(small, 20)
    frame(small, 22, "D")
    work, earlier = life(small)
    assert [one.until_utc for one in earlier] == [small.day(d) for d in (5, 10, 12, 20)]
    walls = [one.work.wall for one in earlier]
    assert walls == [Wall.INSIDE, *[Wall.OUTSIDE_MASONRY] * 3]
    assert [one.work.frame for one in earlier] == [FrameBuild(b) for b in "CCEE"]
    assert [one.work.framing_no for one in earlier] == [0, 0, 1, 1]
    assert [len(one.work.overrides) for one in earlier] == [0, 0, 0, 1]
    assert (work.mounting_no, work.framing_no, work.frame) == (1, 2, FrameBuild.D)
    assert work.overrides == {}


def test_between_mounting_and_closing_the_print_is_in_the_frame_that_comes(small: Any) -> None:
    small.hang("W-1")
    mount(small, 20)
    frame(small, 22, "D")
    at_21, _ = life(small, 21)
    after, earlier = life(small)
    assert at_21 == after
    assert len(earlier) == 1


def test_mounted_anew_without_a_new_framing_the_closing_is_not_known(small: Any) -> None:
    small.hang("W-1")
    frame(small, 2, "E", closing_rh_pct=44.0)
    measure(small, "half_time_h", 300.0, 3)
    mount(small, 20)
    work, earlier = life(small)
    assert earlier[-1].work.closing_rh_pct == 44.0
    assert (work.frame, work.closed_utc, work.closing_rh_pct) == (FrameBuild.E, None, None)
    assert (work.mounting_no, work.framing_no) == (1, 2)
    assert work.overrides == {}
    frame(small, 20.5, "E")
    assert life(small)[0].framing_no == 2


def test_a_print_without_a_recorded_frame_is_in_another_one_after_a_new_mounting(
    small: Any,
) -> None:
    put_record(small.stores.register, Print("W-1", "Work", 1000, 800, "plain paper", "matt"))
    mount(small, -300)
    mount(small, 20)
    work, earlier = life(small)
    assert [one.work.framing_no for one in earlier] == [0]
    assert (work.mounting_no, work.framing_no, work.closed_utc) == (1, 1, None)


def test_what_is_measured_of_a_mounting_ends_with_it_and_of_the_sheet_stays(small: Any) -> None:
    small.hang("W-1")
    for name, value, day in (("prestrain", 4e-4, None), ("beta_cd", 9e-5, None)):
        measure(small, name, value, day)
    measure(small, "hinge_capacity_n_m", 400.0, 4)
    mount(small, 20)
    work, earlier = life(small)
    assert set(earlier[-1].work.overrides) == {"prestrain", "beta_cd", "hinge_capacity_n_m"}
    assert set(work.overrides) == {"beta_cd"}


def test_a_phase_dated_ahead_is_ignored_until_then(small: Any) -> None:
    small.hang("W-1")
    before = life(small)
    mount(small, NOW + 5)
    frame(small, NOW + 6, "E")
    assert life(small) == before
    assert life(small, NOW + 5)[0].mounting_no == 1


def test_hung_taken_down_and_hung_again_on_the_same_kind_of_wall_is_one_phase(small: Any) -> None:
    small.hang("W-1", to_utc=small.day(20))
    put_record(small.stores.register, Hanging("W-1", "north", small.day(24)))
    small.bring("n1", 0, NOW)
    assert life(small)[1] == ()
    (found,) = assessed(small)
    assert found.history is not None
    assert "hung in this room" not in str(chain_sentences(found.judgement, "UTC"))


def test_a_new_phase_leaves_the_weeks_before_it_as_they_were_kept(
    hung: Any, begun: list[datetime | None]
) -> None:
    assessed(hung)
    frame(hung, 47, "D", closing_rh_pct=44.0)
    hung.bring("n1", NOW, 56)
    found = assessed(hung)
    assert begun[0] is None
    assert begun[1] is not None
    assert begun[1] >= hung.day(56 - 16)
    assert hung.same_to_the_bit(found, hung.from_the_start())


def test_learned_works_go_on_from_their_weeks_too(
    hung: Any, begun: list[datetime | None], works_learned: list[list[str]]
) -> None:
    put_inspection(hung.stores.register, Inspection("W-1", hung.day(30), 1, by="R. Keeper"))
    assessed(hung)
    frame(hung, 48, "D", closing_rh_pct=44.0)
    found = assessed(hung)
    assert works_learned == [["W-1"]]
    assert begun[1] is not None
    assert [one.work.work_id for one in found if one.learned is not None] == ["W-1"]
    assert hung.same_to_the_bit(found, hung.from_the_start())


def test_what_was_learned_of_the_sheet_goes_into_the_next_frame_and_mounting(hung: Any) -> None:
    for day, grade in ((20, 2), (30, 3)):
        put_inspection(
            hung.stores.register, Inspection("W-1", hung.day(day), grade, by="R. Keeper")
        )
    frame(hung, 15, "D", closing_rh_pct=44.0)
    mount(hung, 45)
    frame(hung, 46, "E")
    (found,) = (one for one in assessed(hung) if one.learned is not None)
    assert found.learned is not None
    assert found.draws is not None
    assert len(found.earlier) == 2
    old, new = found.earlier[-1].draws, found.draws
    assert np.array_equal(old["beta_cd"], new["beta_cd"])
    assert not np.array_equal(old["half_time_h"], new["half_time_h"])
    assert np.ptp(found.learned.weights) > 0.0 or found.learned.redrawn
    assert found.learned.p_released_after is None
    assert found.learned.after["half_time_h"].mid > 100.0  # of the film-taped frame it is in now


@pytest.mark.parametrize("day", [24.0, 27.96, 31.3])
def test_a_correction_of_an_old_framing_is_counted_from_there_on(
    hung: Any, begun: list[datetime | None], day: float
) -> None:
    frame(hung, day, "D", closing_rh_pct=52.0)
    before = assessed(hung)
    frame(hung, day, "E", closing_rh_pct=40.0)
    found = assessed(hung)
    assert begun[1] is None or begun[1] <= hung.day(day)
    assert not hung.same_to_the_bit(before, found)
    assert hung.same_to_the_bit(found, hung.from_the_start())


def test_kept_weeks_before_a_correction_are_used(hung: Any, begun: list[datetime | None]) -> None:
    frame(hung, 46, "D", closing_rh_pct=52.0)
    assessed(hung)
    frame(hung, 46, "E", closing_rh_pct=40.0)
    found = assessed(hung)
    assert begun[1] is not None
    assert hung.day(35) <= begun[1] <= hung.day(46)
    assert hung.same_to_the_bit(found, hung.from_the_start())


def test_a_late_file_is_counted_with_its_phases(hung: Any, begun: list[datetime | None]) -> None:
    frame(hung, 52, "D", closing_rh_pct=None)
    hung.bring("n1", 51, 63)
    assessed(hung)
    hung.bring("n1", NOW, 51, wet=8.0)
    found = assessed(hung)
    assert begun[1] is None or begun[1] <= hung.day(50)
    assert hung.same_to_the_bit(found, hung.from_the_start())


def test_a_print_mounted_anew_is_judged_from_there(hung: Any) -> None:
    put_inspection(hung.stores.register, Inspection("W-1", hung.day(44), 3, by="R. Keeper"))
    (found,) = (one for one in assessed(hung) if one.work.work_id == "W-1")
    assert found.judgement.listing is Listing.LOOK_FIRST
    mount(hung, 46, mounted_rh_pct=46.0)
    frame(hung, 46.2, "C")
    (found,) = (one for one in assessed(hung) if one.work.work_id == "W-1")
    assert found.judgement.listing is not Listing.LOOK_FIRST
    (said,) = (text for step, text in chain_sentences(found.judgement, "UTC") if step == "print")
    assert "Mounted anew on 19 February 2026: the estimate starts again from there." in said
    assert found.history is not None
    assert set(found.history.refused) == {""}


def test_a_print_mounted_within_the_hour_is_not_judged_by_its_old_mounting(hung: Any) -> None:
    mount(hung, NOW - 1.2 / 24)
    (found,) = (one for one in assessed(hung) if one.work.work_id == "W-1")
    assert found.judgement.listing is Listing.CANNOT_TELL
    assert "Mounted anew on 22 February 2026" in str(chain_sentences(found.judgement, "UTC"))
    hung.bring("n1", NOW, NOW + 2 / 24)
    (found,) = (one for one in assessed(hung) if one.work.work_id == "W-1")
    assert found.judgement.listing is not Listing.CANNOT_TELL


def test_a_frame_taped_at_an_unknown_humidity_is_told_with_width(small: Any) -> None:
    small.hang("W-1", frame="D")
    for first, last, wet in ((0, 20, 0.0), (20, 24, 18.0), (24, NOW, 0.0)):
        small.bring("n1", first, last, wet=wet)
    frame(small, 47.4, "D", closing_rh_pct=None)
    (found,) = assessed(small)
    assert found.judgement.listing is not Listing.CANNOT_TELL
    assert "Framed anew on 21 February 2026" in str(chain_sentences(found.judgement, "UTC"))


def test_a_work_once_hung_by_its_corners_has_no_estimate_from_then(hung: Any) -> None:
    put_record(hung.stores.register, Mounting("W-1", hung.day(-30), Mount.CORNER_HUNG))
    mount(hung, 43)
    (found,) = (one for one in assessed(hung) if one.work.work_id == "W-1")
    assert found.history is not None
    hours = found.history.time_utc.astype("datetime64[s]").astype(int)
    then = hours <= hung.day(43).timestamp()
    assert set(found.history.refused[then]) == {"not held"}
    assert found.history.refused[-1] == ""


def test_a_work_that_came_into_the_room_says_so_for_a_week(hung: Any) -> None:
    hung.bring("s1", 0, NOW)
    hung.hang("W-3", "south", to_utc=hung.day(40))
    put_record(hung.stores.register, Hanging("W-3", "north", hung.day(45)))

    def said(day: float) -> str:
        (found,) = (one for one in assessed(hung, day) if one.work.work_id == "W-3")
        return dict(chain_sentences(found.judgement, "UTC"))["room"]

    assert "It has hung in this room since 18 February 2026." in said(NOW - 1)
    hung.bring("n1", NOW, NOW + 6)
    assert "hung in this room" not in said(45 + 8)


def test_a_moment_before_and_after_a_change(small: Any) -> None:
    small.hang("W-1")
    frame(small, 10, "E")
    moment = timedelta(seconds=1) / timedelta(days=1)
    assert life(small, 10 - moment)[0].frame is FrameBuild.C
    assert life(small, 10)[0].frame is FrameBuild.E
