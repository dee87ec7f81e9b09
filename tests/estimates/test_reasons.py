"""Why a work is as it is at an hour, from real stores: phases, gaps, what is kept, what is not."""

import shutil
from datetime import timedelta
from typing import Any

import pytest

from analysis.records.work_records import Framing, Hanging, Mounting, Print
from analysis.works import Finish, Mount, Paper
from dashboards.text.judgement_text import reason
from dashboards.text.reasons import link_sentence
from service.answers.museum import Museum
from service.answers.reasons import Reasons, as_json, reasons
from service.storage.records import put_record

HOUR = timedelta(hours=1)


def why(small: Any, day: float | None = None, work_id: str = "W-1") -> Reasons:
    """Return the reasons at a day after the record's first Monday, or now."""
    museum = Museum(small.stores, small.settings)
    return reasons(museum, work_id, None if day is None else small.day(day))


def test_now_is_the_hour_that_is_judged_and_the_reason_the_same(small: Any) -> None:
    small.hang("W-1")
    small.bring("n1", 0, 40)
    told = why(small)
    museum = Museum(small.stores, small.settings)
    judged = museum.judgements("north", told.at_utc)[0]
    assert told.at_utc == museum.now()
    assert told.at_utc == judged.at_utc
    assert told.answer == reason(judged, "UTC")
    assert told.chain is not None
    middle = told.chain.link("print_rh_pct").value.mid
    assert judged.print_rh_pct is not None
    assert middle == pytest.approx(judged.print_rh_pct.mid, abs=1e-2)


def test_an_hour_before_a_new_mounting_is_told_of_the_old_one(small: Any) -> None:
    small.hang("W-1")
    anew = Mounting("W-1", small.day(30), mounted_rh_pct=41.0)
    put_record(small.stores.register, anew)
    small.bring("n1", 0, 49)
    before, after = why(small, 28), why(small, 40)
    assert before.chain is not None
    assert after.chain is not None
    assert (before.work.mounted_rh_pct, after.work.mounted_rh_pct) == (45.0, 41.0)
    assert before.chain.link("room_rh_pct").against == 45.0
    assert after.chain.link("print_strain_cd").value.mid > 0.0


def test_an_hour_before_mounting_names_the_day(small: Any) -> None:
    register = small.stores.register
    sheet = Print("W-2", "Work W-2", 1000, 800, Paper.FIBRE_BASE, Finish.GLOSSY)
    put_record(register, sheet)
    put_record(register, Mounting("W-2", small.day(10), mounted_rh_pct=45.0))
    put_record(register, Framing("W-2", "C", spacer_mm=8.0))
    put_record(register, Hanging("W-2", "north"))
    small.bring("n1", 0, 40)
    told = why(small, 5, "W-2")
    assert told.chain is None
    assert told.answer == (
        "Nothing can be told of that time: it was mounted on 15 January 2026, 00:00."
    )
    assert why(small, 20, "W-2").chain is not None


def test_an_hour_in_a_time_when_it_was_not_held_by_tension_says_so(small: Any) -> None:
    small.hang("W-1", mount=Mount.WINDOW)
    held = Mounting("W-1", small.day(20), mounted_rh_pct=45.0)
    put_record(small.stores.register, held)
    small.bring("n1", 0, 40)
    told = why(small, 10)
    assert told.chain is None
    assert told.answer.startswith("It lies in a window mount and is not held by tension")


def test_in_a_gap_the_chain_is_wide(small: Any) -> None:
    small.hang("W-1")
    small.bring("n1", 0, 10)
    small.bring("n1", 10, 20, wet=12.0)
    small.bring("n1", 30, 40)
    within, after = why(small, 25), why(small, 30.1)
    assert within.chain is not None
    assert after.chain is not None
    assert within.chain.refused == ""  # a gap is width, and no refusal
    assert "not measured at that hour" in link_sentence(
        within.chain, within.chain.link("room_rh_pct")
    )
    spans = [one.chain.link("frame_rh_pct").value for one in (within, why(small, 9)) if one.chain]
    assert spans[0].high - spans[0].low > spans[1].high - spans[1].low
    assert all(link["known"] for link in as_json(after)["links"])


def test_it_goes_on_from_a_kept_week_to_the_same_numbers(small: Any) -> None:
    small.hang("W-1")
    small.bring("n1", 0, 49)
    museum = Museum(small.stores, small.settings)
    museum.work_over("W-1", 5)
    kept = why(small, 45)
    shutil.rmtree(small.stores.results.folder)
    assert as_json(why(small, 45)) == as_json(kept)


def test_asking_for_the_past_leaves_what_is_kept_alone(small: Any) -> None:
    small.hang("W-1")
    small.bring("n1", 0, 49)
    why(small)
    folder = small.stores.results.folder
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    assert before
    for day in (9, 20, 44):
        assert why(small, day).chain is not None
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


def test_a_time_within_the_hour_is_told_at_its_beginning(small: Any) -> None:
    small.hang("W-1")
    small.bring("n1", 0, 40)
    museum = Museum(small.stores, small.settings)
    told = reasons(museum, "W-1", small.day(30) + 0.7 * HOUR)
    assert told.at_utc == small.day(30)
