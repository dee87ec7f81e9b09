"""Speed of taking a large export in, to the synced stores, against bare pyarrow and pandas.

``python -m bench.taking_in 2000`` tells how much memory files of up to so many MB need.
"""

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv

from bench.reading import READINGS, bare_pandas, bare_pyarrow, best, write_export
from service.intake.taking_in import take_in
from service.settings import Settings
from service.storage.stores import Stores


def run() -> list[str]:
    """Return the lines of the report."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "export.csv"
        write_export(path)
        bare = best(lambda: bare_pyarrow(path))
        ours = min(taking_in(path, Path(folder) / "data") for _ in range(3))
        pandas = best(lambda: bare_pandas(path), times=1)
        merge = min(merging(Path(folder) / "data", Path(folder) / "again") for _ in range(3))
    return [
        f"taking in {READINGS:,} rows, to the synced store: {ours:.3f} s, bare pyarrow {bare:.3f} "
        f"s, ratio {ours / bare:.2f} (wanted: at most 2.5); pandas alone {pandas / ours:.1f} times",
        f"merging {READINGS:,} readings into an empty store, 120 months synced: {merge:.3f} s",
    ]


def taking_in(path: Path, folder: Path) -> float:
    """Return how long a file takes into stores that hold nothing yet [s]."""
    shutil.rmtree(folder, ignore_errors=True)
    with Stores.open(Settings(data_dir=folder)) as stores:
        start = time.perf_counter()
        take_in(stores, path, name=path.name, logger_id="n1", zone="UTC+1")
        return time.perf_counter() - start


def merging(data: Path, folder: Path) -> float:
    """Return how long the readings in ``data`` take into an empty store [s]."""
    with Stores.open(Settings(data_dir=data)) as stores:
        frame = stores.readings.load("n1")
    shutil.rmtree(folder, ignore_errors=True)
    with Stores.open(Settings(data_dir=folder)) as stores:
        start = time.perf_counter()
        stores.readings.merge("n1", frame)
        return time.perf_counter() - start


SIZES_MB = (35, 200, 1000, 2000)
FIRST_S, STEP_S, AT_ONCE = 946_684_800, 10, 1_000_000
ROOT = Path(__file__).parents[2]
TAKE_IN = """
import sys
from pathlib import Path
from service.intake.taking_in import take_in
from service.settings import Settings
from service.storage.stores import Stores
path, folder = map(Path, sys.argv[1:])
with Stores.open(Settings(data_dir=folder)) as stores:
    print(take_in(stores, path, name=path.name, logger_id="n1", zone="UTC+1").rows)
"""


def memory(most_mb: int) -> Iterator[str]:
    """Yield how much memory files of several sizes need, each in a process of its own."""
    for size_mb in (size for size in SIZES_MB if size <= most_mb):
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "long.csv"
            write_long(path, size_mb)
            written_mb = path.stat().st_size / 1e6
            start = time.perf_counter()
            rows, peak_mb = _alone(path, Path(folder) / "data")
            took_s = time.perf_counter() - start
        yield f"{written_mb:,.0f} MB, {rows:,} rows: peak {peak_mb:.0f} MB, {took_s:.0f} s"


def _alone(path: Path, folder: Path) -> tuple[int, float]:
    """Take a file in in a process of its own; return its rows and the most memory it held [MB]."""
    command = [sys.executable, "-c", TAKE_IN, str(path), str(folder)]
    with subprocess.Popen(
        command, cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)}, stdout=subprocess.PIPE
    ) as process:
        assert process.stdout is not None
        rows = int(process.stdout.read())
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    return rows, usage.ru_maxrss / 1000


def write_long(path: Path, size_mb: int) -> None:
    """Write an export of one logger, ten seconds apart, of so many megabytes."""
    rng, begun = np.random.default_rng(1), 0
    with path.open("wb") as file:
        file.write("Time;Temperature (°C);Humidity (%)\n".encode())
        while file.tell() < size_mb * 1_000_000:
            seconds = FIRST_S + STEP_S * (begun + np.arange(AT_ONCE))
            times = pc.strftime(pa.array(seconds).cast(pa.timestamp("s")), "%d/%m/%Y %H:%M:%S")
            temp = pa.array(np.round(20 + rng.normal(size=AT_ONCE), 1))
            rh = pa.array(np.round(50 + 4 * rng.normal(size=AT_ONCE), 1))
            pyarrow.csv.write_csv(
                pa.table({"time": times, "temp": temp, "rh": rh}),
                file,
                pyarrow.csv.WriteOptions(include_header=False, delimiter=";", quoting_style="none"),
            )
            begun += AT_ONCE


def main(arguments: Sequence[str]) -> None:
    """Tell the speed, or the memory that files of up to so many MB need."""
    for line in memory(int(arguments[0])) if arguments else run():
        print(line, flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
