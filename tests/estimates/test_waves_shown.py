"""When waves showed since the last look: kept by the week, and the same as from the start."""

from datetime import datetime
from typing import Any

import pytest

import service.estimates.shown
from analysis.records.inspection_records import Inspection
from analysis.simulation.estimator import Run, run
from service.answers.museum import Museum
from service.estimates.assessments import Assessed
from service.storage.inspections import put_inspection


@pytest.fixture
def whole_runs(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The works whose whole record was worked out to find when waves showed. The runs are real."""
    seen: list[str] = []

    def noted(works: Any, *given: Any, **named: Any) -> Run:
        seen.extend(work.work_id for work in works)
        return run(works, *given, **named)

    monkeypatch.setattr(service.estimates.shown, "run", noted)
    return seen


def assessed(small: Any) -> tuple[Assessed, ...]:
    return Museum(small.stores, small.settings).assessed("north")


def shown(found: tuple[Assessed, ...]) -> list[tuple[datetime, datetime] | None]:
    return [one.judgement.since.shown_utc for one in found if one.judgement.since is not None]


@pytest.fixture
def wet_once(small: Any) -> Any:
    """Two works; a wet week in the third week of the record, calm before and after."""
    small.hang("W-1")
    small.hang("W-2", frame="A")
    for first, wet in ((0, 0.0), (14, 40.0), (21, 0.0)):
        small.bring("n1", first, first + (14 if wet == 0.0 else 7), wet=wet)
    return small


def test_a_wet_week_is_still_told_of_when_it_is_long_past(
    wet_once: Any, whole_runs: list[str]
) -> None:
    first = assessed(wet_once)
    assert all(one is not None for one in shown(first))
    for begin in (35, 42, 49):
        wet_once.bring("n1", begin, begin + 7)
        found = assessed(wet_once)
    assert shown(found) == shown(first)
    assert whole_runs == []
    assert shown(wet_once.from_the_start()) == shown(found)


def test_another_wet_week_moves_the_last_hour_and_not_the_first(
    wet_once: Any, whole_runs: list[str]
) -> None:
    before = shown(assessed(wet_once))
    wet_once.bring("n1", 35, 49)
    assessed(wet_once)
    wet_once.bring("n1", 49, 56, wet=40.0)
    found = assessed(wet_once)
    assert whole_runs == []
    for old, new in zip(before, shown(found), strict=True):
        assert old is not None
        assert new is not None
        assert new[0] == old[0]
        assert new[1] >= wet_once.day(49) > old[1]
    assert shown(wet_once.from_the_start()) == shown(found)


def test_what_is_kept_no_longer_counts_once_the_air_before_it_is_another(wet_once: Any) -> None:
    assessed(wet_once)
    wet_once.bring("n1", 35, 56)
    assessed(wet_once)
    wet_once.place("n2", "north")
    late = wet_once.bring("n2", -7, 0, wet=40.0)
    assert late.added
    found = assessed(wet_once)
    assert shown(wet_once.from_the_start()) == shown(found)


def test_a_look_long_ago_is_worked_out_once(wet_once: Any, whole_runs: list[str]) -> None:
    wet_once.bring("n1", 35, 63)
    assessed(wet_once)
    put_inspection(wet_once.stores.register, Inspection("W-1", wet_once.day(16), 1, by="R. Keeper"))
    found = assessed(wet_once)
    once = list(whole_runs)
    assert set(once) <= {"W-1"}
    assert shown(assessed(wet_once)) == shown(found)
    assert whole_runs == once
    assert shown(wet_once.from_the_start()) == shown(found)
