"""Which file of a month stands, when several write at once, and what a crash or old release left.

One writer is let in between two steps of another: right where it would do harm.
"""

from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fixtures.kept_files import folder_of, month_path
from sqlalchemy import text

from analysis.series import readings_frame
from service.errors import StoreError
from service.storage.objects.folder import Folder
from service.storage.objects.named import Content
from service.storage.readings import ReadingsStore
from service.storage.register import Register
from service.storage.spans import spans


def series(start: str, periods: int, temp: float = 20.0) -> pd.DataFrame:
    index = pd.date_range(start, periods=periods, freq="10min", tz="UTC")
    return readings_frame(index, temp_c=np.full(periods, temp), rh_pct=np.full(periods, 50.0))


class Between(Folder):
    """A folder in which something happens once, right after a put or right before a get."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.after_put: list[Callable[[], object]] = []
        self.before_get: list[Callable[[], object]] = []

    def put(self, contents: Mapping[str, Callable[[], Content]]) -> None:
        super().put(contents)
        while self.after_put:
            self.after_put.pop()()

    def get(self, name: str) -> bytes:
        while self.before_get:
            self.before_get.pop()()
        return super().get(name)


class Lockless(Folder):
    """A folder as another machine sees it: no lock of this one is any hindrance."""

    def alone(self, part: str) -> "NoLock":  # type: ignore[override]
        return NoLock()


class NoLock:
    def __enter__(self) -> None: ...
    def __exit__(self, *_: object) -> None: ...


@pytest.fixture
def between(tmp_path: Path, register: Register) -> ReadingsStore:
    return ReadingsStore(Between(tmp_path / "readings"), register)


@pytest.fixture
def other(tmp_path: Path, register: Register) -> ReadingsStore:
    """Return the same store as a second machine writes to it."""
    return ReadingsStore(Lockless(tmp_path / "readings"), register)


def hook(store: ReadingsStore) -> Between:
    assert isinstance(store.objects, Between)
    return store.objects


def files(store: ReadingsStore) -> set[str]:
    return {path.name for path in folder_of(store).rglob("*.parquet")}


def standing(store: ReadingsStore) -> set[str]:
    return {span.file for span in spans(store.register)}


def test_who_comes_too_late_merges_into_what_the_other_wrote(
    between: ReadingsStore, other: ReadingsStore
) -> None:
    overlapping = series("2025-11-01", 30)
    for first in (0, 100):  # a month that is new, and one that stands
        start = pd.Timestamp("2025-11-01", tz="UTC") + pd.Timedelta(minutes=10 * first)
        here, there = series(str(start), 60), series(str(start + pd.Timedelta("5h")), 60)
        hook(between).after_put.append(lambda there=there: other.merge("n1", there))  # type: ignore[misc]
        report = between.merge("n1", here)
        assert (report.added, report.same) == (30, 30)
    assert len(between.load("n1")) == 180
    assert between.merge("n1", overlapping).same == 30
    assert files(between) == standing(between)


def test_a_reader_goes_on_with_what_stands_in_place_of_what_it_was_to_read(
    between: ReadingsStore, other: ReadingsStore
) -> None:
    between.merge("n1", series("2025-10-31", 300))
    more = series("2025-11-03", 10)
    hook(between).before_get.append(lambda: other.merge("n1", more))
    assert len(between.load("n1")) == 310
    hook(between).before_get.append(lambda: other.rebuild("n1", lambda: [more]))
    assert len(between.load("n1")) == 10


def test_a_month_whose_file_is_not_there_is_told_and_not_begun_anew(
    between: ReadingsStore,
) -> None:
    between.merge("n1", series("2025-11-01", 30))
    month_path(between, "n1", "2025-11").unlink()
    for use in (
        lambda: between.load("n1"),
        lambda: between.merge("n1", series("2025-11-02", 3)),
        lambda: between.month_file("n1", "2025-11"),
    ):
        with pytest.raises(StoreError, match=r"2025-11_.*\.parquet: found no such file"):
            use()


def test_what_comes_in_while_months_are_built_anew_is_built_in(
    between: ReadingsStore, other: ReadingsStore
) -> None:
    first, second = series("2025-11-01", 30), series("2025-11-02", 30)
    between.merge("n1", first)
    came = [first]

    def comes() -> None:
        came.append(second)
        other.merge("n1", second)

    hook(between).after_put.append(comes)
    between.rebuild("n1", lambda: came, rests_on=lambda: len(came))
    assert len(between.load("n1")) == 60
    # What comes in and says nothing new changes no month; it must remain all the same.
    came[:] = [second]
    hook(between).after_put.append(lambda: came.append(first))
    between.rebuild("n1", lambda: came, rests_on=lambda: len(came))
    assert len(between.load("n1")) == 60
    assert files(between) == standing(between)


def test_a_file_that_a_crash_left_beside_the_one_that_stands_goes(between: ReadingsStore) -> None:
    between.merge("n1", series("2025-11-01", 30))
    path = month_path(between, "n1", "2025-11")
    left = path.with_name("2025-11_0123456789abcdef-01234567.parquet")
    left.write_bytes(b"half of what was to be")
    stranger = path.with_name("2025-11.parquet")
    stranger.write_bytes(path.read_bytes())
    assert between.note_all() == 0
    assert files(between) == {path.name, stranger.name}  # what others put there is not removed
    assert len(between.load("n1")) == 30


def test_files_of_earlier_releases_stay_readable_and_go_when_the_month_grows(
    between: ReadingsStore,
) -> None:
    between.merge("n1", series("2025-10-31", 300))
    for span in spans(between.register):
        path = month_path(between, "n1", span.month)
        path.rename(path.with_name(f"{span.month}.parquet"))
    with between.register.writing() as session:
        session.execute(text("UPDATE spans SET file = month || '.parquet'"))
    before = spans(between.register)
    assert between.note_all() == 0
    assert spans(between.register) == before
    assert len(between.load("n1")) == 300
    between.merge("n1", series("2025-11-20", 10))
    assert len(between.load("n1")) == 310
    assert "2025-10.parquet" in files(between)
    assert files(between) == standing(between)
    assert "2025-11.parquet" not in files(between)
