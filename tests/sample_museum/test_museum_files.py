"""The invented museum's files: made again byte for byte, named, small, in the register's words."""

import csv
from collections import Counter
from enum import StrEnum
from pathlib import Path

import pandas as pd
import pytest

import sample_logs
from analysis.works import (
    Adhesive,
    Finish,
    FrameBuild,
    Glazing,
    Grain,
    Mount,
    Panel,
    Paper,
    Wall,
)
from sample_logs.make import files
from service.register.file_guide import COLUMNS, needed_in

MUSEUM = Path(sample_logs.__file__).parent


MOUNTED_ANEW = ("2014-06",)
FRAMED_ANEW = ("2014-06", "2022-01")
AWAY = "2007-02"


def rows(name: str) -> list[dict[str, str]]:
    with (MUSEUM / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def made() -> dict[str, bytes]:
    return dict(files())


def test_the_script_writes_the_kept_files_byte_for_byte(made: dict[str, bytes]) -> None:
    differing = [name for name, content in made.items() if (MUSEUM / name).read_bytes() != content]
    assert differing == []


def test_no_file_is_left_over(made: dict[str, bytes]) -> None:
    kept = {
        path.relative_to(MUSEUM).as_posix()
        for folder in ("exports", "register")
        for path in (MUSEUM / folder).iterdir()
    }
    assert kept | {"deliveries.csv"} == set(made)


def test_everything_is_small(made: dict[str, bytes]) -> None:
    assert sum(map(len, made.values())) < 6_000_000


def test_the_readme_names_every_export(made: dict[str, bytes]) -> None:
    text = (MUSEUM / "README.md").read_text(encoding="utf-8")
    exports = [Path(name).name for name in made if name.startswith("exports/")]
    assert [name for name in exports if f"`{name}`" not in text] == []


def test_every_export_is_delivered_and_every_logger_delivers(made: dict[str, bytes]) -> None:
    deliveries = rows("deliveries.csv")
    exports = {Path(name).name for name in made if name.startswith("exports/")}
    assert {row["file"] for row in deliveries} == exports
    loggers = {row["logger"]: row["zone"] for row in rows("register/loggers.csv")}
    assert {row["logger"]: row["zone"] for row in deliveries} == loggers


FILES = sorted(path.name for path in (MUSEUM / "register").glob("*.csv"))


@pytest.mark.parametrize("file", FILES)
def test_the_register_has_the_columns_of_the_register(file: str) -> None:
    kept = rows(f"register/{file}")
    assert kept
    assert set(needed_in(file)) <= set(kept[0]) <= set(COLUMNS[file])


@pytest.mark.parametrize(
    ("file", "column", "words"),
    [
        ("works.csv", "paper", Paper),
        ("works.csv", "finish", Finish),
        ("works.csv", "grain", Grain),
        ("mounts.csv", "mount", Mount),
        ("mounts.csv", "panel", Panel),
        ("mounts.csv", "adhesive", Adhesive),
        ("frames.csv", "frame", FrameBuild),
        ("frames.csv", "glazing", Glazing),
        ("hangings.csv", "wall", Wall),
    ],
)
def test_every_word_of_the_trade_occurs(file: str, column: str, words: type[StrEnum]) -> None:
    assert {row[column] for row in rows(f"register/{file}")} == {str(word) for word in words}


def test_thirty_works_each_mounted_framed_hung_and_seen_three_times() -> None:
    works = {row["work_id"] for row in rows("register/works.csv")}
    assert len(works) == 30
    for file, times in (("mounts", 1), ("frames", 1), ("hangings", 1), ("inspections", 3)):
        counted = Counter(row["work_id"] for row in rows(f"register/{file}.csv"))
        anew = Counter(
            MOUNTED_ANEW if file == "mounts" else FRAMED_ANEW if file == "frames" else ()
        )
        if file == "hangings":
            anew = Counter({AWAY: 4})  # in a crate, there, in a crate, back
        assert counted == Counter(dict.fromkeys(works, times)) + anew, file


def test_sheets_are_large_and_grades_believable() -> None:
    sizes = [
        max(float(row["width_mm"]), float(row["height_mm"])) for row in rows("register/works.csv")
    ]
    assert 800 <= min(sizes) < max(sizes) <= 2500
    grades = Counter(row["grade"] for row in rows("register/inspections.csv"))
    assert set(grades) == {"0", "1", "2"}
    assert grades["0"] > grades["1"] > grades["2"] > 0


def test_nothing_is_framed_before_it_is_mounted_or_seen_before_it_is_framed() -> None:
    mounted, closed, seen = (
        {work: sorted(row[column] for row in many) for work, many in by_work(file).items()}
        for file, column in (
            ("mounts", "mounted_utc"),
            ("frames", "closed_utc"),
            ("inspections", "at_utc"),
        )
    )
    assert all(mounted[work][0] <= closed[work][0] < seen[work][0] for work in closed)
    assert all(mounted[work][-1] <= closed[work][-1] for work in closed)
    assert {work for work in closed if len(mounted[work]) > 1} == set(MOUNTED_ANEW)


def by_work(file: str) -> dict[str, list[dict[str, str]]]:
    found: dict[str, list[dict[str, str]]] = {}
    for row in rows(f"register/{file}.csv"):
        found.setdefault(row["work_id"], []).append(row)
    return found


def test_names_used_in_one_file_exist_in_the_other() -> None:
    known = {
        "site": {row["site"] for row in rows("register/sites.csv")},
        "room": {row["room"] for row in rows("register/rooms.csv")} | {""},
        "logger": {row["logger"] for row in rows("register/loggers.csv")},
        "work_id": {row["work_id"] for row in rows("register/works.csv")} | {""},
    }
    for file in FILES:
        for row in rows(f"register/{file}"):
            for column, names in known.items():
                assert row.get(column, next(iter(names))) in names, (file, row)


def test_times_of_the_register_can_be_read() -> None:
    for file in FILES:
        for row in rows(f"register/{file}"):
            for column in row:
                if column.endswith("_utc") and row[column]:
                    assert pd.Timestamp(row[column]).year in range(2019, 2027), (file, row)
