"""Checkpoints: a new week costs only itself, and nothing stale is ever used."""

import shutil
from datetime import datetime, timedelta
from typing import Any

import pytest

from analysis.records.inspection_records import Inspection
from analysis.records.work_records import Framing, Mounting
from analysis.works import Mount
from service.answers.museum import Museum
from service.estimates import learned as learned_of
from service.estimates.assessments import Assessed
from service.storage.inspections import put_inspection, withdraw_inspection
from service.storage.records import put_record


def assessed(small: Any) -> tuple[Assessed, ...]:
    museum = Museum(small.stores, small.settings)
    now = museum.now()
    return museum.assessed("north", now)


@pytest.fixture
def hung(small: Any) -> Any:
    small.hang("W-1")
    small.hang("W-2", frame="A")
    small.hang("W-3", frame="E")
    small.bring("n1", 0, 42)
    return small


def test_a_new_week_costs_only_itself(hung: Any, begun: list[datetime | None]) -> None:
    assessed(hung)
    hung.bring("n1", 42, 49, wet=3.0)
    found = assessed(hung)
    first, second = begun
    assert first is None
    assert second is not None
    assert hung.day(42 - 9) <= second <= hung.day(49 - 8)
    assert hung.same_to_the_bit(found, hung.from_the_start())


def test_asking_twice_gives_the_same(hung: Any, begun: list[datetime | None]) -> None:
    once = assessed(hung)
    assert hung.same_to_the_bit(once, assessed(hung))
    assert begun[0] is None
    assert begun[1] is not None


def test_a_late_file_is_counted_from_its_week_on(hung: Any, begun: list[datetime | None]) -> None:
    hung.bring("n1", 45, 63)
    assessed(hung)
    hung.bring("n1", 42, 45, wet=8.0)
    found = assessed(hung)
    assert begun[1] is None or begun[1] <= hung.day(43)
    assert hung.same_to_the_bit(found, hung.from_the_start())


def test_a_corrected_fact_begins_again(hung: Any, begun: list[datetime | None]) -> None:
    before = assessed(hung)
    put_record(hung.stores.register, Framing("W-1", "D", spacer_mm=8.0))
    found = assessed(hung)
    assert begun[:2] == [None, None]  # all at first, then the corrected work alone
    assert begun[2] is not None
    assert not hung.same_to_the_bit(before, found)
    assert hung.same_to_the_bit(found, hung.from_the_start())


def test_a_withdrawn_inspection_is_as_if_it_had_never_been(hung: Any) -> None:
    never = assessed(hung)
    register, at = hung.stores.register, hung.day(30)
    put_inspection(register, Inspection("W-2", at, 3, by="R. Keeper"))
    learned = assessed(hung)
    assert not hung.same_to_the_bit(never, learned)
    withdraw_inspection(register, "W-2", at, "R. Keeper", why="wrong work", by="R. Keeper")
    assert hung.same_to_the_bit(never, assessed(hung))


def test_the_folder_of_results_may_be_deleted_while_the_program_runs(hung: Any) -> None:
    put_inspection(hung.stores.register, Inspection("W-2", hung.day(30), 1, by="R. Keeper"))
    once = assessed(hung)
    assert hung.stores.results.names("checkpoints")
    assert hung.stores.results.names("learned")
    assert hung.same_to_the_bit(once, hung.from_the_start())


def test_an_older_week_and_a_newer_one_do_not_disturb_each_other(hung: Any) -> None:
    museum = Museum(hung.stores, hung.settings)
    then = hung.day(28) - timedelta(hours=0)
    late = museum.assessed("north", hung.day(41))
    early = museum.assessed("north", then)
    shutil.rmtree(hung.stores.results.folder)
    fresh = Museum(hung.stores, hung.settings)
    assert hung.same_to_the_bit(early, fresh.assessed("north", then))
    assert hung.same_to_the_bit(late, fresh.assessed("north", hung.day(41)))


def test_a_look_at_one_work_lets_the_others_go_on(hung: Any, begun: list[datetime | None]) -> None:
    assessed(hung)
    put_inspection(hung.stores.register, Inspection("W-2", hung.day(30), 3, by="R. Keeper"))
    begun.clear()
    found = assessed(hung)
    first, then = begun
    assert first is None  # the inspected work, alone
    assert then is not None
    assert hung.same_to_the_bit(found, hung.from_the_start())


def test_a_work_mounted_lately_lets_the_others_go_on(
    hung: Any, begun: list[datetime | None]
) -> None:
    hung.hang("W-4")
    put_record(hung.stores.register, Mounting("W-4", hung.day(38), Mount.TENSION_HELD))
    assessed(hung)
    hung.bring("n1", 42, 49)
    found = assessed(hung)
    assert begun[-1] is not None
    assert begun[-1] < hung.day(38)
    assert hung.same_to_the_bit(found, hung.from_the_start())


def test_a_question_about_the_past_takes_nothing_from_the_present(
    hung: Any, begun: list[datetime | None], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the looks taught and the latest weeks stay; the past is kept beside them."""
    for day, grade in ((14, 1), (36, 3)):
        put_inspection(
            hung.stores.register, Inspection("W-2", hung.day(day), grade, by="R. Keeper")
        )
    assessed(hung)
    then, since = hung.day(28), hung.day(8)
    early = Museum(hung.stores, hung.settings).assessed_over(then, since)
    begun.clear()

    def learn(*_given: object) -> None:
        pytest.fail("what looks taught was not kept")

    monkeypatch.setattr(learned_of, "_learn", learn)
    assessed(hung)
    again = Museum(hung.stores, hung.settings).assessed_over(then, since)
    assert begun and all(one is not None for one in begun)
    assert hung.same_to_the_bit(early, again)
