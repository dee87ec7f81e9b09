"""Two worker processes of one thread against one such, and against threads: the same museum.

``python -m bench worker_processes`` makes a museum of eight rooms, judges the house and plans where
to hang it, each with nothing kept, and prints times by the clock and their ratio: two free cores
are needed. The answers are compared to the bit. ``--rooms 16 --works 200`` makes a larger one.
"""

import argparse
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path

from analysis.works import Finish, Paper, Work
from bench.full_museum import Size, build, on
from service.answers.hanging_jobs import DRAWS
from service.answers.museum import Museum
from service.answers.planning import hanging_of, posteriors
from service.answers.rounds import museum_round
from service.engine.clusters import Cluster
from service.engine.engines import Engine, Threads
from service.settings import Settings
from service.storage.stores import Stores

WANTED = 1.8
NOBODY = Work("", "", 1.0, 1.0, Paper.PLAIN, Finish.MATT)


def judged(museum: Museum) -> str:
    """Judge the house; return what is said of every work, whose unknown kinds have no order."""
    said = museum_round(museum).judgements
    return repr([replace(one, work=NOBODY) for one in said])


def hung(museum: Museum) -> str:
    """Plan where to hang every work, as a job does."""
    return repr(hanging_of(museum, draws=DRAWS).years)


@dataclass(frozen=True)
class Took:
    """Seconds by the clock; of the processor, for who asks and for all workers together."""

    clock_s: float
    asking_s: float
    workers_s: float
    answer: str


def workers_s(engine: Engine) -> float:
    """Return the processor seconds that all workers have used."""
    if not isinstance(engine, Cluster):
        return 0.0
    return float(sum(engine._connected().run(time.process_time).values()))


def took(work: Callable[[Museum], str], engine: Engine, settings: Settings, kept: str = "") -> Took:
    """Return how long something takes.

    What is kept under a name, by default everything, is thrown away first; readings are at hand.
    """
    with Stores.open(settings) as stores:
        museum = Museum(stores, settings)
        museum.engine = engine
        if kept:  # what looks taught is no part of it
            posteriors(museum)
        for room in museum.rooms():
            museum.readings(room.room)
        shutil.rmtree(settings.data_dir / "results" / kept, ignore_errors=True)
        before, begun, own = workers_s(engine), time.perf_counter(), time.process_time()
        found = work(museum)
        clock, own = time.perf_counter() - begun, time.process_time() - own
        return Took(clock, own, workers_s(engine) - before, found)


def compared(settings: Settings) -> Iterator[str]:
    """Yield two lines for judging and two for planning."""
    with closing(Cluster(own=1)) as one, closing(Cluster(own=2)) as two:
        for words, work, kept in (("the house judged", judged, ""), ("hung", hung, "hanging")):
            for warmed in (one, two):
                took(work, warmed, settings, kept)  # each worker has read its compiled code
            load = os.getloadavg()[0]
            single, double = (took(work, each, settings, kept) for each in (one, two))
            threads = took(work, Threads(), settings, kept)
            same = len({single.answer, double.answer, threads.answer}) == 1
            yield (
                f"  {words}: one worker {single.clock_s:.1f} s, two {double.clock_s:.1f} s: ratio "
                f"{single.clock_s / double.clock_s:.2f} (at least {WANTED} wanted); threads "
                f"{threads.clock_s:.1f} s; {'the same to the bit' if same else 'ANSWERS DIFFER'}"
            )
            workers = f"{single.workers_s:.1f} and {double.workers_s:.1f} s"
            yield (
                f"    of the processor: asking {double.asking_s:.1f} s, workers {workers}; "
                f"load before {load:.1f} on {os.cpu_count()} cores"
            )


def run(size: Size | None = None) -> Iterator[str]:
    """Yield the lines."""
    size = size or Size(rooms=8, years=2.0, minutes=15, works=96)
    yield f"Worker processes, {size.rooms} rooms, {size.years:g} years, {size.works} works"
    with tempfile.TemporaryDirectory() as folder:
        build(Path(folder) / "museum", size)
        yield from compared(on(Path(folder) / "museum", size))


def main(arguments: list[str]) -> None:
    """Print the lines for the size asked for."""
    reader = argparse.ArgumentParser(prog="bench.worker_processes")
    reader.add_argument("--rooms", type=int, default=8)
    reader.add_argument("--years", type=float, default=2.0)
    reader.add_argument("--works", type=int, default=96)
    asked = reader.parse_args(arguments)
    for line in run(Size(rooms=asked.rooms, years=asked.years, minutes=15, works=asked.works)):
        print(line, flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
