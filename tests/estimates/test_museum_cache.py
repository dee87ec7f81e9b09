"""Answers kept in memory: thrown away on any change, made once by many threads."""

import itertools
import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from typing import Any

import pytest

from analysis.errors import NotEnoughError, OutOfRangeError
from analysis.records.inspection_records import Inspection
from analysis.records.room_records import Site
from dashboards.text.judgement_text import reason
from dashboards.text.wording import scarce_words
from service.climate.weeks import shifted, week_of
from service.storage.inspections import put_inspection
from service.storage.records import put_record


def test_kept_until_the_register_or_the_readings_change(small: Any) -> None:
    count = itertools.count(1)

    def ask() -> int:
        answer: int = small.museum.cached("answer", lambda: next(count))
        return answer

    assert [ask(), ask()] == [1, 1]
    small.bring("n1", 0, 3)
    assert [ask(), ask()] == [2, 2]
    small.hang("W-1")
    assert ask() == 3
    put_inspection(small.stores.register, Inspection("W-1", small.day(1), 0, by="R. Keeper"))
    assert ask() == 4
    small.bring("n1", 0, 3)  # the same file again changes nothing
    assert ask() == 4


def test_many_threads_make_an_answer_once(small: Any) -> None:
    count, together = itertools.count(1), threading.Barrier(8)

    def ask(_: int) -> int:
        together.wait(10)
        answer: int = small.museum.cached("answer", lambda: next(count))
        return answer

    with ThreadPoolExecutor(8) as pool:
        assert list(pool.map(ask, range(8))) == [1] * 8
    assert next(count) == 2


def test_what_was_made_while_something_changed_is_not_kept(small: Any) -> None:
    def slow() -> int:
        found = len(small.museum.readings("north").frame)
        small.bring("n1", 0, 3)  # readings arrive meanwhile
        small.museum.cached("other", lambda: 0)
        return found

    assert small.museum.cached("count", slow) == 0
    count = small.museum.cached("count", lambda: len(small.museum.readings("north").frame))
    assert count == 72


def test_a_failure_is_not_kept(small: Any) -> None:
    with pytest.raises(ZeroDivisionError):
        small.museum.cached("answer", lambda: 1 / 0)
    assert small.museum.cached("answer", lambda: 7) == 7


def test_a_slow_answer_holds_up_no_other(small: Any) -> None:
    begun, free = threading.Event(), threading.Event()

    def slow() -> str:
        begun.set()
        assert free.wait(20)
        return "slow"

    with ThreadPoolExecutor(2) as pool:
        first = pool.submit(small.museum.cached, "slow", slow)
        assert begun.wait(20)
        assert pool.submit(small.museum.cached, "quick", lambda: "quick").result(20) == "quick"
        assert not first.done()
        free.set()
        assert first.result(20) == "slow"


def test_those_who_wait_share_one_answer_though_something_changed(small: Any) -> None:
    begun, free, count = threading.Event(), threading.Event(), itertools.count(1)

    def slow() -> int:
        begun.set()
        assert free.wait(20)
        return next(count)

    with ThreadPoolExecutor(3) as pool:
        first = pool.submit(small.museum.cached, "answer", slow)
        assert begun.wait(20)
        small.hang("W-1")
        fresh = pool.submit(small.museum.cached, "answer", lambda: 10 + next(count))
        assert fresh.result(20) == 11  # asked after the change: made anew, not waiting
        free.set()
        assert first.result(20) == 2
    assert small.museum.cached("answer", lambda: 99) == 11


def test_who_waits_for_a_failure_tries_again(small: Any) -> None:
    together, calls = threading.Barrier(4), itertools.count(1)

    def ask(_: int) -> str:
        together.wait(20)
        try:
            return str(small.museum.cached("answer", once_wrong))
        except ZeroDivisionError:
            return "failed"

    def once_wrong() -> int:
        return 1 // (next(calls) - 1)

    with ThreadPoolExecutor(4) as pool:
        assert sorted(pool.map(ask, range(4))) == ["1", "1", "1", "failed"]


def test_many_rooms_and_works_at_once(small: Any) -> None:
    # the estimator's loop, its checkpoints and the readings, asked for by eight threads together
    small.hang("W-1")
    small.bring("n1", 0, 21)
    small.bring("s1", 0, 21)
    now, together = small.museum.now(), threading.Barrier(8)

    def ask(number: int) -> object:
        together.wait(20)
        if number % 2:
            return reason(small.museum.judgements("north", now)[0], small.museum.zone)
        return reason(small.museum.work_over("W-1", number + 1).judgement, small.museum.zone)

    with ThreadPoolExecutor(8) as pool:
        assert len(set(pool.map(ask, range(8)))) == 1


def test_every_week_of_a_record_has_its_page_and_the_others_are_told(small: Any) -> None:
    small.hang("W-1")
    small.bring("n1", 10, 24)  # from a Thursday on
    museum = small.museum
    first = week_of(small.day(10), museum.zone)
    weeks = [first, shifted(first, 1), museum.this_week()]
    for week in weeks:
        assert museum.room_week("north", week).iso_week == week
        south = museum.room_week("south", week)
        assert scarce_words(south.coverage).startswith("Cannot tell: 0 %")
    for outside in (shifted(first, -1), shifted(museum.this_week(), 1)):
        with pytest.raises(NotEnoughError, match=f"a record from {first}"):
            museum.room_week("north", outside)


def test_an_older_week_is_judged_at_its_end(small: Any) -> None:
    small.hang("W-1")
    small.bring("n1", 0, 28)
    (then,) = small.museum.room_week("north", "2026-W03").judgements
    assert then.at_utc == small.day(14)
    week = small.museum.room_week("north", "2026-W03")
    hours = week.histories["W-1"].time_utc.astype("datetime64[s]").astype(int)
    assert hours[0] == small.day(7).timestamp()
    assert hours[-1] == small.day(14).timestamp()


def test_an_empty_museum_has_no_week(small: Any) -> None:
    assert small.museum.first() is None
    assert small.museum.week_of_room("north") is None
    with pytest.raises(NotEnoughError, match="no reading"):
        small.museum.room_week("north", "2026-W02")


def test_a_zone_that_is_none_is_told(small: Any) -> None:
    with pytest.raises(OutOfRangeError, match="a time zone such as"):
        put_record(small.stores.register, Site("main", "The museum", "Europe/Wien"))
    assert small.museum.zone == "Europe/Vienna"


def test_the_present_is_the_newest_full_hour(small: Any) -> None:
    small.bring("n1", 0, 2)
    small.bring("s1", 0, 3)
    now: datetime = small.museum.now()
    assert now == small.day(3) - timedelta(hours=1)
