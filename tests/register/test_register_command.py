"""``stilltaut register``: what people's spreadsheets write, shown before it is kept, or refused."""

import shutil
from collections.abc import Mapping
from pathlib import Path

import pytest
from click.testing import CliRunner

from analysis.errors import StilltautError
from analysis.records import REGISTER
from analysis.records.cells import value_of
from service.cli import stilltaut
from service.errors import StoreError
from service.register.file_guide import COLUMNS, example_files, fields_of
from service.register.file_text import RegisterFileError
from service.register.register_files import lines_in
from service.settings import Settings
from service.storage import audit, works
from service.storage.records import correct_line, line_at, take_out_line
from service.storage.stores import Stores

FILES = example_files()
WORK = {"work_id": "2021.04"}


def folder_of(path: Path, files: Mapping[str, str | bytes]) -> Path:
    path.mkdir(exist_ok=True)
    for name, text in files.items():
        (path / name).write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def run(*arguments: str | Path) -> str:
    """Run the command and return what it said."""
    answer = CliRunner().invoke(
        stilltaut, ["register", *map(str, arguments)], catch_exceptions=False, standalone_mode=False
    )
    assert answer.return_value == 0
    return answer.output


@pytest.fixture(scope="module")
def begun(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A museum with the example work in it."""
    folder = tmp_path_factory.mktemp("begun")
    run(folder_of(folder / "first", FILES), "--data", folder / "data", "--by", "A. Person")
    return folder / "data"


@pytest.fixture
def data(begun: Path, tmp_path: Path) -> Path:
    """A copy of it that a test may change."""
    return Path(shutil.copytree(begun, tmp_path / "data"))


def lines(data: Path) -> list[object]:
    """Return everything the register holds."""
    with Stores.open(Settings(data_dir=data)) as stores:
        return [line for file in REGISTER for line in lines_in(stores.register, file)]


def test_every_file_has_an_example_and_a_key() -> None:
    for file, declaration in REGISTER.items():
        assert declaration.words
        assert set(declaration.key) <= set(COLUMNS[file])
        for one in fields_of(file).values():
            assert one.example or not one.needed, one.name
            if one.example:
                value_of(one, one.example)


def test_a_museum_starts_with_empty_files_and_an_explained_example(tmp_path: Path) -> None:
    assert "15 empty files" in run("--empty", tmp_path / "new")
    readme = (tmp_path / "new" / "README.md").read_text(encoding="utf-8")
    for file, columns in COLUMNS.items():
        assert (tmp_path / "new" / file).read_text(encoding="utf-8") == ",".join(columns) + "\n"
        assert all(f"| `{column}` |" in readme for column in columns)
    assert "Nothing to change." in run(tmp_path / "new", "--data", tmp_path / "data")
    with pytest.raises(StoreError, match="there already"):
        run("--empty", tmp_path / "new")


def test_the_examples_of_the_readme_are_a_museum(data: Path) -> None:
    with Stores.open(Settings(data_dir=data)) as stores:
        record = works.work_record(stores.register, "2021.04")
        assert record.print.title == "Slipway, low tide"
        assert record.mountings[0].mounted_rh_pct == 48.0
        assert {line.by for line in audit.trail(stores.register)} == {"A. Person"}


def test_what_is_new_changed_and_unchanged_is_shown(data: Path, tmp_path: Path) -> None:
    more = "work_id,title,width_mm,height_mm,paper,finish\n"
    more += "2021.04,Slipway,1500,1000,fibre base,glossy\nW 2,Quay,900,700,polyester,matt\n"
    folder = folder_of(tmp_path / "in", {"works.csv": more, "rooms.csv": FILES["rooms.csv"]})
    look = run(folder, "--data", data, "--dry-run")
    assert "works.csv: 1 new, 1 changed, 0 unchanged" in look
    assert "rooms.csv: 0 new, 0 changed, 1 unchanged" in look
    assert "line 2, 2021.04: title Slipway, low tide → Slipway" in look
    assert "Nothing was changed" in look
    with Stores.open(Settings(data_dir=data)) as stores:
        assert len(works.prints(stores.register)) == 1
    assert run(folder / "works.csv", "--data", data).endswith("Kept: 2 lines new or changed.\n")
    assert "Nothing to change." in run(folder, "--data", data)


def test_a_look_at_no_museum_leaves_none(tmp_path: Path) -> None:
    folder = folder_of(tmp_path / "in", FILES)
    assert "works.csv: 1 new" in run(folder, "--data", tmp_path / "data", "--dry-run")
    assert not (tmp_path / "data").exists()


def test_a_column_that_a_file_lacks_keeps_what_it_held(data: Path, tmp_path: Path) -> None:
    files = {
        "mounts.csv": "work_id,mounted_utc,mounted_rh_pct\n2021.04,2024-11-05,47\n",
        "rooms.csv": "room,site,name,rh_low_pct,band_since\nnorth,house,North,42,2024-06-01\n",
    }
    run(folder_of(tmp_path / "in", files), "--data", data)
    with Stores.open(Settings(data_dir=data)) as stores:
        (mounting,) = works.work_record(stores.register, "2021.04").mountings
        band = line_at(
            stores.register, "bands.csv", {"room": "north", "band_since": _day("2024-06-01")}
        )
    assert (mounting.mounted_rh_pct, mounting.mounted_temp_c, mounting.by) == (
        47,
        20.5,
        "the bench",
    )
    assert band is not None
    assert (band["rh_low_pct"], band["rh_high_pct"], band["band_owner"]) == (
        42,
        55,
        "collections care",
    )


def _day(text: str) -> object:
    return value_of(REGISTER["mounts.csv"].fields["mounted_utc"], text)


SEMICOLONS = (
    "work_id;mounted_utc;mounted_rh_pct;hinge_coverage;;\n2021.04;2024-11-05;47,5;1;;\n;;;;;\n"
)


@pytest.mark.parametrize(
    "text",
    [
        SEMICOLONS,
        "\ufeff" + SEMICOLONS,
        SEMICOLONS.replace("\n", "\r\n"),
        SEMICOLONS.replace(";", "\t"),
        SEMICOLONS.replace(";", "\t").encode("utf-16"),
        SEMICOLONS.replace("47,5", "47.5"),
        SEMICOLONS.replace(";", ",").replace("47,5", "47.5"),
    ],
    ids=["semicolons", "mark", "line ends", "tabs", "UTF-16", "points", "commas"],
)
def test_a_table_is_read_however_a_spreadsheet_wrote_it(
    data: Path, tmp_path: Path, text: str | bytes
) -> None:
    run(folder_of(tmp_path / "in", {"mounts.csv": text}), "--data", data)
    with Stores.open(Settings(data_dir=data)) as stores:
        (mounting,) = works.work_record(stores.register, "2021.04").mountings
    assert (mounting.mounted_rh_pct, mounting.hinge_coverage) == (47.5, 1.0)


def test_yes_and_words_are_read_in_any_capitals(data: Path, tmp_path: Path) -> None:
    text = FILES["works.csv"].replace(",no,", ",TRUE,").replace("fibre base", "Fibre  Base")
    run(folder_of(tmp_path / "in", {"works.csv": text}), "--data", data)
    with Stores.open(Settings(data_dir=data)) as stores:
        (sheet,) = works.prints(stores.register)
    assert (sheet.on_loan, sheet.paper) == (True, "fibre base")


MOUNT = "work_id,mounted_utc,mounted_rh_pct\n"
REFUSED = [
    ("mounts.csv", MOUNT + '2021.04,2024-11-05,"47,5"\n', "with a decimal point"),
    ("mounts.csv", MOUNT.replace(",", ";") + "2021.04;;47,5\n2021.04;2024-11-05;47.5\n",
     "line 3, column mounted_rh_pct: found '47.5', expected a number with a decimal comma"),
    ("mounts.csv", MOUNT + "2021.04,2024-11-05,47\n2021.04,2024-11-05,48\n",
     "found 2021.04, mounted_utc 2024-11-05 as in line 2, expected a line of its own"),
    ("hangings.csv", "work_id,room,from_utc,to_utc\n2021.04,north,2024-11-01,2024-12-01\n",
     "line 2, column mounted_utc: found mounted 2024-11-05, hung 2024-11-01"),
    ("hangings.csv", "work_id,room,from_utc\n2021.04,north,2025-06-01\n",
     "line 2, column from_utc: found no end in north, 2025-06-01 in north"),
    ("frames.csv", "work_id,frame,closed_utc\n2021.04,D,2024-11-01\n",
     "line 2, column closed_utc: found framed 2024-11-01 before mounted"),
    ("frames.csv", "work_id,frame,closed_utc,spacer_mm\n2021.04,D,2024-11-12,-3\n",
     "column spacer_mm: found '-3', expected a number from 0 to 200 mm"),
    ("frames.csv", "work_id,frame,closed_utc,spacer_mm\n2021.04,D,2024-11-12,900\n",
     "line 2, column spacer_mm: found '900', expected a number from 0 to 200 mm"),
    ("overrides.csv", "work_id,name,value,low,high,origin\n2021.04,half_time_h,0,0,0,guess\n",
     "line 2, column half_time_h: found 0.0 h, expected more than 0 h"),
    ("overrides.csv", "work_id,name,value,low,high,origin\n2021.04,half_life,1,1,1,guess\n",
     "line 2: found the name 'half_life', expected one of alpha_cd"),
    ("rooms.csv", FILES["rooms.csv"].replace("north,", "no/rth,", 1), "without / \\ ? #"),
    ("works.csv", FILES["works.csv"].replace("2021.04", "new"), "a name of at most 80 signs"),
    ("calibrations.csv", FILES["calibrations.csv"].replace("33.2", "93.2"), "line 2"),
    ("works.csv", "title,title\n", "line 1"),
]  # fmt: skip


@pytest.mark.parametrize(("file", "text", "told"), REFUSED)
def test_what_cannot_be_is_refused_at_its_line_and_nothing_kept(
    data: Path, tmp_path: Path, file: str, text: str, told: str
) -> None:
    before = lines(data)
    folder = folder_of(tmp_path / "in", {file: text})
    with pytest.raises(RegisterFileError) as problem:
        run(folder, "--data", data)
    assert told in str(problem.value)
    assert file in str(problem.value)
    assert "nothing was changed" in problem.value.action.lower()
    assert lines(data) == before


@pytest.mark.parametrize(
    ("named", "told"),
    [
        (["nothing-there"], "found nothing there"),
        (["in/notes.txt"], "found the name notes.txt"),
        (["."], "none of the register's files"),
        (["in", "in/works.csv"], "works.csv twice"),
    ],
)
def test_a_path_that_is_none_is_told(tmp_path: Path, named: list[str], told: str) -> None:
    folder_of(tmp_path / "in", {**FILES, "notes.txt": "hello"})
    with pytest.raises(StilltautError, match=told):
        run(*(tmp_path / name for name in named), "--data", tmp_path / "data")


def test_a_written_archive_can_be_read_back(data: Path, tmp_path: Path) -> None:
    runner = CliRunner()
    done = runner.invoke(stilltaut, ["archive", str(tmp_path / "kept"), "--data", str(data)])
    assert done.exit_code == 0
    run(tmp_path / "kept", "--data", tmp_path / "second")
    with (
        Stores.open(Settings(data_dir=data)) as first,
        Stores.open(Settings(data_dir=tmp_path / "second")) as second,
    ):
        for file in REGISTER:
            both = (lines_in(one.register, file) for one in (second, first))
            assert list(next(both)) == list(next(both)), file


def test_a_line_is_corrected_with_its_date_and_taken_out_with_a_reason(data: Path) -> None:
    with Stores.open(Settings(data_dir=data)) as stores:
        register = stores.register
        was = WORK | {"mounted_utc": _day("2024-11-05")}
        new = {"mounted_utc": _day("2024-11-06"), "mounted_rh_pct": 46.0}
        assert correct_line(register, "mounts.csv", was, new, by="B. Person")
        moved = WORK | {"mounted_utc": new["mounted_utc"]}
        assert not correct_line(register, "mounts.csv", moved, new, by="B. Person")
        with pytest.raises(StilltautError, match="mounted_utc 2024-11-05'"):
            correct_line(register, "mounts.csv", was, new, by="B. Person")
        take_out_line(register, "mounts.csv", moved, why="wrong work", by="B. Person")
        assert works.work_record(register, "2021.04").mountings == ()
        newest = audit.of_work(register, "2021.04")[0]
    assert newest.before is not None and newest.before["mounted_rh_pct"] == 46.0
    assert newest.after == {"taken out": "wrong work"}
