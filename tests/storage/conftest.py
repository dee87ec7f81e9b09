"""Registers on both databases; the PostgreSQL one runs on a real server started here."""

import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import text

from service.settings import Settings
from service.storage.register import Register, make_engine, open_register
from service.storage.stores import Stores

SERVERS = sorted(Path("/usr/lib/postgresql").glob("*/bin"))


@pytest.fixture
def stores(tmp_path: Path) -> Iterator[Stores]:
    with Stores.open(Settings(data_dir=tmp_path / "data")) as opened:
        yield opened


@pytest.fixture(scope="session")
def postgresql() -> Iterator[str]:
    """URL of a database on a server that is ours and ends with the session."""
    if not SERVERS:
        pytest.skip("no PostgreSQL server under /usr/lib/postgresql")
    who = unprivileged_user()
    folder = Path(tempfile.mkdtemp(prefix="stilltaut-pg-"))
    if who is not None:
        shutil.chown(folder, who)
    data = folder / "data"
    subprocess.run(
        [SERVERS[-1] / "initdb", "-D", data, "-U", "keeper", "-A", "trust", "-N"],
        user=who,
        check=True,
        capture_output=True,
        cwd="/",
    )
    server = subprocess.Popen(
        [SERVERS[-1] / "postgres", "-D", data, "-k", folder, "-c", "listen_addresses=", "-F"],
        user=who,
        stderr=subprocess.DEVNULL,
        cwd="/",
    )
    try:
        wait_until_ready(folder)
        yield f"postgresql://keeper@/postgres?host={folder}"
    finally:
        server.send_signal(signal.SIGINT)  # without waiting for clients
        server.wait(20)
        shutil.rmtree(folder)


def unprivileged_user() -> str | None:
    """Return whom to run the server as: it refuses root. None: as we are."""
    if os.getuid() != 0:
        return None
    names = {entry.pw_name for entry in pwd.getpwall()}
    for name in ("postgres", "nobody"):
        if name in names:
            return name
    pytest.skip("running as root, and there is no unprivileged user to run PostgreSQL as")


def wait_until_ready(folder: Path) -> None:
    for _ in range(200):
        asked = subprocess.run(
            [SERVERS[-1] / "pg_isready", "-h", folder, "-q"], check=False, capture_output=True
        )
        if asked.returncode == 0:
            return
        time.sleep(0.05)
    raise TimeoutError("the PostgreSQL server did not come up in ten seconds")


@pytest.fixture
def empty_database(postgresql: str) -> str:
    """URL of a PostgreSQL database with nothing in it."""
    engine = make_engine(postgresql)
    with engine.begin() as connection:
        connection.execute(text("DROP SCHEMA public CASCADE"))
        connection.execute(text("CREATE SCHEMA public"))
    engine.dispose()
    return postgresql


@pytest.fixture(params=["sqlite", "postgresql"])
def database(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """URL of a database with nothing in it, once of each kind."""
    if request.param == "postgresql":
        return str(request.getfixturevalue("empty_database"))
    return f"sqlite:///{tmp_path / 'register.db'}"


@pytest.fixture
def register(database: str) -> Iterator[Register]:
    """An empty register, once on each database."""
    opened = open_register(database)
    yield opened
    opened.close()
