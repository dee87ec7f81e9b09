"""The store of readings: months, spans, digests, locks, and what a crash leaves behind."""

import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import hypothesis.strategies as st
import numpy as np
import pandas as pd
import pyarrow.parquet as pq
import pytest
from fixtures.kept_files import folder_of, month_path
from hypothesis import given, settings

from analysis.errors import OutOfRangeError
from analysis.series import Flag, readings_frame
from service.errors import StoreError
from service.storage.objects.folder import Folder
from service.storage.readings import ReadingsStore
from service.storage.register import open_register


def store_in(folder: Path) -> ReadingsStore:
    register = open_register(f"sqlite:///{folder / 'register.db'}")
    return ReadingsStore(Folder(folder / "readings"), register)


def series(start: str, periods: int, freq: str = "10min", temp: float = 20.0) -> pd.DataFrame:
    index = pd.date_range(start, periods=periods, freq=freq, tz="UTC")
    n = np.arange(periods)
    return readings_frame(index, temp_c=temp + n % 7 / 10, rh_pct=50 + n % 11 / 10)


@pytest.fixture
def store(tmp_path: Path) -> ReadingsStore:
    return store_in(tmp_path)


def test_what_is_merged_comes_back_to_the_bit(store: ReadingsStore) -> None:
    frame = series("2025-11-20", 6000)
    frame.iloc[5, 0] = np.nan
    report = store.merge("n1", frame)
    assert report.added == 6000
    assert report.months == ("2025-11", "2025-12")
    pd.testing.assert_frame_equal(store.load("n1"), frame, check_freq=False)
    assert store.months("n1") == ["2025-11", "2025-12"]
    assert store.loggers() == ["n1"]
    assert store.span("n1") == (frame.index[0], frame.index[-1])


def test_month_files_are_plain_parquet_for_others(store: ReadingsStore) -> None:
    store.merge("n1", series("2025-11-01", 10))
    table = pq.read_table(month_path(store, "n1", "2025-11"), partitioning=None)
    assert table.column_names == ["time_utc", "temp_c", "rh_pct", "flags"]
    assert [str(kind) for kind in table.schema.types] == [
        "timestamp[ms, tz=UTC]",
        "double",
        "double",
        "int32",
    ]
    assert pd.read_parquet(folder_of(store))["logger"].tolist() == ["n1"] * 10


def test_part_of_the_time_includes_its_start_and_not_its_end(store: ReadingsStore) -> None:
    store.merge("n1", series("2025-11-20", 6000))
    start = datetime(2025, 11, 30, 23, 50, tzinfo=UTC)
    end = datetime(2025, 12, 1, 0, 10, tzinfo=UTC)
    part = store.load("n1", start, end)
    assert part.index.tolist() == [pd.Timestamp(start), pd.Timestamp("2025-12-01", tz="UTC")]
    assert store.load("n1", end, start).empty
    assert store.load("nobody").empty
    assert store.span("nobody") is None


def test_the_same_again_writes_nothing(store: ReadingsStore) -> None:
    frame = series("2025-11-20", 6000)
    store.merge("n1", frame)
    before = {m: month_path(store, "n1", m).stat().st_mtime_ns for m in store.months("n1")}
    report = store.merge("n1", frame)
    assert (report.added, report.same, report.months) == (0, 6000, ())
    assert before == {m: month_path(store, "n1", m).stat().st_mtime_ns for m in store.months("n1")}


def test_overlap_and_conflict(store: ReadingsStore) -> None:
    store.merge("n1", series("2025-11-01", 100))
    second = series("2025-11-01 08:20", 100)  # begins at row 50, its pattern shifted
    report = store.merge("n1", second)
    first = series("2025-11-01", 100)
    shared = first.index.intersection(second.index)
    differ = (first.loc[shared] != second.loc[shared]).any(axis=1)
    assert report.added == 50
    assert report.conflict_count == int(differ.sum()) > 0
    assert report.same == 50 - report.conflict_count
    kept = store.load("n1")
    pd.testing.assert_frame_equal(
        kept.loc[first.index, ["temp_c", "rh_pct"]],
        first[["temp_c", "rh_pct"]],
        check_freq=False,
    )
    assert (kept.loc[shared, "flags"] == np.where(differ, Flag.CONFLICT, 0)).all()


@settings(max_examples=15, deadline=None)
@given(st.lists(st.integers(0, 5), min_size=1, max_size=6))
def test_parts_in_any_order_make_the_same_store(
    tmp_path_factory: pytest.TempPathFactory, order: list[int]
) -> None:
    whole = series("2025-10-30", 600)
    parts = [whole.iloc[i * 100 : (i + 1) * 100 + 30] for i in range(6)]
    store = store_in(tmp_path_factory.mktemp("parts"))
    for i in order + list(range(6)):
        store.merge("n1", parts[i])
    pd.testing.assert_frame_equal(store.load("n1"), whole, check_freq=False)


def test_a_digest_follows_the_readings_and_nothing_else(tmp_path: Path) -> None:
    one, two = store_in(tmp_path / "1"), store_in(tmp_path / "2")
    frame = series("2025-11-01", 100)
    one.merge("n1", frame)
    two.merge("other", frame.iloc[50:])
    assert two.digest("other", "2025-11") != one.digest("n1", "2025-11")
    two.merge("other", frame.iloc[:50])
    assert two.digest("other", "2025-11") == one.digest("n1", "2025-11")
    assert one.digest("n1", "2025-12") == ""


def test_sub_second_logging_is_kept_to_the_millisecond(store: ReadingsStore) -> None:
    frame = series("2025-11-01", 50, freq="250ms")
    store.merge("n1", frame)
    pd.testing.assert_frame_equal(store.load("n1"), frame, check_freq=False)
    with pytest.raises(OutOfRangeError, match="millisecond"):
        store.merge("n1", series("2025-11-01", 5, freq="100us"))


@pytest.mark.parametrize("name", ["Gang Süd / 2", "..", "a.b", "50%", "n 1"])
def test_any_name_of_a_logger_is_a_folder_of_its_own(store: ReadingsStore, name: str) -> None:
    store.merge(name, series("2025-11-01", 3))
    assert store.loggers() == [name]
    assert [path.parent for path in folder_of(store).iterdir()] == [folder_of(store)]
    assert len(store.load(name)) == 3


@pytest.mark.parametrize("name", ["", "  ", "a\nb", "x" * 201, "雪" * 30])
def test_a_name_that_cannot_be_one_is_refused(store: ReadingsStore, name: str) -> None:
    with pytest.raises(OutOfRangeError, match="a short name of printable"):
        store.merge(name, series("2025-11-01", 3))


def test_a_damaged_month_is_named_and_not_written_over(store: ReadingsStore) -> None:
    store.merge("n1", series("2025-11-01", 3))
    path = month_path(store, "n1", "2025-11")
    path.write_bytes(b"not parquet")
    with pytest.raises(StoreError, match=r"2025-11_.*\.parquet"):
        store.merge("n1", series("2025-11-02", 3))
    assert path.read_bytes() == b"not parquet"


def test_half_written_files_are_swept_away(store: ReadingsStore) -> None:
    store.merge("n1", series("2025-11-01", 3))
    leftover = folder_of(store) / "logger=n1" / "2025-11.parquet.part"
    leftover.write_bytes(b"half")
    assert store.months("n1") == ["2025-11"]
    store.merge("n1", series("2025-11-02", 3))
    assert not leftover.exists()


def test_a_disk_that_refuses_is_said_in_five_parts(tmp_path: Path) -> None:
    (tmp_path / "readings").write_text("a file where a folder should be")
    with pytest.raises(StoreError, match="expected a folder that can be written"):
        store_in(tmp_path).merge("n1", series("2025-11-01", 3))


def test_rebuilding_replaces_all_months(store: ReadingsStore) -> None:
    store.merge("n1", series("2025-10-01", 10))
    store.merge("n1", series("2025-12-01", 10))
    store.rebuild("n1", lambda: [series("2025-11-01", 10), series("2025-12-01", 5, temp=25)])
    assert store.months("n1") == ["2025-11", "2025-12"]
    assert len(store.load("n1")) == 15
    store.rebuild("n1", list)
    assert store.load("n1").empty


MERGER = """
import sys
from pathlib import Path
import numpy as np, pandas as pd
from analysis.series import readings_frame
from service.storage.objects.folder import Folder
from service.storage.readings import ReadingsStore
from service.storage.register import open_register
folder = Path(sys.argv[1])
store = Folder(folder)
register = open_register(f"sqlite:///{folder.parent / 'register.db'}")
which = int(sys.argv[2])
index = pd.date_range("2025-11-01", periods=400, freq="10min", tz="UTC")[which::2]
for start in range(0, 200, 10):
    part = index[start:start + 10]
    ReadingsStore(store, register).merge("n1", readings_frame(part, temp_c=np.full(10, 20.0)))
"""


def test_two_processes_writing_one_logger_lose_nothing(store: ReadingsStore) -> None:
    processes = [
        subprocess.Popen([sys.executable, "-c", MERGER, folder_of(store), str(which)])
        for which in (0, 1)
    ]
    assert [process.wait(60) for process in processes] == [0, 0]
    assert len(store.load("n1")) == 400
