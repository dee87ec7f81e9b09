"""Files read part by part: each gives what the whole gives, and nothing of it is stored half."""

import functools
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from bench.written_files import written

from analysis.errors import StilltautError
from analysis.series import Flag
from service.errors import QuestionError
from service.ingest.choice import Choice
from service.ingest.long import by_parts, long_text
from service.ingest.long.by_parts import read_long
from service.ingest.long.spilled import SpilledReadings
from service.ingest.read import FileReading, read_as
from service.intake import arrivals
from service.intake.taking_in import finish_received, read_again, take_in
from service.intake.verification import verify
from service.settings import Settings
from service.storage import uploads
from service.storage.stores import Stores
from service.storage.uploads import UploadState

STRETCH = 20


@pytest.fixture(autouse=True)
def little(monkeypatch: pytest.MonkeyPatch) -> None:
    """Judge a file by so little of it that its parts show what the sample does not."""
    for name, size in (("SKETCH_HEAD", 2_000), ("SLICES", 8), ("SLICE_BYTES", 300)):
        monkeypatch.setattr(long_text, name, size)
    monkeypatch.setattr(by_parts, "SKETCH_HEAD", 2_000)
    monkeypatch.setattr(by_parts, "SEAM_BYTES", 600)


def by_part(path: Path, name: str, choice: Choice, part_bytes: int = 3_000) -> FileReading | None:
    long = long_text.long_text(path, name, least_bytes=1, part_bytes=part_bytes)
    return read_long(long, choice) if long else None


def lines_of(times: pd.DatetimeIndex, seed: int = 1) -> list[str]:
    rng = np.random.default_rng(seed)
    temp, rh = 20 + np.cumsum(rng.normal(0, 0.05, len(times))), 50 + rng.normal(0, 1, len(times))
    return [f"{t:%Y-%m-%d %H:%M},{a:.2f},{b:.1f}" for t, a, b in zip(times, temp, rh, strict=True)]


def write(path: Path, lines: list[str], head: str = "Time,Temp (C),RH (%)") -> Path:
    path.write_text("\n".join([head, *lines, ""]))
    return path


def as_whole(path: Path, choice: Choice) -> FileReading:
    return read_as(path.name, path.read_bytes(), choice)


def require_equal(one: FileReading, other: FileReading) -> None:
    assert list(one.sensors) == list(other.sensors)
    for name, frame in one.sensors.items():
        pd.testing.assert_frame_equal(frame, other.sensors[name], check_freq=False)
    assert one.understanding.rows == other.understanding.rows
    assert set(one.understanding.problems) == set(other.understanding.problems)
    assert one.choice == other.choice


@pytest.mark.parametrize("first", range(0, 100, STRETCH))
def test_a_written_file_gives_the_same_in_parts_or_is_asked_about(
    tmp_path: Path, first: int
) -> None:
    both = 0
    for number in range(first, first + STRETCH):
        made = written(number)
        path = tmp_path / "file"
        path.write_bytes(made.data)
        try:
            parts = by_part(path, made.name, Choice(made.zone))
        except StilltautError:
            continue
        if parts is not None:
            require_equal(read_as(made.name, made.data, Choice(made.zone)), parts)
            both += 1
    assert both > 1


def test_a_bad_line_in_the_last_part_is_told_by_its_number_as_it_is_in_the_whole(
    tmp_path: Path,
) -> None:
    lines = lines_of(pd.date_range("2024-01-01", periods=900, freq="10min"))
    lines[-3] = lines[-3].replace(",", ",x", 1)
    lines[-9] = "2024-99-99 10:00,20.0,50.0"
    path = write(tmp_path / "a.csv", lines)
    parts = by_part(path, path.name, Choice("UTC"))
    assert parts is not None
    require_equal(as_whole(path, Choice("UTC")), parts)
    assert [p.line for p in parts.understanding.problems] == [893, 899]


@pytest.mark.parametrize("part_bytes", range(2_000, 2_800, 100))
def test_the_hour_that_comes_twice_is_settled_wherever_a_part_ends(
    tmp_path: Path, part_bytes: int
) -> None:
    times = pd.date_range("2024-10-26 12:00", periods=200, freq="10min", tz="UTC")
    path = write(tmp_path / "a.csv", lines_of(pd.DatetimeIndex(times.tz_convert("Europe/Oslo"))))
    parts = by_part(path, path.name, Choice("Europe/Oslo"), part_bytes)
    assert parts is not None
    frame = parts.sensors[""]
    assert (frame.index == times).all()
    assert not frame["flags"].any()


def test_two_exports_that_overlap_are_one_record_with_the_first_values(tmp_path: Path) -> None:
    lines = lines_of(pd.date_range("2024-01-01", periods=600, freq="10min"))
    other = [line.rpartition(",")[0] + ",77.7" for line in lines[398:400]]
    path = write(tmp_path / "a.csv", [*lines[:400], *lines[300:398], *other, *lines[400:]])
    parts = by_part(path, path.name, Choice("UTC"), 2_000)
    assert parts is not None
    whole = as_whole(path, Choice("UTC"))
    frame, wanted = parts.sensors[""], whole.sensors[""]
    pd.testing.assert_frame_equal(
        frame[["temp_c", "rh_pct"]], wanted[["temp_c", "rh_pct"]], check_freq=False
    )
    assert int(((frame["flags"] & int(Flag.CONFLICT)) != 0).sum()) == 2
    assert parts.understanding.rows.duplicate == whole.understanding.rows.duplicate == 100
    assert any("another value" in p.found for p in parts.understanding.problems)


def test_one_sensor_below_another_without_a_name_is_asked_about(tmp_path: Path) -> None:
    times = pd.date_range("2024-01-01", periods=500, freq="10min")
    path = write(tmp_path / "a.csv", [*lines_of(times), *lines_of(times, seed=2)])
    with pytest.raises(QuestionError):
        as_whole(path, Choice("UTC"))
    with pytest.raises(QuestionError):
        by_part(path, path.name, Choice("UTC"))


@pytest.mark.parametrize("at", [100, 104, 108, 300])
def test_a_clock_set_back_between_two_parts_is_asked_about(tmp_path: Path, at: int) -> None:
    lines = lines_of(pd.date_range("2024-03-01", periods=at, freq="10min"))
    after = pd.date_range("2024-03-01", periods=500, freq="10min") + pd.Timedelta(
        minutes=10 * at - 180
    )
    path = write(tmp_path / "a.csv", [*lines, *lines_of(pd.DatetimeIndex(after), seed=3)])
    with pytest.raises(QuestionError, match="set back by 3 h") as asked:
        by_part(path, path.name, Choice("UTC"), sum(map(len, lines)) + at)
    shift = next(a for a in asked.value.answers if "from line" in a.columns["clock"])
    parts = by_part(path, path.name, Choice("UTC", shift.columns))
    assert parts is not None
    assert len(parts.sensors[""]) == at + 500


def test_a_sensor_that_only_the_last_part_names_becomes_one_of_its_own(tmp_path: Path) -> None:
    times = pd.date_range("2024-01-01", periods=700, freq="10min")
    lines = [f"{line},North" for line in lines_of(times)]
    late = pd.date_range("2024-01-05", periods=20, freq="10min")
    lines += [f"{line},South" for line in lines_of(late, seed=4)]
    path = write(tmp_path / "a.csv", lines, "Time,Temp (C),RH (%),Logger")
    parts = by_part(path, path.name, Choice("UTC"))
    assert parts is not None
    assert {name: len(parts.sensors[name]) for name in parts.sensors} == {"North": 700, "South": 20}


def test_newest_first_over_many_parts(tmp_path: Path) -> None:
    times = pd.date_range("2024-01-01", periods=700, freq="10min")
    path = write(tmp_path / "a.csv", lines_of(times)[::-1])
    parts = by_part(path, path.name, Choice("UTC"))
    assert parts is not None
    require_equal(as_whole(path, Choice("UTC")), parts)
    assert parts.understanding.time.order == "newest first"


@pytest.fixture
def short_parts(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let every file on the disk be read in parts."""
    monkeypatch.setattr(arrivals, "LONG_BYTES", 1)
    parted = functools.partial(long_text.long_text, least_bytes=1, part_bytes=3_000)
    monkeypatch.setattr(arrivals, "long_text", parted)


@pytest.mark.usefixtures("short_parts")
def test_a_long_file_is_stored_once_and_verified(tmp_path: Path) -> None:
    times = pd.date_range("2023-11-20", periods=9_000, freq="10min", tz="UTC")
    path = write(tmp_path / "a.csv", lines_of(times))
    with Stores.open(Settings(data_dir=tmp_path / "data")) as stores:
        first = take_in(stores, path, name=path.name, logger_id="n1", zone="UTC")
        again = take_in(stores, path, name=path.name, logger_id="n1", zone="UTC")
        held = take_in(stores, path.read_bytes(), name=path.name, logger_id="n1", zone="UTC")
        assert (first.rows, first.added, str(again.outcome)) == (9_000, 9_000, "already there")
        assert str(held.outcome) == "already there"
        assert (stores.readings.load("n1").index == times).all()
        (upload,) = uploads.uploads(stores.register)
        assert isinstance(read_again(stores, upload)[1], SpilledReadings)
        assert verify(stores) == []


@pytest.mark.usefixtures("short_parts")
def test_of_a_long_file_in_doubt_at_its_end_nothing_is_stored(tmp_path: Path) -> None:
    times = pd.date_range("2024-01-01", periods=900, freq="10min")
    path = write(tmp_path / "a.csv", [*lines_of(times), *lines_of(times[:300], seed=9)])
    with Stores.open(Settings(data_dir=tmp_path / "data")) as stores:
        with pytest.raises(QuestionError):
            take_in(stores, path, name=path.name, logger_id="n1", zone="UTC")
        assert not uploads.uploads(stores.register)
        assert not stores.readings.loggers()
        assert not list((tmp_path / "data" / "originals").rglob("*.part"))


@pytest.mark.usefixtures("short_parts")
def test_a_long_file_half_stored_is_finished_at_the_next_start(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    times = pd.date_range("2023-11-20", periods=9_000, freq="10min", tz="UTC")
    path = write(tmp_path / "a.csv", lines_of(times))
    with Stores.open(Settings(data_dir=tmp_path / "data")) as stores:
        monkeypatch.setattr(uploads, "mark", _killed)
        with pytest.raises(InterruptedError):
            take_in(stores, path, name=path.name, logger_id="n1", zone="UTC")
        monkeypatch.undo()
        assert [one.state for one in uploads.uploads(stores.register)] == [UploadState.RECEIVED]
        (receipt,) = finish_received(stores)
        assert (receipt.rows, receipt.same) == (9_000, 9_000)
        assert (stores.readings.load("n1").index == times).all()


def _killed(*_: object, **__: object) -> None:
    raise InterruptedError
