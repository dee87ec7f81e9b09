"""Years that are over in one file each: the same readings, whatever comes, goes or breaks."""

from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from fixtures.kept_files import folder_of, month_path
from sqlalchemy import text

from analysis.series import readings_frame
from service.errors import StoreError
from service.intake.closed_years import ClosingYears, compact_all
from service.storage.objects.folder import Folder
from service.storage.objects.named import Content
from service.storage.readings import ReadingsStore, merged_frames
from service.storage.register import Register
from service.storage.spans import spans
from service.storage.versions import versions

NOW = datetime(2025, 3, 10, tzinfo=UTC)


def series(start: str, end: str, freq: str = "3h", temp: float = 20.0) -> pd.DataFrame:
    index = pd.date_range(start, end, freq=freq, tz="UTC", inclusive="left")
    n = np.arange(len(index))
    return readings_frame(index, temp_c=temp + n % 7 / 10, rh_pct=50 + n % 11 / 10)


WHOLE = series("2022-11-07", "2025-03-10")


class KilledError(BaseException):
    """Stands for the end of the process: nothing is cleared up."""


class Breaking(Folder):
    """A folder at which the process ends at a chosen step, before or after it."""

    steps = -1

    def _step(self) -> None:
        self.steps -= 1
        if self.steps == 0:
            raise KilledError

    def put(self, contents: Mapping[str, Callable[[], Content]]) -> None:
        self._step()
        super().put(contents)
        self._step()

    def remove(self, name: str) -> None:
        self._step()
        super().remove(name)


@pytest.fixture
def store(tmp_path: Path, register: Register) -> ReadingsStore:
    found = ReadingsStore(Breaking(tmp_path / "readings"), register)
    found.merge("n1", WHOLE)
    return found


def files(store: ReadingsStore) -> list[str]:
    return sorted(path.name.partition("_")[0] for path in folder_of(store).rglob("*.parquet"))


def known(store: ReadingsStore) -> list[tuple[Any, ...]]:
    """Return what the register knows of the months, but the file and its size."""
    return [
        (one.month, one.first_utc, one.last_utc, one.rows, one.digest)
        for one in spans(store.register)
    ]


def require(store: ReadingsStore, frame: pd.DataFrame, logger: str = "n1") -> None:
    """The store gives these readings back, and reads of no other file than those that stand."""
    pd.testing.assert_frame_equal(store.load(logger), frame, check_freq=False)
    begin, end = (pd.Timestamp(day, tz="UTC").to_pydatetime() for day in ("2023-12-30", "2024-1-2"))
    part = frame.loc[begin : pd.Timestamp(end) - pd.Timedelta("1ms")]
    pd.testing.assert_frame_equal(store.load(logger, begin, end), part, check_freq=False)
    stands = {one.file for one in spans(store.register)}
    assert {path.name for path in folder_of(store).rglob("*.parquet")} == stands
    assert store.note_all() == 0


def test_the_months_of_a_closed_year_lie_in_one_file_and_nothing_else_changes(
    store: ReadingsStore,
) -> None:
    before, numbers = known(store), versions(store.register)
    month = store.month_file("n1", "2023-05")
    assert len(files(store)) == 29
    assert store.compact("n1", NOW) == 2 + 12 + 12 - 3
    assert files(store) == ["2022", "2023", "2024", "2025-01", "2025-02", "2025-03"]
    assert known(store) == before
    assert versions(store.register) == numbers
    assert store.month_file("n1", "2023-05") == month
    require(store, WHOLE)
    assert store.compact("n1", NOW) == 0
    assert store.compact("nobody", NOW) == 0


@pytest.mark.parametrize(("now", "last"), [("2025-02-28", 2023), ("2025-03-01", 2024)])
def test_a_year_is_closed_when_late_files_have_had_their_time(
    store: ReadingsStore, now: str, last: int
) -> None:
    store.compact("n1", datetime.fromisoformat(now).replace(tzinfo=UTC))
    assert [name for name in files(store) if "-" not in name][-1] == str(last)


def test_a_late_reading_opens_its_month_alone_until_the_year_is_closed_again(
    store: ReadingsStore,
) -> None:
    store.compact("n1", NOW)
    late = series("2023-05-03", "2023-05-04", "10min", 25.0)
    report = store.merge("n1", late)
    assert (report.added, report.conflict_count, report.months) == (144 - 8, 8, ("2023-05",))
    whole = merged_frames([WHOLE, late], "n1")
    assert [name for name in files(store) if name.startswith("2023")] == ["2023", "2023-05"]
    require(store, whole)
    before = known(store)
    assert store.compact("n1", NOW) == 1
    assert [name for name in files(store) if name.startswith("2023")] == ["2023"]
    assert known(store) == before
    require(store, whole)


def test_what_is_taken_back_goes_out_of_closed_years(store: ReadingsStore) -> None:
    store.compact("n1", NOW)
    rest = WHOLE.loc["2024-02":]
    store.rebuild("n1", lambda: [rest])
    assert {name[:4] for name in files(store)} == {"2024", "2025"}
    require(store, rest)
    store.compact("n1", NOW)
    require(store, rest)


def test_killed_at_any_step_the_readings_are_the_same(tmp_path: Path, register: Register) -> None:
    """Before and after each file is put, and before each that stands no more is removed."""
    folder, whole = tmp_path / "readings", series("2023-11-20", "2024-02-10")
    late = series("2023-12-03", "2023-12-04", "10min", 25.0)
    ReadingsStore(Breaking(folder), register).merge("n2", whole)
    cut, finished = 0, False
    while not finished:
        cut += 1
        breaking = Breaking(folder)
        broken = ReadingsStore(breaking, register)
        before, breaking.steps = known(broken), cut
        try:
            broken.compact("n2", NOW)
            finished = True
        except KilledError:
            pass
        again = ReadingsStore(Breaking(folder), register)
        again.note_all()
        assert known(again) == before
        require(again, whole, "n2")
        again.merge("n2", late)
        again.rebuild("n2", lambda: [whole])  # every month has a file of its own again
    assert cut == 2 * 2 + 4 + 1, "two files put, four removed"
    assert len(files(ReadingsStore(Breaking(folder), register))) == 4


def test_all_loggers_are_gone_through_once_a_day_when_nothing_else_waits(
    store: ReadingsStore,
) -> None:
    store.merge("n2", WHOLE)
    closing = ClosingYears(store, lambda: NOW)
    closing(lambda: True)
    assert len(files(store)) == 58
    store.register.refuses_to_write = ("a clock set by hand", "Take it away.")
    closing(lambda: False)
    with pytest.raises(StoreError, match="a clock set by hand"):
        compact_all(store, NOW)
    assert len(files(store)) == 58
    store.register.refuses_to_write = None
    closing(lambda: False)
    assert files(store) == 2 * ["2022"] + 2 * ["2023"] + 2 * ["2024"] + [
        month for month in ("2025-01", "2025-02", "2025-03") for _ in range(2)
    ]
    store.merge("n2", series("2023-05-03", "2023-05-04", "10min"))
    closing(lambda: False)
    assert "2023-05" in files(store), "till the next day"
    require(store, WHOLE)


def test_a_damaged_year_is_told_and_a_damaged_month_is_put_into_none(
    store: ReadingsStore,
) -> None:
    path = month_path(store, "n1", "2023-05")
    path.write_bytes(path.read_bytes()[:-20])
    store.compact("n1", NOW)
    assert [name for name in files(store) if "-" not in name] == ["2022", "2024"]
    with pytest.raises(StoreError, match=r"2023-05_.*found"):
        store.load("n1")
    year = month_path(store, "n1", "2024-05")
    assert year.name.startswith("2024_")
    year.write_bytes(year.read_bytes()[:-20])
    fresh = ReadingsStore(store.objects, store.register)
    with pytest.raises(StoreError, match=r"2024_.*found"):
        fresh.load("n1", datetime(2024, 1, 1, tzinfo=UTC))
    year.unlink()
    fresh.note_all()
    assert not [month for month in fresh.months("n1") if month.startswith("2024")]


def test_a_register_that_has_lost_them_is_told_by_the_files_of_years(
    store: ReadingsStore, register: Register
) -> None:
    store.compact("n1", NOW)
    before = known(store)
    with register.writing() as session:
        session.execute(text("DELETE FROM spans"))
    assert store.note_all() == 29
    assert known(store) == before
    require(store, WHOLE)
    assert store.note_all(anew=True) == 0
    require(store, WHOLE)
