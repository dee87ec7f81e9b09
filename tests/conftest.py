"""Shared fixtures."""

import contextlib
import gc
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx
import pytest
from argon2 import PasswordHasher
from fixtures import answers_at_hand
from fixtures.serving import DRAWS, served
from hypothesis import settings

from service import compiled_cache
from service.accounts import passwords
from service.answers.museum import Museum
from service.intake.demo import delivered_last_utc, deliveries, sample_folder
from service.intake.taking_in import take_in
from service.notices.follow_up import follow_up_all
from service.register.register_files import load_register
from service.settings import Settings
from service.storage.durable import locked
from service.storage.site_clock import declare
from service.storage.stores import Stores

pytest_plugins = [
    "fixtures.known_works",
    "fixtures.object_stores",
    "fixtures.kept_in_a_bucket",
    "fixtures.processes",
    "fixtures.registers",
    "fixtures.scenario_quarter",
    "fixtures.short_museum",
]
# A slow machine is no fault of the program: no example has a time limit.
settings.register_profile("stilltaut", deadline=None)
settings.load_profile("stilltaut")
gc.disable()  # until all tests are collected: a quarter of that time went into it
compiled_cache.settle()  # as the program does when it begins
# Where tests write: in memory where there is room. A disk takes 5 ms to promise one row, and here
# processes are killed, but nobody pulls the plug.
MEMORY, ROOM_B = Path("/dev/shm"), 4 * 2**30
if (
    os.access(MEMORY, os.W_OK)
    and shutil.disk_usage(MEMORY).free > ROOM_B
    and not os.statvfs(MEMORY).f_flag & os.ST_NOEXEC
):
    os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(MEMORY))
# The program is started many times: compiling it anew each time would cost more than all it does.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
SHARED_DATA = Path(__file__).resolve().parents[2] / "shared" / "data"


def pytest_collection_finish() -> None:
    """Look for garbage seldom, and not among what was collected: that stays to the end."""
    gc.enable()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Let files with a slow test come first, so that none is left to one process at the end."""
    slow = {one.path for one in items if one.get_closest_marker("slow")}
    items.sort(key=lambda one: one.path not in slow)


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """Folder with third parties' measurements; the test is skipped where it is absent."""
    if not SHARED_DATA.is_dir():
        pytest.skip("the folder shared/data with third parties' measurements is not present")
    return SHARED_DATA


@pytest.fixture(scope="session", autouse=True)
def own_hasher() -> Iterator[PasswordHasher]:
    """The program's own hasher of passwords; meanwhile a quick one of the same kind stands in."""
    own = passwords._HASHER
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(passwords, "_HASHER", PasswordHasher(time_cost=1, memory_cost=64))
        yield own


# Enough of the invented museum for every page: three rooms' latest weeks, few draws.
LATEST = (
    "north-1_2026-W10.csv",
    "north-1_2026-W11.csv",
    "north-1_2026-W12.csv",
    "court_2026-W12.csv",
    "east-1_2026.csv",
)


@pytest.fixture(scope="session")
def small_museum(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of a museum that has been taken in and judged; copy it before changing it.

    It is made once for all processes that share the tests out among them; in a bucket once for
    each, whose server ends with it.
    """
    base = tmp_path_factory.getbasetemp()
    shared = "PYTEST_XDIST_WORKER" in os.environ and os.environ.get("KEPT_IN") != "bucket"
    folder = (base.parent if shared else base) / "small-museum"
    with locked(folder.with_suffix(".lock")):
        if not folder.exists():
            part = tmp_path_factory.mktemp("small") / "museum"
            take_in_and_judge(part)
            part.rename(folder)
    answers_at_hand.originals[:] = [folder]
    return folder


def take_in_and_judge(folder: Path) -> None:
    """Make the small museum."""
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


@pytest.fixture(scope="session")
def described_museum(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented museum as it is described, before any reading has come in; copy it first."""
    folder = tmp_path_factory.mktemp("described") / "museum"
    with Stores.open(Settings(data_dir=folder)) as stores:
        load_register(stores, sample_folder() / "register")
    return folder


@pytest.fixture
def own_museum(small_museum: Path, tmp_path: Path) -> Path:
    """A copy of the small museum that a test may change."""
    return Path(shutil.copytree(small_museum, tmp_path / "museum"))


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
