"""Shared fixtures."""

import contextlib
import logging
import shutil
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
import uvicorn
from hypothesis import settings

from service.answers.museum import Museum
from service.intake.demo import delivered_last_utc, deliveries, sample_folder
from service.intake.taking_in import take_in
from service.notices.follow_up import follow_up_all
from service.register.register_files import load_register
from service.settings import Settings
from service.storage.declared_clock import declare
from service.storage.stores import Stores
from service.web.app import create_app

pytest_plugins = ["fixtures.known_works", "fixtures.registers"]
# A slow machine is no fault of the program: no example has a time limit.
settings.register_profile("stilltaut", deadline=None)
settings.load_profile("stilltaut")
SHARED_DATA = Path(__file__).resolve().parents[2] / "shared" / "data"


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """Folder with third parties' measurements; the test is skipped where it is absent."""
    if not SHARED_DATA.is_dir():
        pytest.skip("the folder shared/data with third parties' measurements is not present")
    return SHARED_DATA


# Enough of the invented museum for every page: three rooms' latest weeks, few draws.
LATEST = (
    "north-1_2026-W10.csv",
    "north-1_2026-W11.csv",
    "north-1_2026-W12.csv",
    "court_2026-W12.csv",
    "east-1_2026.csv",
)
DRAWS = 60


@pytest.fixture(scope="session")
def small_museum(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of a museum that has been taken in and judged; copy it before changing it."""
    folder = tmp_path_factory.mktemp("served") / "museum"
    settings = Settings(data_dir=folder, draws=DRAWS)
    samples = sample_folder()
    with Stores.open(settings) as stores:
        declare(stores.register, delivered_last_utc(samples))
        load_register(stores, samples / "register")
        for one in deliveries(samples):
            if one.file in LATEST:
                take_in(
                    stores,
                    samples / "exports" / one.file,
                    name=one.file,
                    logger_id=next(iter(one.sensors.values())),
                    zone=one.zone,
                    sensors={sensor: logger for sensor, logger in one.sensors.items() if sensor},
                )
        follow_up_all(Museum(stores, settings))
    return folder


@pytest.fixture
def own_museum(small_museum: Path, tmp_path: Path) -> Path:
    """A copy of the small museum that a test may change."""
    return Path(shutil.copytree(small_museum, tmp_path / "museum"))


class Complaints(logging.Handler):
    """Keeps what the program logs as an error while it serves."""

    def __init__(self) -> None:
        super().__init__(logging.ERROR)
        self.said: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.said.append(self.format(record))


@contextlib.contextmanager
def served(folder: Path, **settings: Any) -> Iterator[httpx.Client]:
    """Serve a museum on a free port, in a thread; afterwards nothing may have been complained."""
    app = create_app(Settings(data_dir=folder, draws=DRAWS).with_changes(**settings))
    config = uvicorn.Config(app, port=0, log_level="error", ws="none", lifespan="on")
    server = uvicorn.Server(config)
    complaints = Complaints()
    logging.getLogger().addHandler(complaints)
    logging.getLogger("uvicorn").addHandler(complaints)
    thread = threading.Thread(target=server.run, name="pages")
    thread.start()
    try:
        yield httpx.Client(base_url=f"http://127.0.0.1:{port_of(server)}", timeout=60.0)
    finally:
        server.should_exit = True
        thread.join(60.0)
        logging.getLogger().removeHandler(complaints)
        logging.getLogger("uvicorn").removeHandler(complaints)
    assert complaints.said == []
    assert not thread.is_alive()


def port_of(server: uvicorn.Server) -> int:
    """Return the port a server listens on, once it does."""
    for _ in range(600):
        if server.started:
            return int(server.servers[0].sockets[0].getsockname()[1])
        time.sleep(0.05)
    raise TimeoutError("the pages were not served within half a minute")


@pytest.fixture
def serve() -> Iterator[Callable[..., httpx.Client]]:
    """Serve any museum for the length of a test: ``serve(folder, upload_limit_mb=1)``."""
    with contextlib.ExitStack() as stack:
        yield lambda folder, **settings: stack.enter_context(
            stack.enter_context(served(folder, **settings))
        )


@pytest.fixture(scope="session")
def web(small_museum: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[httpx.Client]:
    """The small museum served for the whole session; for tests that change nothing."""
    copy = shutil.copytree(small_museum, tmp_path_factory.mktemp("web") / "museum")
    with served(Path(copy)) as client, client:
        yield client
