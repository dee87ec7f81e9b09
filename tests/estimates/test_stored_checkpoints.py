"""Checkpoints: a new week costs only itself, and nothing stale is ever used."""

import os
import shutil
from datetime import datetime, timedelta
from itertools import count
from pathlib import Path
from typing import Any

import pytest

from analysis.records.inspection_records import Inspection
from analysis.records.work_records import Framing, Mounting
from analysis.works import Mount
from service.answers.museum import Museum
from service.estimates import checkpoints, learned as learned_of
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


def weeks_kept(hung: Any) -> dict[str, tuple[int, int]]:
    """Return the files of kept weeks, each with what tells whether it was written anew."""
    folder = hung.stores.results.folder / "checkpoints"
    files = {file: file.stat() for file in folder.rglob("*.npz")}
    return {str(f.relative_to(folder)): (at.st_ino, at.st_mtime_ns) for f, at in files.items()}


def test_a_new_week_adds_its_own_files_and_writes_no_other(hung: Any) -> None:
    hung.bring("n1", 42, 45)
    assessed(hung)
    before = weeks_kept(hung)
    hung.bring("n1", 45, 52)
    assessed(hung)
    after = weeks_kept(hung)
    added = set(after) - set(before)
    assert {name.partition("/")[0] for name in added} == {"W-1", "W-2", "W-3"}
    assert len(added) == 3
    assert {name: at for name, at in after.items() if name in before} == {
        name: at for name, at in before.items() if name in after
    }
    assert len(after) <= 3 * (checkpoints.KEEP_WEEKS + 1)


class KilledError(BaseException):
    """Stands for the end of the process: nothing that stands in its way is cleared up."""


def test_killed_between_any_two_files_the_answers_are_the_same(
    hung: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk is left as a kill would leave it: part of a file, a file more, a file too many."""
    hung.bring("n1", 42, 66)
    assessed(hung)
    folder = hung.stores.results.folder
    shutil.copytree(folder, tmp_path / "before")
    hung.bring("n1", 66, 73)
    whole = hung.from_the_start()
    replace, unlink, steps = os.replace, Path.unlink, count()
    cut = -1

    def step(file: Path) -> None:
        if "checkpoints" in file.parts and next(steps) == cut:
            raise KilledError

    def replacing(given: Path, to: Path) -> None:
        step(to)
        replace(given, to)

    def unlinking(given: Path, missing_ok: bool = False) -> None:
        if given.exists():
            step(given)
        unlink(given, missing_ok=missing_ok)

    monkeypatch.setattr(os, "replace", replacing)
    monkeypatch.setattr(Path, "unlink", unlinking)
    for cut in range(100):
        shutil.rmtree(folder)
        shutil.copytree(tmp_path / "before", folder)
        steps = count()
        try:
            assessed(hung)
        except KilledError:
            steps = count(start=cut + 1)
            assert hung.same_to_the_bit(assessed(hung), whole)
        else:
            break
    assert cut == 6, "a file more and a file less for each of three works"
    assert hung.same_to_the_bit(assessed(hung), whole)
    assert not list(folder.rglob("*.part"))


def test_a_damaged_week_is_kept_anew_and_another_gone_on_from(
    hung: Any, begun: list[datetime | None]
) -> None:
    whole = assessed(hung)
    before = weeks_kept(hung)
    for file in (hung.stores.results.folder / "checkpoints").rglob("*.npz"):
        if "W-2" in str(file):
            file.write_bytes(file.read_bytes()[:-40])
    assert hung.same_to_the_bit(assessed(hung), whole)
    assert begun[1] is None
    begun.clear()
    assert hung.same_to_the_bit(assessed(hung), whole)
    assert set(weeks_kept(hung)) == set(before)
    assert begun[0] is not None
