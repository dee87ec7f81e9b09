"""The register as CSV files: in, out, in again; and what is wrong with a line."""

from pathlib import Path

import pytest

from analysis.records import REGISTER
from service.register.file_guide import COLUMNS, column_words, needed_in
from service.register.file_text import RegisterFileError
from service.register.register_files import load_register, write_register
from service.settings import Settings
from service.storage import inspections, places, works
from service.storage.stores import Stores

FILES = {
    "sites.csv": "site,zone,altitude_m\nmain,Europe/Vienna,171\n",
    "rooms.csv": "room,site,band_name,rh_low_pct,rh_high_pct,band_since\n"
    "north,main,loans,45,55,2024-06-01\nstore,main,,,,\n",
    "loggers.csv": "logger\nn1\n",
    "works.csv": "work_id,title,width_mm,height_mm,paper,finish\n"
    'W-1,"Snow, evening",1500,1000,fibre base,matt\n',
    "mounts.csv": "work_id,mounted_utc,mounted_rh_pct\nW-1,2024-02-01,48.5\n",
    "frames.csv": "work_id,frame,closed_utc\nW-1,D,2024-02-02T09:30+01:00\n",
    "hangings.csv": "work_id,room,from_utc,sun_or_spot\nW-1,north,2024-03-01,yes\n",
    "placements.csv": "logger,room\nn1,north\n",
    "inspections.csv": "work_id,at_utc,grade,released,by,note\n"
    'W-1,2024-04-01T10:00Z,1,,R. Keeper,"two\nlines"\n'
    "W-1,2024-04-08T10:00Z,0,no,R. Keeper,\nW-1,2024-04-15T10:00Z,0,Yes,R. Keeper,\n",
}


def folder_of(path: Path, files: dict[str, str]) -> Path:
    path.mkdir(exist_ok=True)
    for name, text in files.items():
        (path / name).write_text(text, encoding="utf-8")
    return path


def changed(name: str, old: str, new: str) -> dict[str, str]:
    assert old in FILES[name]
    return FILES | {name: FILES[name].replace(old, new)}


def test_columns_cover_every_file_and_every_field() -> None:
    assert set(COLUMNS) == set(REGISTER)
    assert all(set(needed_in(file)) <= set(COLUMNS[file]) for file in COLUMNS)
    assert all(words for file in COLUMNS for words in column_words(file).values())


def test_files_are_read_and_twice_is_once(stores: Stores, tmp_path: Path) -> None:
    folder = folder_of(tmp_path / "in", FILES)
    assert load_register(stores, folder, by="R. Keeper") == {
        file: {"rooms.csv": 2, "inspections.csv": 3}.get(file, 1)
        for file in REGISTER
        if file in FILES
    }
    assert set(load_register(stores, folder).values()) == {0}
    assert places.sites(stores.register)[0].name == "main"
    (work,) = works.works_at(stores.register, "north")
    assert (work.title, work.mounted_rh_pct, work.sun_or_spot) == ("Snow, evening", 48.5, True)
    assert work.closed_utc is not None and work.closed_utc.isoformat().startswith(
        "2024-02-02T08:30"
    )
    seen = inspections.inspections(stores.register)
    assert seen[0].note == "two\nlines"
    assert [one.released for one in seen] == [None, False, True]


def test_what_is_written_is_read_back_the_same(stores: Stores, tmp_path: Path) -> None:
    load_register(stores, folder_of(tmp_path / "in", FILES))
    written = write_register(stores, tmp_path / "out")
    assert [path.name for path in written] == list(REGISTER)
    with Stores.open(Settings(data_dir=tmp_path / "second")) as second:
        load_register(second, tmp_path / "out")
        for path in write_register(second, tmp_path / "again"):
            assert path.read_bytes() == (tmp_path / "out" / path.name).read_bytes()


def test_the_invented_museum_goes_in_and_comes_back(stores: Stores, tmp_path: Path) -> None:
    folder = Path(__file__).parents[2] / "sample_logs" / "register"
    assert sum(load_register(stores, folder).values()) > 100
    write_register(stores, tmp_path / "out")
    assert set(load_register(stores, tmp_path / "out").values()) == {0}


FAULTS = [
    ("works.csv", "1500", "wide", "works.csv, line 2, column width_mm: found 'wide', expected a n"),
    ("works.csv", "1500", "-5", "expected a number from 10 to 20000 mm"),
    ("works.csv", "1500", "nan", "expected a number from 10 to 20000 mm"),
    ("works.csv", "1500", "1e308", "expected a number from 10 to 20000 mm"),
    ("works.csv", "1500", "", "column width_mm: found an empty cell, expected a number from 10"),
    ("works.csv", "fibre base", "baryta", "expected one of: fibre base, resin-coated"),
    ("works.csv", "finish", "gloss", "line 1, column gloss: found the column name 'gloss'"),
    ("works.csv", ",width_mm", "", "line 1, column width_mm: found no column width_mm"),
    ("works.csv", "matt", "matt,more", "line 2: found 7 cells, expected 6 cells"),
    (
        "mounts.csv",
        "48.5",
        "148.5",
        "expected a number from 1 to 99 %RH, or a range such as 40 to 55",
    ),
    ("mounts.csv", "48.5", "55 to 40", "expected a number from 1 to 99 %RH, or a range"),
    ("mounts.csv", "2024-02-01", "0001-01-01", "or a date, from 1826 to 2200"),
    ("mounts.csv", "2024-02-01", "1.2.2024", "expected a time such as 2025-03-01T09:30Z"),
    ("mounts.csv", "W-1", "W-7", "column work_id: found 'W-7', expected a work_id of works.csv"),
    ("rooms.csv", "45,55", "55,45", "column rh_high_pct: found 45, expected more than rh_low_pct"),
    ("sites.csv", "Europe/Vienna", "Vienna", "expected a time zone such as Europe/Vienna"),
    (
        "inspections.csv",
        ",1,",
        ",5,",
        "column grade: found '5', expected a whole number fr",
    ),
    (
        "inspections.csv",
        "0,no,",
        "0,unsure,",
        "column released: found 'unsure', expected one of: yes",
    ),
    ("hangings.csv", "yes", "maybe", "expected one of: yes, no"),
]


@pytest.mark.parametrize(("name", "old", "new", "told"), FAULTS)
def test_a_faulty_line_is_told_in_five_parts_and_nothing_changes(
    stores: Stores, tmp_path: Path, name: str, old: str, new: str, told: str
) -> None:
    folder = folder_of(tmp_path / "in", changed(name, old, new))
    with pytest.raises(RegisterFileError) as problem:
        load_register(stores, folder)
    assert told in str(problem.value)
    assert "Correct the line" in problem.value.action
    assert places.sites(stores.register) == ()


def test_what_is_not_known_and_what_is_a_range_come_in_and_go_out(
    stores: Stores, tmp_path: Path
) -> None:
    files = changed("mounts.csv", "48.5", "40–55 %RH") | {
        "works.csv": "work_id,title,width_mm,height_mm\nW-1,Snow,160 cm,1 m\n",
        "frames.csv": "work_id,frame,closed_utc,spacer_mm\nW-1,,2024-02-02,8 to 12\n",
    }
    load_register(stores, folder_of(tmp_path / "in", files))
    (work,) = works.works_at(stores.register, "north")
    assert (work.width_mm, work.height_mm) == (1600.0, 1000.0)
    assert {"paper", "finish", "mount", "panel", "adhesive", "frame"} <= work.unknown
    assert work.mounted_rh_pct is None and work.spacer_mm is None
    stated = {name: (one.low, one.high) for name, one in work.overrides.items()}
    assert stated == {"mounted_rh_pct": (40.0, 55.0), "gap_mm": (8.0, 12.0)}
    write_register(stores, tmp_path / "out")
    assert "40 to 55" in (tmp_path / "out" / "mounts.csv").read_text()
    assert set(load_register(stores, tmp_path / "out").values()) == {0}


def test_all_faults_are_counted(stores: Stores, tmp_path: Path) -> None:
    files = changed("works.csv", "1500", "wide") | {"loggers.csv": "loger\nn1\n"}
    with pytest.raises(RegisterFileError, match=r"1 more: works\.csv line 2") as problem:
        load_register(stores, folder_of(tmp_path / "in", files))
    assert [fault.read for fault in problem.value.others] == ["works.csv"]


def test_a_file_in_another_encoding_is_told(stores: Stores, tmp_path: Path) -> None:
    folder = folder_of(tmp_path / "in", FILES)
    (folder / "loggers.csv").write_bytes("logger,note\nn1,Süd\n".encode("cp1252"))
    with pytest.raises(RegisterFileError, match="bytes that are not UTF-8"):
        load_register(stores, folder)


def test_an_empty_folder_is_told(stores: Stores, tmp_path: Path) -> None:
    with pytest.raises(RegisterFileError, match=r"none of the register's files"):
        load_register(stores, tmp_path)
