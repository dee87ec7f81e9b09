"""From a logger left inside a frame to a half-time that is used, taken back, and ends."""

from typing import Any

import numpy as np
import pytest

from analysis.errors import NotEnoughError, OutOfRangeError, UnknownNameError
from analysis.learning.output_error import Bound
from analysis.records.inspection_records import Measured
from analysis.records.room_records import Place
from analysis.records.work_records import Framing, Hanging
from analysis.results import Range
from analysis.simulation.priors import draw
from analysis.works import FrameBuild
from dashboards.text.half_time_text import statements
from service.answers.museum import Museum
from service.estimates.half_times import (
    NO_LOGGER,
    ONE_BOUND,
    OTHER_FRAME,
    fitted_conditions,
    half_time_of_frame,
    take_back,
    use_half_time,
)
from service.settings import Settings
from service.storage import audit
from service.storage.records import put_record
from service.storage.works import work_at, work_record


def known(work: Any) -> Any:
    return half_time_of_frame(work.stores, "W1", work.now)


def test_without_a_logger_only_the_usual_half_time_is_known(work: Any) -> None:
    found = known(work)
    assert (found.record, found.found, found.to_use) == (None, None, None)
    assert found.why_not == (NO_LOGGER,)
    assert found.default_h == Range(4.0, 18.0, 72.0)  # frames.toml, glazed and paper-taped


def test_a_board_of_known_mass_gives_the_usual_half_time(work: Any) -> None:
    for name, value in (("board_mass_kg_m2", 2.0), ("back_permeance", 2.5e-9)):
        row = Measured("W1", name, value, 0.9 * value, 1.1 * value, "weighed", work.day(0))
        put_record(work.stores.register, row)
    default_h = known(work).default_h
    # Enclosure notes, section 6: 2 kg/m², resistance factor 30, 2 mm: 6.7 h
    assert default_h.mid == pytest.approx(6.7, abs=0.05)
    assert default_h.low < 0.8 * default_h.mid
    assert default_h.high > 1.2 * default_h.mid


def test_a_logger_in_the_frame_gives_the_half_time_it_was_made_with(paired_work: Any) -> None:
    found = known(paired_work)
    assert found.found.half_time_h == pytest.approx(paired_work.half_time_h, rel=0.05)
    assert found.found.fit.low_h < paired_work.half_time_h < found.found.fit.high_h
    assert found.found.sound
    assert found.why_not == ()


def test_days_side_by_side_fix_the_offset(paired_work: Any) -> None:
    found = known(paired_work)
    assert found.found.fit.offset == pytest.approx(found.beside.bias)
    assert "on the days side by side, and is kept" in statements(found.found)[-1]


def test_a_placement_without_readings_is_said_and_is_no_error(work: Any) -> None:
    work.place(5, None, Place.IN_FRAME)
    found = known(work)
    assert found.found is None
    assert found.record is not None
    assert "The record is too short" in found.why_not[0]


def test_used_it_narrows_the_draws_and_says_where_it_came_from(paired_work: Any) -> None:
    before = work_at(paired_work.stores.register, "W1", paired_work.now)
    after = use_half_time(paired_work.stores, "W1", by="A. Person", at_utc=paired_work.now)
    assert after.fitted_in_use
    assert after.up_to_date
    stated = after.work.overrides["half_time_h"]
    assert "f1 in the frame, 2025-09-06 to 2025-10-30" in stated.origin
    spread = [np.ptp(np.log(draw(one)["half_time_h"])) for one in (before, after.work)]
    assert spread[1] < 0.2 * spread[0]


def test_used_it_narrows_what_is_said_of_the_frame(paired_work: Any) -> None:
    stores = paired_work.stores
    # a frame closed at nobody knows what keeps that doubt, however well its half-time is known
    closed = Framing("W1", FrameBuild.D, paired_work.day(-100), closing_rh_pct=50.0)
    put_record(stores.register, closed)

    def width() -> float:
        # at the end of the record: later the estimate is carried on, and its band hides the frame
        settings = Settings(draws=60, as_if=paired_work.now.isoformat())
        found = Museum(stores, settings).work_over("W1", 1)
        assert found is not None
        assert found.history is not None
        return float(np.nanmean(np.ptp(found.history.frame_rh_pct, axis=1)))

    before = width()
    use_half_time(stores, "W1", by="A. Person", at_utc=paired_work.now)
    # what is left is the doubt about the sensors and the shift
    assert width() < 0.6 * before


def test_the_record_tells_how_much_warmer_the_frame_is(paired_work: Any) -> None:
    before = work_at(paired_work.stores.register, "W1", paired_work.now)
    after = use_half_time(paired_work.stores, "W1", by="A. Person", at_utc=paired_work.now)
    stated = after.work.overrides["frame_minus_logger_k"]
    # made as warm as the room, its logger compared beside the room's
    assert stated.low < 0.0 < stated.high
    assert stated.high - stated.low == pytest.approx(0.4, abs=0.05)
    spread = [np.std(draw(one)["frame_minus_logger_k"]) for one in (before, after.work)]
    assert spread[1] < 0.2 * spread[0]


def test_how_warm_it_is_ends_where_it_hangs_elsewhere(paired_work: Any) -> None:
    stores = paired_work.stores
    use_half_time(stores, "W1", by="A. Person", at_utc=paired_work.now)
    hung = Hanging("W1", "north", paired_work.day(59.5), position="place 4", wall="inside wall")
    put_record(stores.register, hung)
    stated = work_at(stores.register, "W1", paired_work.now).overrides
    assert "half_time_h" in stated
    assert "frame_minus_logger_k" not in stated


@pytest.mark.parametrize("wall", [None, "outside wall, insulated"])
def test_before_a_cold_wall_the_warmth_is_not_the_frames_own(
    paired_work: Any, wall: str | None
) -> None:
    hung = Hanging("W1", "north", paired_work.day(-90), position="place 3", wall=wall)
    put_record(paired_work.stores.register, hung)
    found = known(paired_work)
    assert found.to_use is not None
    assert found.warmer is None


def test_it_holds_since_the_frame_was_closed(paired_work: Any) -> None:
    used = use_half_time(paired_work.stores, "W1", by="A. Person", at_utc=paired_work.now)
    assert used.in_use is not None
    assert used.in_use.from_utc == paired_work.day(-100)
    register = paired_work.stores.register
    assert "half_time_h" in work_at(register, "W1", paired_work.day(-50)).overrides


def test_using_it_again_changes_nothing(paired_work: Any) -> None:
    use_half_time(paired_work.stores, "W1", by="A. Person", at_utc=paired_work.now)
    lines = len(audit.trail(paired_work.stores.register, "overrides"))
    use_half_time(paired_work.stores, "W1", by="B. Person", at_utc=paired_work.now)
    trail = audit.trail(paired_work.stores.register, "overrides")
    assert len(trail) == lines
    assert trail[0].by == "A. Person"


def test_taken_back_it_is_as_before_and_stays_on_record(paired_work: Any) -> None:
    stores, now = paired_work.stores, paired_work.now
    use_half_time(stores, "W1", by="A. Person", at_utc=now)
    take_back(stores, "W1", by="B. Person", why="the logger stood on edge", at_utc=now)
    after = known(paired_work)
    assert after.in_use is None
    assert "half_time_h" not in after.work.overrides
    assert after.to_use is not None
    rows = work_record(stores.register, "W1").measured
    assert {row.name for row in rows} == {"half_time_h", "frame_minus_logger_k"}
    assert {row.withdrawn for row in rows} == {"the logger stood on edge"}
    assert use_half_time(stores, "W1", by="A. Person", at_utc=now).fitted_in_use


def test_what_is_not_in_use_cannot_be_taken_back(paired_work: Any) -> None:
    with pytest.raises(NotEnoughError):
        take_back(paired_work.stores, "W1", by="B. Person", why="none", at_utc=paired_work.now)


def test_taped_anew_it_no_longer_counts(paired_work: Any) -> None:
    stores, now = paired_work.stores, paired_work.now
    use_half_time(stores, "W1", by="A. Person", at_utc=now)
    paired_work.frame(59.5, FrameBuild.E)
    after = known(paired_work)
    assert after.work.frame is FrameBuild.E
    assert "half_time_h" not in after.work.overrides
    assert after.in_use is None


def test_a_record_of_an_earlier_frame_is_shown_but_not_offered(paired_work: Any) -> None:
    paired_work.place(5, 50, Place.IN_FRAME)
    paired_work.frame(55)
    found = known(paired_work)
    assert found.found.sound
    assert found.why_not[0] == OTHER_FRAME
    assert found.to_use is None
    with pytest.raises(OutOfRangeError):
        use_half_time(paired_work.stores, "W1", by="A. Person", at_utc=paired_work.now)


def test_one_bound_is_never_used_as_a_number(work: Any) -> None:
    room = work.room()
    work.place(0, None, Place.IN_FRAME)
    still = 50.0 + np.random.default_rng(3).normal(0.0, 0.3, len(room))
    work.bring(room.assign(rh_pct=np.round(still, 2)))
    found = known(work)
    assert found.found.fit.bound is Bound.AT_LEAST
    assert found.why_not[0] == ONE_BOUND
    assert found.to_use is None
    with pytest.raises(OutOfRangeError, match="one side only"):
        use_half_time(work.stores, "W1", by="A. Person", at_utc=work.now)
    assert work_record(work.stores.register, "W1").measured == ()


def test_a_doubtful_record_is_not_used(work: Any) -> None:
    room = work.room()
    work.place(0, None, Place.IN_FRAME)
    work.bring(work.inside(room, 400.0).iloc[:120])  # five days, a half-time of seventeen
    found = known(work)
    assert not found.found.sound
    assert found.to_use is None
    assert any("shorter than one half-time" in why for why in found.why_not)


def test_the_conditions_of_a_fit_are_worked_out_again(paired_work: Any) -> None:
    stores, now = paired_work.stores, paired_work.now
    kept = work_record(stores.register, "W1")
    assert fitted_conditions(stores, kept, now) is None  # nothing is in use
    fit = use_half_time(stores, "W1", by="A. Person", at_utc=now).found
    again = fitted_conditions(stores, work_record(stores.register, "W1"), now)
    assert fit is not None
    assert again is not None
    temp_c, rh_pct = again
    assert temp_c == pytest.approx(fit.temp_c, abs=0.1)
    assert rh_pct == pytest.approx(fit.rh_pct, abs=0.1)


def test_a_number_stated_by_a_person_is_not_taken_for_a_fit(work: Any) -> None:
    stated = Measured("W1", "half_time_h", 20, 15, 25, "by the bench", work.day(0))
    put_record(work.stores.register, stated)
    found = known(work)
    assert found.in_use == stated
    assert not found.fitted_in_use


def test_an_unknown_work_is_refused(work: Any) -> None:
    with pytest.raises(UnknownNameError):
        half_time_of_frame(work.stores, "W9")
