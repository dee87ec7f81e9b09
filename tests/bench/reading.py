"""Speed of reading a large export, against bare pyarrow and against pandas."""

import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow.compute as pc
import pyarrow.csv

from service.ingest.read import read_file

READINGS = 1_050_000
FORMAT = "%d/%m/%Y %H:%M:%S"


def run() -> list[str]:
    """Return the lines of the report."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "export.csv"
        write_export(path)
        size = path.stat().st_size / 1e6
        bare = best(lambda: bare_pyarrow(path))
        ours = best(lambda: read_file(path, zone="Europe/Oslo"))
        fixed = best(lambda: read_file(path, zone="UTC+1"))
        pandas = best(lambda: bare_pandas(path), times=1)
    return [
        f"reading {READINGS:,} rows ({size:.0f} MB): {ours:.3f} s, bare pyarrow {bare:.3f} s, "
        f"ratio {ours / bare:.2f} (wanted: at most 1.8); fixed offset {fixed / bare:.2f}",
        f"reading, pandas.read_csv and to_datetime: {pandas:.2f} s, {pandas / ours:.1f} times",
    ]


def write_export(path: Path) -> None:
    """Write a day-first export with decimal commas: ten years at five minutes."""
    rng = np.random.default_rng(1)
    times = pd.date_range("2014-01-01", periods=READINGS, freq="5min").strftime(FORMAT)
    temp = np.char.mod("%.1f", 20 + rng.normal(size=READINGS))
    humidity = np.char.mod("%.1f", 50 + 4 * rng.normal(size=READINGS))
    rows = zip(times, temp, humidity, strict=True)
    body = "\r\n".join(f"{time};{t};{rh}" for time, t, rh in rows).replace(".", ",")
    path.write_bytes(f"Time;Temperature (°C);Humidity (%)\r\n{body}\r\n".encode())


def bare_pyarrow(path: Path) -> object:
    """Read columns and times, nothing more."""
    table = pyarrow.csv.read_csv(
        path,
        parse_options=pyarrow.csv.ParseOptions(delimiter=";"),
        convert_options=pyarrow.csv.ConvertOptions(decimal_point=","),
    )
    return pc.strptime(table.column(0), format=FORMAT, unit="s")


def bare_pandas(path: Path) -> object:
    """Read columns and times as most scripts do."""
    frame = pd.read_csv(path, sep=";", decimal=",")
    return pd.to_datetime(frame.iloc[:, 0], format=FORMAT)


def best(work: Callable[[], object], times: int = 5) -> float:
    """Return the shortest of a few runs [s]."""
    took = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        took.append(time.perf_counter() - start)
    return min(took)


if __name__ == "__main__":
    print("\n".join(run()))
