"""The mark of open notices tells of every change to them, and of nothing else."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from service.storage.notices import (
    Notice,
    end_notice,
    mark_of_open,
    mark_seen,
    open_notices,
    raise_notice,
    take_back_seen,
)
from service.storage.register import Register

AT = datetime(2026, 3, 1, tzinfo=UTC)
ONE = Notice("wet/1", "too damp", None, "Too damp", AT, {"works": [{"work": "W-1"}]})


def test_it_tells_of_every_change_even_of_one_dated_alike(register: Register) -> None:
    number: Callable[[], int] = lambda: open_notices(register)[0].id  # noqa: E731
    marks = [mark_of_open(register)]
    for change in (
        lambda: raise_notice(register, ONE, AT),
        lambda: raise_notice(register, replace(ONE, details={"works": []}), AT),
        lambda: raise_notice(register, replace(ONE, cause_key="wet/2"), AT),
        lambda: mark_seen(register, number(), by="A. Person", reason="on the way"),
        lambda: end_notice(register, "wet/1", AT + timedelta(hours=1)),
    ):
        change()
        assert mark_of_open(register) == mark_of_open(register)
        marks.append(mark_of_open(register))
    assert len(set(marks)) == len(marks)
    take_back_seen(register, number())
    assert mark_of_open(register) != marks[-1]
    end_notice(register, "wet/2", AT)
    assert mark_of_open(register) == marks[0]
