"""Speed of taking a large export in, to the synced stores, against bare pyarrow and pandas."""

import shutil
import tempfile
import time
from pathlib import Path

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


if __name__ == "__main__":
    print("\n".join(run()))
