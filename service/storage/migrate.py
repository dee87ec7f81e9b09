"""Bringing a register up to this release, step by step (Alembic).

Asking what is pending never writes. All pending steps run in one transaction: a step that fails
leaves the register as it was. A SQLite file is copied aside first. A register that a newer
release has written is refused by name.
"""

import importlib.metadata
import os
import sqlite3
import threading
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Connection, Engine, func, inspect, select, text

from service.errors import StoreError
from service.storage.durable import locked, sync_folder
from service.storage.schema import ReleaseRow

STEPS = Path(__file__).parent / "migrations"
# Any fixed number: two processes that start together wait for each other on it.
POSTGRESQL_LOCK = 5711
# Alembic keeps in its own module which register it works on: threads must not do so side by side.
_ONE_AT_A_TIME = threading.Lock()


def release() -> str:
    """Return the release of this program."""
    return importlib.metadata.version("stilltaut")


def steps(folder: Path = STEPS) -> list[str]:
    """Return the names of all steps of this release, oldest first: their files begin with them.

    Alembic, which is asked only where a step is to be carried out, finds the same (tested).
    """
    return sorted(file.name.split("_")[0] for file in (folder / "versions").glob("*.py"))


def sqlite_file(engine: Engine) -> Path | None:
    """Return the file of a SQLite register, or None."""
    name = engine.url.database
    return Path(name) if engine.dialect.name == "sqlite" and name else None


def pending(engine: Engine, folder: Path = STEPS) -> list[str]:
    """Return the steps that the register lacks, oldest first. Writes nothing.

    Raises
    ------
    StoreError
        If a newer release has written the register.
    """
    file = sqlite_file(engine)
    if file is not None and not file.exists():
        return steps(folder)
    with engine.connect() as connection:
        return _pending(connection, folder)


def _pending(connection: Connection, folder: Path) -> list[str]:
    noted = inspect(connection).has_table("alembic_version")
    done = connection.scalar(text("SELECT version_num FROM alembic_version")) if noted else None
    known = steps(folder)
    if done is None:
        return known
    if done not in known:
        raise _newer(connection, done, known)
    return known[known.index(done) + 1 :]


def _newer(connection: Connection, done: str, known: list[str]) -> StoreError:
    writer = connection.scalar(select(ReleaseRow.release).where(ReleaseRow.step == done))
    return StoreError(
        read="register",
        where=f"schema step {done}",
        found=f"a register written by stilltaut {writer or '(release not noted)'}",
        expected=f"at most step {known[-1]}, which stilltaut {release()} knows",
        action="Install that release or a newer one; this one has changed nothing.",
    )


def upgrade(engine: Engine, folder: Path = STEPS) -> list[str]:
    """Carry out the pending steps and return their names.

    Raises
    ------
    StoreError
        If a newer release has written the register, or a step fails; nothing is changed then.
    """
    file = sqlite_file(engine)
    if file is None:
        return _upgrade(engine, folder)
    with locked(file.with_name(file.name + ".lock")):
        missing = pending(engine, folder)
        if missing and file.exists():
            set_aside(file, file.with_name(f"{file.name}.before-{missing[0]}"))
        return _upgrade(engine, folder) if missing else []


def _upgrade(engine: Engine, folder: Path) -> list[str]:
    with engine.connect().execution_options(writes=True) as connection:
        if engine.dialect.name == "sqlite":
            # Rebuilding a table must not cascade into its children; checked before the commit.
            connection.connection.execute("PRAGMA foreign_keys=OFF")
        try:
            with connection.begin():
                return _run(connection, folder)
        finally:
            if engine.dialect.name == "sqlite":
                connection.connection.execute("PRAGMA foreign_keys=ON")


def _run(connection: Connection, folder: Path) -> list[str]:
    if connection.dialect.name == "postgresql":
        connection.execute(select(func.pg_advisory_xact_lock(POSTGRESQL_LOCK)))
    missing = _pending(connection, folder)
    if not missing:
        return []
    from alembic import command  # most openings have no step to take
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(folder))
    config.attributes["connection"] = connection
    try:
        with _ONE_AT_A_TIME:
            command.upgrade(config, "head")
        _require_sound_references(connection)
    except StoreError:
        raise
    except Exception as problem:
        raise _failed(missing, str(problem).splitlines()[0]) from problem
    now = datetime.now(UTC)
    connection.execute(
        ReleaseRow.__table__.insert(),  # type: ignore[attr-defined]
        [{"step": step, "release": release(), "at_utc": now} for step in missing],
    )
    return missing


def _require_sound_references(connection: Connection) -> None:
    if connection.dialect.name != "sqlite":
        return
    broken = connection.execute(text("PRAGMA foreign_key_check")).all()
    if broken:
        raise _failed([], f"{len(broken)} rows of {broken[0][0]} without their {broken[0][2]}")


def _failed(missing: list[str], found: str) -> StoreError:
    return StoreError(
        read="register",
        where="upgrade" + (f" by step {', '.join(missing)}" if missing else ""),
        found=found,
        expected="every step to succeed",
        action="The register is as it was. Keep using the earlier release and report this line.",
    )


def set_aside(file: Path, copy: Path) -> None:
    """Copy a SQLite register, with what its log still holds, to a synced file beside it."""
    part = copy.with_name(copy.name + ".part")
    part.unlink(missing_ok=True)
    with closing(sqlite3.connect(file)) as source, closing(sqlite3.connect(part)) as target:
        source.backup(target)
    os.replace(part, copy)
    sync_folder(copy.parent)


def tables(engine: Engine) -> list[str]:
    """Return the names of the tables there are."""
    return inspect(engine).get_table_names()
