"""An hour that passes is told from the last reading, to the bit as if it were asked anew."""

from dataclasses import fields, is_dataclass, replace
from datetime import timedelta
from typing import Any

import numpy as np
import pytest

from analysis.records.inspection_records import Inspection
from service.answers import hour_by_hour
from service.answers.cache import size_of
from service.answers.museum import Museum
from service.storage.inspections import put_inspection


def plain(value: Any) -> Any:
    """Return a value so that what is not a number compares equal to itself, arrays by the bit."""
    if isinstance(value, np.ndarray):
        return value.dtype.str, value.shape, value.tobytes()
    if is_dataclass(value):
        return type(value), [plain(getattr(value, one.name)) for one in fields(value)]
    if hasattr(value, "items"):
        return {key: plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [plain(one) for one in value]
    return repr(sorted(value) if isinstance(value, frozenset) else value)


def said(museum: Museum, room: str = "north") -> Any:
    """Return all that is said of the works of a room now, and the draws that they were run with."""
    return plain([replace(one, learned=None) for one in museum.assessed(room)])


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Note by their works which questions are asked anew."""
    found: list[str] = []
    begun = hour_by_hour._begun

    def noted(museum: Museum, group: Any, at: Any) -> Any:
        found.append(", ".join(sorted(one.work_id for one in group.works)))
        return begun(museum, group, at)

    monkeypatch.setattr(hour_by_hour, "_begun", noted)
    return found


def anew(small: Any) -> Any:
    """Return the same from a process that holds nothing."""
    museum = Museum(small.stores, small.settings)
    museum.time = small.museum.time
    return said(museum)


def test_hours_that_pass_are_told_from_the_last_reading(small: Any, asked: list[str]) -> None:
    small.bring("n1", 0, 40)
    small.hang("W-1")
    small.hang("W-2", frame="F", from_utc=small.day(5))
    put_inspection(small.stores.register, Inspection("W-1", small.day(20), 1, by="R. Keeper"))
    said(small.museum)
    asked.clear()
    for hours in (1, 2, 30):
        small.set_clock(small.day(40) + timedelta(hours=hours, minutes=20))
        kept = said(small.museum)
        assert not asked
        assert kept == anew(small)
        asked.clear()
    small.set_clock(small.day(49))  # how the air goes on is not known so far
    assert said(small.museum) == anew(small)
    assert asked


def test_what_comes_in_and_what_was_waiting_is_asked_anew(small: Any, asked: list[str]) -> None:
    small.bring("n1", 0, 30)
    small.hang("W-1")
    small.set_clock(small.day(31))
    said(small.museum)
    look = Inspection("W-1", small.day(31.5), 2, by="R. Keeper")
    put_inspection(small.stores.register, look)  # dated ahead of the clock
    said(small.museum)
    small.set_clock(small.day(32))  # no change of the register, but the look counts now
    asked.clear()
    with_look = said(small.museum)
    assert asked
    assert with_look == anew(small)
    small.bring("n1", 30, 31)
    small.set_clock(small.day(32))
    assert said(small.museum) == anew(small) != with_look


def test_a_declared_hour_within_the_record_cuts_it_off(small: Any) -> None:
    small.bring("n1", 0, 30)
    small.hang("W-1")
    for day in (10, 10.5, 11):
        small.set_clock(small.day(day))
        assert said(small.museum) == anew(small)
        (found,) = small.museum.assessed("north")
        assert found.known_until_utc == small.day(day)


def test_waves_that_become_likely_ahead_are_looked_for_in_the_record(
    small: Any, asked: list[str]
) -> None:
    """A chance past one half looks further back than the last weeks, which are all that is kept."""
    small.bring("n1", 0, 20)
    small.bring("n1", 20, 40, wet=22.0)
    small.hang("W-1")
    for hours in (0, 6, 24, 48, 72, 96, 120):
        small.set_clock(small.day(40) + timedelta(hours=hours))
        assert said(small.museum) == anew(small)


def test_what_is_kept_for_later_hours_does_not_grow_with_the_record(small: Any) -> None:
    small.hang("W-1")
    sizes = []
    for first, last in ((0, 60), (60, 360)):
        small.bring("n1", first, last)
        said(small.museum)
        kept = small.museum._cache._answers
        (name,) = [one for one in kept if "last reading" in one]
        sizes.append(size_of(kept.pop(name).value))
    assert sizes[1] < 1.05 * sizes[0]
