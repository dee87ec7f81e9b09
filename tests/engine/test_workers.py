"""Worker processes come to what threads come to, whoever of them dies; who would not is refused."""

import os
import pickle
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from fixtures.failing_task import fails
from fixtures.serving import DRAWS

from analysis.errors import NotEnoughError, StilltautError, UnknownNameError
from service.answers.museum import Museum
from service.answers.planning import Hung, hanging_of, posteriors
from service.answers.rounds import museum_round
from service.cli import stilltaut
from service.engine import clusters, engines
from service.engine.clusters import Cluster
from service.engine.engines import engine_of
from service.engine.own_workers import OwnWorkers
from service.errors import EngineError
from service.estimates.fingerprints import calculation
from service.jobs import OthersFirstError
from service.settings import Settings
from service.storage.results import Results
from service.storage.stores import Stores

SOON_S = 60.0
TESTS = str(Path(__file__).parents[1])


@pytest.fixture(scope="module")
def cluster() -> Iterator[Cluster]:
    """Two workers of this machine."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PYTHONPATH", TESTS)  # one of the tasks stands there
        found = Cluster(own=2)
        yield found
        found.close()


def same(one: Any, other: Any) -> bool:
    """Tell whether two answers are the same to the bit, however deep."""
    if isinstance(one, np.ndarray):
        alike = one.dtype == other.dtype and one.shape == other.shape
        return bool(alike and one.tobytes() == other.tobytes())
    if is_dataclass(one):
        return type(one) is type(other) and all(
            same(getattr(one, f.name), getattr(other, f.name)) for f in fields(one)
        )
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(same(one[k], other[k]) for k in one)
    if isinstance(one, list | tuple):
        return len(one) == len(other) and all(map(same, one, other))
    return bool(one == other or (one != one and other != other))


def museum_on(engine: str | Cluster, folder: Path, stores: Stores, kept: str = "") -> Museum:
    """Return a museum of which nothing was worked out yet, or nothing that is kept under a name."""
    shutil.rmtree(folder / "results" / kept, ignore_errors=True)
    museum = Museum(stores, Settings(data_dir=folder, draws=DRAWS))
    if isinstance(engine, Cluster):
        museum.engine = engine
    return museum


def hung_on(museum: Museum) -> Hung:
    rooms = [room.room for room in museum.rooms()]
    return hanging_of(museum, room_ids=rooms * 2, draws=20)


@pytest.mark.long
@pytest.mark.slow
def test_every_judgement_is_the_same_to_the_bit(own_museum: Path, cluster: Cluster) -> None:
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        alone = museum_round(museum_on("threads", own_museum, stores))
        assert len(alone.judgements) > 10
        told: list[str] = []
        shared = museum_round(museum_on(cluster, own_museum, stores), tell=told.append)
        assert same(alone, shared)
        assert stores.results.names("checkpoints")
        assert told[0].startswith("room 1 of ")
        taught = posteriors(museum_on("threads", own_museum, stores, "learned"))
        assert any(learned for _room, learned in taught.values())
        assert same(taught, posteriors(museum_on(cluster, own_museum, stores, "learned")))


@pytest.mark.long
def test_a_worker_killed_in_mid_task_changes_nothing(own_museum: Path, cluster: Cluster) -> None:
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        alone = hung_on(museum_on("threads", own_museum, stores, "hanging"))
        killed: list[int] = []
        client = cluster._connected()
        pids = client.run(os.getpid)

        def kill_one_at_work() -> None:
            until = time.monotonic() + SOON_S
            while not killed and time.monotonic() < until:
                busy = [worker for worker, keys in client.processing().items() if keys]
                for worker in busy[:1]:
                    os.kill(pids[worker], signal.SIGKILL)
                    killed.append(pids[worker])

        museum = museum_on(cluster, own_museum, stores, "hanging")
        posteriors(museum)
        killer = threading.Thread(target=kill_one_at_work)
        killer.start()
        shared = hung_on(museum)
        killer.join()
        assert killed
        assert same(alone, shared)


@pytest.mark.long
def test_a_plan_that_gives_way_keeps_what_is_done(own_museum: Path, cluster: Cluster) -> None:
    told: list[str] = []

    def gives_way(words: str) -> None:
        told.append(words)
        if words.startswith("room 2"):
            raise OthersFirstError

    with Stores.open(Settings(data_dir=own_museum)) as stores:
        museum = museum_on(cluster, own_museum, stores, "hanging")
        with pytest.raises(OthersFirstError):
            hanging_of(museum, draws=20, tell=gives_way)
        assert [words.split(":")[0] for words in told[-2:]] == ["room 1 of 3", "room 2 of 3"]
        assert stores.results.names("hanging")


def test_what_goes_wrong_in_a_task_is_said_as_here(tmp_path: Path, cluster: Cluster) -> None:
    with pytest.raises(NotEnoughError, match="room, north: found nothing, expected air") as raised:
        cluster.run(fails, Results(tmp_path), "north")
    assert raised.value.where == "north"


def test_errors_keep_their_parts_from_one_process_to_another() -> None:
    error = UnknownNameError(read="rooms", name="nroth", known=["north"])
    error.in_words = "In Worten"
    again = pickle.loads(pickle.dumps(error))
    assert type(again) is UnknownNameError
    assert str(again) == str(error)
    assert (again.read, again.found, again.in_words) == ("rooms", "the name 'nroth'", "In Worten")


def test_a_worker_that_was_there_in_time_but_calculates_otherwise_is_refused(
    tmp_path: Path, cluster: Cluster, monkeypatch: pytest.MonkeyPatch
) -> None:
    here = dict(calculation()) | {"numba": "0.1"}
    monkeypatch.setattr(clusters, "calculation", lambda: here)
    with pytest.raises(EngineError, match=r"worker tcp://.*: found numba .* \(here 0\.1\)"):
        cluster.run(fails, Results(tmp_path), "task")


def test_a_worker_whose_program_lacks_a_task_is_refused(
    tmp_path: Path, cluster: Cluster, monkeypatch: pytest.MonkeyPatch
) -> None:
    newer = ModuleType("a_newer_module")
    exec("def task(results, given): ...", vars(newer))
    monkeypatch.setitem(sys.modules, "a_newer_module", newer)
    with pytest.raises(EngineError, match=r"found ModuleNotFoundError: .*a_newer_module"):
        cluster.run(newer.task, Results(tmp_path), "task")


def test_a_worker_for_another_processor_is_refused() -> None:
    other = OwnWorkers(1, {"NUMBA_CPU_NAME": "generic"})
    joined = Cluster(other.address)
    try:
        with pytest.raises(EngineError, match=r"processor generic .*NUMBA_CPU_NAME"):
            _ = joined.workers
    finally:
        joined.close()
        other.close()


def test_where_nobody_answers_it_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clusters, "CONNECT_S", 1)
    with pytest.raises(EngineError, match="expected a scheduler with workers that answer"):
        _ = Cluster("tcp://127.0.0.1:9").workers


def test_without_dask_it_is_said_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "service.engine.clusters", None)
    engines._dask.cache_clear()
    with pytest.raises(StilltautError, match=r'pip install "stilltaut\[group\]"'):
        engine_of(Settings(engine="dask"))


def test_an_engine_of_another_name_is_refused() -> None:
    with pytest.raises(EngineError, match="expected threads, dask or dask=ADDRESS"):
        engine_of(Settings(engine="desk"))


@pytest.mark.long
def test_the_command_answers_the_same_through_an_address(
    own_museum: Path, cluster: Cluster
) -> None:
    def said(engine: str) -> tuple[int, str, str]:
        shutil.rmtree(own_museum / "results", ignore_errors=True)
        asked = ["round", "--data", str(own_museum), "--room", "north", "--engine", engine]
        found = CliRunner().invoke(stilltaut, asked, standalone_mode=False)
        assert found.exception is None, found.exception
        return int(found.return_value or 0), found.stdout, found.stderr

    engines._dask.cache_clear()
    alone, shared = said("threads"), said(f"dask={cluster.address}")
    engines._dask(cluster.address).close()
    assert shared[:2] == alone[:2]
    assert alone[2] == ""
    assert "room 1 of " in shared[2]


@pytest.mark.long
def test_a_command_of_its_own_begins_workers_and_ends_them(own_museum: Path) -> None:
    def said(engine: str) -> str:
        shutil.rmtree(own_museum / "results", ignore_errors=True)
        program = [sys.executable, "-m", "service", "round", "--data", str(own_museum)]
        asked = [*program, "--engine", engine]
        return subprocess.run(asked, capture_output=True, text=True, check=False).stdout

    alone = said("threads")
    assert "LOOK FIRST" in alone
    assert said("dask") == alone
