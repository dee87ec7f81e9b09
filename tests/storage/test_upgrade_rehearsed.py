"""A new release tried on a copy of an old folder: upgraded, it answers as before; the old stays.

The old register is a real one of the step before the last: made by the steps up to there, with
the rows of the small museum. The old archive lacks the columns that came since.
"""

import csv
import io
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from fixtures.registers import STEP_BY_STEP
from fixtures.serving import DRAWS

from sample_logs.climate import ZONE
from service.answers.museum import Museum
from service.answers.rounds import museum_round, round_json
from service.register.archive import write_archive
from service.register.restore import restore_into
from service.settings import Settings
from service.storage import migrate
from service.storage.register import make_engine
from service.storage.stores import Stores

pytestmark = pytest.mark.slow
SINCE_OF_THE_LAST_STEP = {
    "sites.csv": ("borrower",),
    "rooms.csv": ("crate",),
    "hangings.csv": ("left_utc", "arrived_utc", "opened_utc"),
}
OLDER = "0019"


def answers(folder: Path) -> dict[str, Any]:
    """Return what the program says of every work in a folder, by the museum's own clock.

    An older register cannot say which of two sites only borrows, and so not whose clock counts.
    """
    settings = Settings(data_dir=folder, draws=DRAWS)
    with Stores.open(settings) as stores:
        museum = Museum(stores, settings)
        return round_json(museum_round(museum), ZONE)


def steps_until(last: str, folder: Path) -> Path:
    """Copy the steps of the schema up to one into a folder of their own."""
    copied = Path(shutil.copytree(migrate.STEPS, folder / "steps"))
    for step in (copied / "versions").glob("[0-9]*.py"):
        if step.name[:4] > last:
            step.unlink()
    return copied


def step_of(file: Path) -> str:
    with closing(sqlite3.connect(file)) as register:
        (step,) = register.execute("SELECT version_num FROM alembic_version").fetchone()
    return str(step)


def rows_from(new: Path, old: Path) -> None:
    """Copy every row of a register into an older one, as far as its columns go."""
    with closing(sqlite3.connect(old)) as register:
        register.execute("PRAGMA foreign_keys=OFF")
        register.execute("ATTACH ? AS new", (str(new),))
        tables = [name for (name,) in register.execute(
            "SELECT name FROM main.sqlite_master WHERE type = 'table'"
            " AND name NOT IN ('alembic_version', 'releases')")]  # fmt: skip
        for table in tables:
            columns = ", ".join(
                f'"{row[1]}"' for row in register.execute(f"PRAGMA main.table_info('{table}')")
            )
            register.execute(f'DELETE FROM main."{table}"')
            register.execute(
                f'INSERT INTO main."{table}" ({columns}) SELECT {columns} FROM new."{table}"'
            )
        register.commit()


@pytest.fixture
def old_folder(small_museum: Path, tmp_path: Path) -> Iterator[Path]:
    """The small museum as the release before left it."""
    folder = Path(shutil.copytree(small_museum, tmp_path / "old"))
    new = folder / "register.db"
    with closing(sqlite3.connect(new)) as register:
        register.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    new.replace(tmp_path / "new.db")
    for beside in folder.glob("register.db-*"):
        beside.unlink()
    engine = make_engine(f"sqlite:///{folder / 'register.db'}")
    STEP_BY_STEP(engine, steps_until(OLDER, tmp_path))
    engine.dispose()
    rows_from(tmp_path / "new.db", folder / "register.db")
    yield folder


def test_a_copy_is_upgraded_and_answers_as_before(
    small_museum: Path, old_folder: Path, tmp_path: Path
) -> None:
    assert step_of(old_folder / "register.db") == OLDER
    copy = tmp_path / "copy"
    shutil.copytree(old_folder, copy)
    said = answers(copy)
    assert step_of(copy / "register.db") == migrate.steps()[-1] != OLDER
    assert said == answers(small_museum)
    assert said["rooms"] and any(room["works"] for room in said["rooms"])
    assert step_of(old_folder / "register.db") == OLDER  # the old one is as it was
    kept = list(copy.glob("register.db.before-*"))
    assert [step_of(one) for one in kept] == [OLDER]


def without(text: str, columns: tuple[str, ...]) -> str:
    """Return a table without some columns, as an earlier release wrote it."""
    rows = list(csv.DictReader(io.StringIO(text)))
    names = [name for name in rows[0] if name not in columns]
    out = io.StringIO()
    writer = csv.DictWriter(out, names, extrasaction="ignore", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


@pytest.mark.long
def test_an_old_archive_comes_back_with_the_same_answers(
    small_museum: Path, tmp_path: Path
) -> None:
    archive = tmp_path / "archive"
    with Stores.open(Settings(data_dir=Path(shutil.copytree(small_museum, tmp_path / "own")))) as s:
        write_archive(s, archive)
    for file, columns in SINCE_OF_THE_LAST_STEP.items():
        path = archive / "register" / file
        whole = path.read_text(encoding="utf-8")
        old = without(whole, columns)
        assert old != whole
        path.write_text(old, encoding="utf-8")
    restore_into(Settings(data_dir=tmp_path / "back"), archive)
    assert answers(tmp_path / "back")["rooms"] == answers(small_museum)["rooms"]
