"""Checkpoints: a new week costs only itself, and nothing stale is ever used."""

import shutil
from dataclasses import fields
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest

import service.checkpoints
from analysis.estimator import Run, run
from service.assessments import Assessed
from service.museum import Museum
from service.storage.inspections import Inspection, put_inspection, withdraw_inspection
from service.storage.works import Framing, put_framing


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch) -> list[datetime | None]:
    """Where each run began: at a kept week, or None, the start. The runs are real."""
    seen: list[datetime | None] = []

    def noted(*given: Any, **named: Any) -> Run:
        since = named["since"]
        seen.append(None if since is None else since.time_utc)
        return run(*given, **named)

    monkeypatch.setattr(service.checkpoints, "run", noted)
    return seen


def assessed(small: Any) -> tuple[Assessed, ...]:
    museum = Museum(small.stores, small.settings)
    now = museum.as_of()
    assert now is not None
    return museum.assessed("north", now)


def same_to_the_bit(one: tuple[Assessed, ...], other: tuple[Assessed, ...]) -> bool:
    """Tell whether judgements, and every hour of every history, are identical."""
    for a, b in zip(one, other, strict=True):
        assert a.history is not None
        assert b.history is not None
        for f in fields(a.history):
            x, y = np.asarray(getattr(a.history, f.name)), np.asarray(getattr(b.history, f.name))
            if not np.array_equal(x, y, equal_nan=x.dtype.kind == "f"):
                return False
    return repr([a.judgement for a in one]) == repr([b.judgement for b in other])


def from_the_start(small: Any) -> tuple[Assessed, ...]:
    shutil.rmtree(small.stores.results.folder, ignore_errors=True)
    return assessed(small)


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
    assert same_to_the_bit(found, from_the_start(hung))


def test_asking_twice_gives_the_same(hung: Any, begun: list[datetime | None]) -> None:
    once = assessed(hung)
    assert same_to_the_bit(once, assessed(hung))
    assert begun[0] is None
    assert begun[1] is not None


def test_a_late_file_is_counted_from_its_week_on(hung: Any, begun: list[datetime | None]) -> None:
    hung.bring("n1", 45, 63)
    assessed(hung)
    hung.bring("n1", 42, 45, wet=8.0)
    found = assessed(hung)
    assert begun[1] is None or begun[1] <= hung.day(43)
    assert same_to_the_bit(found, from_the_start(hung))


def test_a_corrected_fact_begins_again(hung: Any, begun: list[datetime | None]) -> None:
    before = assessed(hung)
    put_framing(hung.stores.register, Framing("W-1", "D", spacer_mm=8.0))
    found = assessed(hung)
    assert begun == [None, None]
    assert not same_to_the_bit(before, found)
    assert same_to_the_bit(found, from_the_start(hung))


def test_a_withdrawn_inspection_is_as_if_it_had_never_been(hung: Any) -> None:
    never = assessed(hung)
    register, at = hung.stores.register, hung.day(30)
    put_inspection(register, Inspection("W-2", at, 3, by="R. Keeper"))
    learned = assessed(hung)
    assert not same_to_the_bit(never, learned)
    withdraw_inspection(register, "W-2", at, "R. Keeper", why="wrong work", by="R. Keeper")
    assert same_to_the_bit(never, assessed(hung))


def test_the_folder_of_results_may_be_deleted_while_the_program_runs(hung: Any) -> None:
    put_inspection(hung.stores.register, Inspection("W-2", hung.day(30), 1, by="R. Keeper"))
    once = assessed(hung)
    assert hung.stores.results.names("checkpoints")
    assert hung.stores.results.names("learned")
    assert same_to_the_bit(once, from_the_start(hung))


def test_an_older_week_and_a_newer_one_do_not_disturb_each_other(hung: Any) -> None:
    museum = Museum(hung.stores, hung.settings)
    then = hung.day(28) - timedelta(hours=0)
    late = museum.assessed("north", hung.day(41))
    early = museum.assessed("north", then)
    shutil.rmtree(hung.stores.results.folder)
    fresh = Museum(hung.stores, hung.settings)
    assert same_to_the_bit(early, fresh.assessed("north", then))
    assert same_to_the_bit(late, fresh.assessed("north", hung.day(41)))
