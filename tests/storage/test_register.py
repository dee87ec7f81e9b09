"""The register's database: steps, upgrades, refusals, transactions, on SQLite and PostgreSQL."""

import shutil
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from fixtures.registers import STEP_BY_STEP
from sqlalchemy import Engine, insert, select, text

from analysis.records.inspection_records import Inspection
from analysis.records.room_records import AgreedBand, Room, Site
from analysis.records.work_records import Print
from analysis.works import Finish, Paper
from service.errors import StoreError
from service.settings import Settings
from service.storage import audit, inspections, migrate, places
from service.storage.records import put_record, values_of
from service.storage.register import Register, make_engine, open_register
from service.storage.schema import InspectionRow, SettingRow, SiteRow, Table, WorkRow
from service.storage.stores import Stores

SITE = Site("main", "The museum", "Europe/Vienna", 171.0)
SEEN = Inspection("W-1", datetime(2026, 3, 2, 10, tzinfo=UTC), 1, by="R. Keeper")

FAILING = """
from alembic import op
revision = "9001"
down_revision = "{last}"
def upgrade():
    op.execute("CREATE TABLE half_done (x INTEGER)")
    op.execute("UPDATE sites SET name = 'changed'")
    op.execute("SELECT nothing FROM nowhere")
"""
WORKING = """
import sqlalchemy as sa
from alembic import op
revision = "9001"
down_revision = "{last}"
def upgrade():
    with op.batch_alter_table("sites") as table:
        table.add_column(sa.Column("country", sa.Text(), nullable=False, server_default="?"))
        table.alter_column("note", nullable=True)
"""


def steps_with(folder: Path, step: str | None = None, *, only: int | None = None) -> Path:
    """Return a folder of steps: ours up to a number of them, with one more at the end."""
    target = folder / "migrations"
    shutil.copytree(migrate.STEPS, target, ignore=shutil.ignore_patterns("__pycache__"))
    for file in sorted((target / "versions").glob("*.py"))[only:] if only else ():
        file.unlink()
    if step is not None:
        last = migrate.steps(target)[-1]
        (target / "versions" / "9001_more.py").write_text(step.format(last=last))
    return target


@pytest.fixture(autouse=True)
def step_by_step(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every register of these tests is made by the steps, none is a copy."""
    monkeypatch.setattr(migrate, "upgrade", STEP_BY_STEP)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "register.db"


@pytest.fixture
def engine(file: Path) -> Iterator[Engine]:
    made = make_engine(f"sqlite:///{file}")
    yield made
    made.dispose()


def test_the_steps_make_exactly_the_tables_of_the_schema(register: Register) -> None:
    with register.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Table.metadata) == []


def test_opening_twice_changes_nothing(file: Path) -> None:
    open_register(f"sqlite:///{file}").close()
    before = file.read_bytes()
    open_register(f"sqlite:///{file}").close()
    assert file.read_bytes() == before
    assert not list(file.parent.glob("*.before-*"))


def test_asking_what_is_pending_never_writes(file: Path, engine: Engine, tmp_path: Path) -> None:
    assert migrate.pending(engine) == migrate.steps()
    assert not file.exists()
    migrate.upgrade(engine, steps_with(tmp_path / "1", only=1))
    engine.dispose()
    before = file.read_bytes()
    assert migrate.pending(engine) == migrate.steps()[1:]
    engine.dispose()
    assert file.read_bytes() == before
    assert not list(file.parent.glob("*.before-*"))


def test_a_register_of_the_first_step_is_upgraded_and_keeps_its_rows(
    file: Path, engine: Engine, tmp_path: Path
) -> None:
    migrate.upgrade(engine, steps_with(tmp_path / "1", only=1))
    with engine.begin() as connection:
        connection.execute(
            text("INSERT INTO sites VALUES ('main', 'The museum', 'Europe/Vienna', 171.0, '')")
        )
    engine.dispose()
    with closing(open_register(f"sqlite:///{file}")) as register:
        assert places.sites(register) == (SITE,)
        assert migrate.pending(register.engine) == []
    aside = file.with_name("register.db.before-0002")
    with closing(sqlite3.connect(aside)) as copy:
        assert copy.execute("SELECT site FROM sites").fetchall() == [("main",)]
        assert copy.execute("SELECT version_num FROM alembic_version").fetchall() == [("0001",)]


def test_inspections_of_the_fifth_step_say_nothing_of_the_edges(
    database: str, tmp_path: Path
) -> None:
    engine = make_engine(database)
    migrate.upgrade(engine, steps_with(tmp_path / "5", only=5))
    work = Print("W-1", "Breakwater", 1500, 1000, Paper.FIBRE_BASE, Finish.MATT)
    with engine.begin() as connection:
        connection.execute(insert(WorkRow).values(**values_of(work)))
        before = values_of(SEEN)
        for later in ("released", "finding", "photograph", "estimate_p"):
            del before[later]
        connection.execute(insert(InspectionRow).values(**before))
    engine.dispose()
    with closing(open_register(database)) as register:
        assert inspections.inspections(register) == (SEEN,)
        for found in (True, False):
            seen = replace(SEEN, released=found)
            assert inspections.put_inspection(register, seen)
            assert inspections.inspections(register) == (seen,)
        (newest,) = audit.trail(register, "inspections", 1)
        assert newest.before is not None and newest.after is not None
        assert (newest.before["released"], newest.after["released"]) == (True, False)


def test_limits_of_notices_among_the_settings_become_a_record_of_their_own(
    database: str, tmp_path: Path
) -> None:
    engine = make_engine(database)
    migrate.upgrade(engine, steps_with(tmp_path / "18", only=18))
    kept = {"silence_days": 3, "quiet_from": "22:00", "air_waits": True, "review_on": "2027-03-01"}
    about = {"from_utc": datetime(2026, 3, 2, 10, tzinfo=UTC), "by": "M. Keeper", "why": "twice"}
    with engine.begin() as connection:
        for name, value in (("notices", kept), ("another", 1)):
            row = {"name": name, "value": {"value": value}, **about}
            connection.execute(insert(SettingRow).values(**row))
    engine.dispose()
    with closing(open_register(database)) as register:
        (held,) = places.notice_settings(register)
        assert [one.name for one in places.settings(register)] == ["another"]
    review = datetime(2027, 3, 1, tzinfo=UTC)
    told = (held.silence_days, held.quiet_h, held.quiet_from, held.air_waits, held.review_on)
    assert told == (3.0, 6.0, "22:00", True, review)
    assert (held.from_utc, held.by, held.why) == tuple(about.values())


def test_a_later_step_rebuilds_a_table_that_others_refer_to(
    register: Register, tmp_path: Path
) -> None:
    put_record(register, SITE)
    put_record(register, Room("north", "main", "North gallery"))
    assert migrate.upgrade(register.engine, steps_with(tmp_path, WORKING)) == ["9001"]
    assert [room.room for room in places.rooms(register)] == ["north"]
    assert register.faults() == []
    with register.reading() as session:
        assert session.scalar(text("SELECT country FROM sites")) == "?"


def test_a_failing_step_leaves_nothing(register: Register, tmp_path: Path) -> None:
    put_record(register, SITE)
    with pytest.raises(StoreError, match="upgrade by step 9001") as told:
        migrate.upgrade(register.engine, steps_with(tmp_path, FAILING))
    assert "The register is as it was" in told.value.action
    assert "half_done" not in migrate.tables(register.engine)
    assert places.sites(register) == (SITE,)
    assert migrate.pending(register.engine) == []


def test_a_register_of_a_newer_release_is_refused_by_name(
    register: Register, tmp_path: Path
) -> None:
    migrate.upgrade(register.engine, steps_with(tmp_path, WORKING))
    with register.engine.begin() as connection:
        connection.execute(text("UPDATE releases SET release = '7.3.0' WHERE step = '9001'"))
    with pytest.raises(StoreError, match=r"step 9001: found a register written by stilltaut 7\.3"):
        migrate.pending(register.engine)
    with pytest.raises(StoreError, match=r"stilltaut 7\.3\.0"):
        migrate.upgrade(register.engine)


def test_a_missing_register_is_made_only_when_asked_for(file: Path) -> None:
    with pytest.raises(StoreError, match="no register"):
        open_register(f"sqlite:///{file}", create=False)
    assert not file.exists()


def test_an_empty_file_is_no_register_and_stays_as_it_is(file: Path) -> None:
    file.write_bytes(b"")
    with pytest.raises(StoreError, match="an empty file in place of a register"):
        open_register(f"sqlite:///{file}")
    assert file.read_bytes() == b""


def test_two_that_open_together_both_get_it(file: Path) -> None:
    problems: list[Exception] = []

    def open_it() -> None:
        try:
            open_register(f"sqlite:///{file}").close()
        except Exception as problem:
            problems.append(problem)

    threads = [threading.Thread(target=open_it) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert problems == []


def test_several_registers_are_made_at_once_each_by_its_own_steps(tmp_path: Path) -> None:
    engines = [make_engine(f"sqlite:///{tmp_path / str(number)}.db") for number in range(4)]
    with ThreadPoolExecutor(len(engines)) as threads:
        assert list(threads.map(migrate.upgrade, engines)) == [migrate.steps()] * len(engines)
    for engine in engines:
        assert sorted(migrate.tables(engine)) == sorted([*Table.metadata.tables, "alembic_version"])
        assert migrate.pending(engine) == []
        engine.dispose()


def test_a_transaction_happens_whole_or_not_at_all(register: Register) -> None:
    with pytest.raises(ZeroDivisionError), register.writing():
        put_record(register, SITE)
        _ = 1 / 0
    assert places.sites(register) == ()
    assert audit.trail(register) == ()


def test_a_room_of_no_site_is_refused_in_five_parts(register: Register) -> None:
    with pytest.raises(StoreError, match="nothing was changed"):
        put_record(register, Room("north", "nowhere", "North gallery"))
    assert places.rooms(register) == ()


def test_a_site_with_rooms_cannot_be_removed_under_them(register: Register) -> None:
    put_record(register, SITE)
    put_record(register, Room("north", "main", "North gallery"))
    with pytest.raises(StoreError), register.writing() as session:
        session.delete(session.scalars(select(SiteRow)).one())
    assert places.sites(register) == (SITE,)


def test_every_change_leaves_a_line_in_the_audit_trail(register: Register) -> None:
    assert put_record(register, SITE, by="R. Keeper")
    assert not put_record(register, SITE, by="R. Keeper")
    changed = Site("main", "The museum", "Europe/Vienna", 180.0)
    assert put_record(register, changed, by="T. Other")
    newest, oldest = audit.trail(register)
    assert (oldest.by, oldest.before, newest.by) == ("R. Keeper", None, "T. Other")
    assert newest.before is not None and newest.after is not None
    assert (newest.before["altitude_m"], newest.after["altitude_m"]) == (171.0, 180.0)
    assert (newest.what, newest.key) == ("sites", "site=main")


def test_times_keep_their_instant_and_come_back_in_utc(register: Register) -> None:
    put_record(register, SITE)
    put_record(register, Room("north", "main", "North gallery"))
    vienna = datetime(2025, 6, 1, 2, 0, tzinfo=timezone(timedelta(hours=2)))
    put_record(register, AgreedBand("north", "loans", 45, 55, band_since=vienna))
    (band,) = places.bands(register, "north")
    assert band.band_since == datetime(2025, 6, 1, tzinfo=UTC)
    assert band.band_since is not None and band.band_since.tzinfo is UTC
    naive = AgreedBand("north", "loans", band_since=datetime(2025, 6, 1))  # noqa: DTZ001
    with pytest.raises(Exception, match="without a zone"):
        put_record(register, naive)


def test_the_newest_band_that_has_begun_holds(register: Register) -> None:
    put_record(register, SITE)
    put_record(register, Room("north", "main", "North gallery"))
    spring, autumn = datetime(2025, 3, 1, tzinfo=UTC), datetime(2025, 9, 1, tzinfo=UTC)
    put_record(register, AgreedBand("north", "later", 45, 55, band_since=autumn))
    put_record(register, AgreedBand("north", "earlier", 40, 60, band_since=spring))
    names = [
        None if band is None else band.band_name
        for day in (-1, 0, 200)
        for band in [places.band_at(register, "north", spring + timedelta(days=day))]
    ]
    assert names == [None, "earlier", "later"]


def test_the_steps_that_files_name_are_those_that_alembic_walks() -> None:
    walked = ScriptDirectory(str(migrate.STEPS)).walk_revisions()
    assert migrate.steps() == [script.revision for script in walked][::-1]


def test_a_register_that_is_up_to_date_is_opened_without_alembic(tmp_path: Path) -> None:
    """Its eleven megabytes and a tenth of a second are for the day of an upgrade."""
    Stores.open(Settings(data_dir=tmp_path)).close()
    code = (
        "import sys; from service.settings import Settings; "
        "from service.storage.stores import Stores; from pathlib import Path; "
        f"Stores.open(Settings(data_dir=Path({str(tmp_path)!r}))).close(); "
        "print('alembic' in sys.modules)"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == "False"
