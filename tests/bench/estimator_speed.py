"""Speed of the estimator: draw-hours a second, a year of works, a week's update, compilation."""

import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np

from analysis.air.room_air import RoomAir
from analysis.results import Floats
from analysis.simulation import estimator
from analysis.simulation.checkpoints import Checkpoint
from analysis.simulation.estimator import simulated_before_record
from analysis.simulation.lead_time import lead_time
from analysis.simulation.pasts import pasts_of
from analysis.simulation.priors import Draws, draw
from analysis.works import Adhesive, Finish, FrameBuild, Panel, Paper, Work

START = datetime(2025, 1, 1, tzinfo=UTC)
DRAWS = 200


def room(days: int) -> RoomAir:
    """Return the air of a made-up room."""
    hour = np.arange(days * 24 + 1, dtype=np.float64)
    rng = np.random.default_rng(0)
    rh = 48 + 9 * np.sin(hour / 1394) + 3 * np.sin(hour / 17) + rng.normal(0, 0.5, len(hour))
    temp = 20.5 + 3 * np.sin(hour / 1394) + 0.7 * np.sin(hour / 3.8)
    return RoomAir(
        np.datetime64("2025-01-01T00", "s") + np.arange(len(hour)) * np.timedelta64(3600, "s"),
        temp,
        rh,
        rh.copy(),
        np.full(len(hour), np.nan),
        np.ones(len(hour), dtype=np.bool_),
        3600.0,
        35.0,
        60.0,
    )


def many(count: int) -> tuple[list[Work], dict[str, Draws]]:
    """Return works of every paper, panel and frame, with their draws."""
    papers, panels, frames = list(Paper), list(Panel), list(FrameBuild)
    works = [
        Work(
            f"W{i}",
            f"Quay {i}",
            1500.0,
            1000.0,
            papers[i % 6],
            Finish.GLOSSY,
            panel=panels[i % 3],
            frame=frames[i % 5],
            adhesive=list(Adhesive)[i % 2],
            mounted_utc=datetime(2024, 3, 1, tzinfo=UTC),
            mounted_rh_pct=45.0,
            closed_utc=datetime(2024, 3, 1, tzinfo=UTC),
            closing_rh_pct=45.0,
            spacer_mm=8.0,
        )
        for i in range(count)
    ]
    return works, {work.work_id: draw(work, DRAWS) for work in works}


def timed(task: Callable[[], object]) -> float:
    """Return the seconds a task takes."""
    return both_times(task)[0]


def both_times(task: Callable[[], object]) -> tuple[float, float]:
    """Return the seconds a task takes, and those of all cores that it keeps busy.

    On a machine that others use as well the second is the steadier of the two.
    """
    began, busy = time.perf_counter(), time.process_time()
    task()
    return time.perf_counter() - began, time.process_time() - busy


def plain_loop(hours: int, draws: int = 25_000) -> float:
    """Return the draw-hours a second of a plain numpy loop: lags, strain, relaxation."""
    rng = np.random.default_rng(0)
    drive = 0.5 + 0.1 * np.sin(np.arange(hours) / 24)
    rates = rng.uniform(0.01, 0.5, (3, draws))
    lags: Floats = np.full((3, draws), 0.5)
    axes = [np.zeros((6, draws)), np.zeros((6, draws))]
    decay, weights = rng.uniform(0.5, 0.99, (6, 1)), rng.uniform(0.02, 0.06, (6, draws))

    def loop() -> None:
        for h in range(hours):
            lags[0] += rates[0] * (drive[h] - lags[0])
            lags[1] += rates[1] * (lags[0] - lags[1])
            lags[2] += rates[2] * (lags[0] - lags[2])
            for v, beta in zip(axes, (4e-3, 8e-3), strict=True):
                imposed = 3e-4 - beta * (lags[1] - 0.5) + 4e-3 * (lags[2] - 0.5)
                mat = np.maximum(imposed, (weights * v).sum(axis=0))
                v[:] = mat + (v - mat) * decay

    return draws * hours / timed(loop)


def compile_seconds() -> float:
    """Return the seconds a fresh machine needs to compile the loop, in a process of its own."""
    code = (
        "import time; from bench.estimator_speed import many, room;"
        "from analysis.simulation import estimator; works, draws = many(1); air = room(2);"
        "began = time.perf_counter(); estimator.run(works, draws, air);"
        "print(time.perf_counter() - began)"
    )
    with tempfile.TemporaryDirectory() as cache:
        environment = {**os.environ, "NUMBA_CACHE_DIR": cache}
        done = subprocess.run(
            [sys.executable, "-c", code],
            env=environment,
            capture_output=True,
            text=True,
            check=True,
        )
    return float(done.stdout)


def long_past(works: list[Work], draws: dict[str, Draws], air: RoomAir) -> tuple[float, float]:
    """Return what works mounted ten years before the record cost over those mounted within it.

    In processor time, first where the years before are lived, then where their end is kept.
    """
    pasts = pasts_of(air)

    def mounted(at: datetime) -> list[Work]:
        return [replace(one, mounted_utc=at, closed_utc=at) for one in works]

    def busy(some: list[Work], since: Checkpoint | None = None) -> float:
        return both_times(
            lambda: estimator.run(some, draws, air, since=since, pasts=pasts, keep_weeks=1,
                                  detail_from=START + timedelta(days=358))
        )[1]  # fmt: skip

    within, old = mounted(START + timedelta(days=1)), mounted(START - timedelta(days=3652))
    busy(within[:2])
    once, cold = busy(within), busy(old)
    return cold / once, busy(old, simulated_before_record(old, draws, pasts)) / once


def run() -> list[str]:
    """Return the lines that `make bench` prints."""
    compiling = compile_seconds()
    works, draws = many(1000)
    year = room(365)
    end = estimator.run(works[:30], draws, year, detail_from=START + timedelta(days=364))
    whole, whole_busy = both_times(
        lambda: estimator.run(
            works, draws, year, detail_from=START + timedelta(days=358), keep_weeks=1
        )
    )
    rate = 1000 * DRAWS * year.hours / whole
    plain = plain_loop(300)
    last_week = estimator.run(
        works, draws, room(7), detail_from=START + timedelta(days=7), keep_weeks=1
    ).last
    fortnight = room(14)
    week, week_busy = both_times(
        lambda: estimator.run(
            works, draws, fortnight, since=last_week, detail_from=last_week.time_utc, keep_weeks=1
        )
    )
    fourteen = room(425)
    thirty = timed(lambda: estimator.run(works[:30], draws, fourteen))
    ahead = timed(lambda: lead_time(works[:30], draws, end.last, year))
    cold, kept = long_past(works[:20], draws, year)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    return [
        f"estimator: {rate / 1e6:.0f} million draw-hours a second, "
        f"{rate / plain:.1f} times a plain numpy loop of a part of it ({plain / 1e6:.0f} million)",
        f"estimator: 1,000 works × {DRAWS} draws × one year hourly in {whole:.1f} s "
        f"({whole_busy:.1f} s of processor); largest memory {memory:.2f} GB",
        f"estimator: a week's update of 1,000 works, with ranges by the hour, in {week:.2f} s "
        f"({week_busy:.2f} s of processor)",
        f"estimator: 30 works × {DRAWS} draws × 14 months, ranges by the hour, in {thirty:.1f} s",
        f"estimator: 20 works mounted ten years before their record, over ones mounted within it: "
        f"{cold:.1f} times when those years are lived, {kept:.1f} where their end is kept",
        f"estimator: lead time of 30 works, both cases, in {ahead:.2f} s",
        f"estimator: compiled once on a fresh machine in {compiling:.0f} s",
    ]


if __name__ == "__main__":
    print("\n".join(run()))
