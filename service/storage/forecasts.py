"""Forecasts of outdoor air, in a store of their own: what was foretold is never a reading.

``DATA/forecasts/2026-03-15T2300Z_ab12cd34.csv`` holds one forecast under the time of its issue, in
UTC, with the columns time_utc, temp_c, rh_pct and, where they were given, temp_low_c, temp_high_c,
rh_low_pct and rh_high_pct. A new one is put beside the older ones; nothing is ever overwritten. One
that is taken back is moved into ``DATA/forecasts/taken-back``.
"""

import os
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path

import numpy as np
import pandas as pd

from analysis.errors import UnknownNameError
from service.errors import StoreError
from service.storage.durable import make_folder, replace_file, sync_folder

STAMP = "%Y-%m-%dT%H%MZ"
VALUES = ("temp_c", "rh_pct")
ENDS = ("temp_low_c", "temp_high_c", "rh_low_pct", "rh_high_pct")
TAKEN_BACK = "taken-back"


@dataclass(frozen=True)
class Forecast:
    """Outdoor air to come: ``frame`` in the shape of readings, with the ends of its range.

    ``name`` is that of its file, empty while it has none.
    """

    issued_utc: datetime
    frame: pd.DataFrame
    name: str = ""


def keep_forecast(folder: Path, forecast: Forecast) -> Path:
    """Write a forecast and return its file; the same one sent twice is kept once."""
    columns = [name for name in (*VALUES, *ENDS) if name in forecast.frame]
    text = forecast.frame[columns].to_csv(
        index_label="time_utc", date_format="%Y-%m-%dT%H:%M:%SZ", lineterminator="\n"
    )
    path = folder / f"{forecast.issued_utc.astimezone(UTC):{STAMP}}_{_digest(text.encode())}.csv"
    if not path.exists():
        make_folder(folder)
        replace_file(path, text.encode())
    return path


def _digest(data: bytes) -> str:
    return sha256(data).hexdigest()[:8]


def forecast_paths(folder: Path) -> list[Path]:
    """Return the files of all forecasts, the one that was issued last at the end."""
    return sorted(folder.glob("*_*.csv"), key=lambda path: (_issued(path), path.name))


def _issued(path: Path) -> datetime:
    return datetime.strptime(path.name.split("_")[0], STAMP).replace(tzinfo=UTC)


def newest_forecast(folder: Path, now_utc: datetime) -> Forecast | None:
    """Return the forecast that was issued last, not after ``now_utc``; None: there is none."""
    found = [path for path in forecast_paths(folder) if _issued(path) <= now_utc]
    if not found:
        return None
    table = pd.read_csv(found[-1], index_col="time_utc", parse_dates=True)
    index = pd.DatetimeIndex(table.index)
    table.index = index.tz_localize("UTC") if index.tz is None else index.tz_convert("UTC")
    frame = table.astype("float64").assign(flags=np.int32(0))
    return Forecast(_issued(found[-1]), frame, found[-1].name)


def take_forecast_back(folder: Path, name: str) -> None:
    """Put a forecast aside: it is used no more, and its file stays.

    Raises
    ------
    UnknownNameError
        If there is no forecast of that name.
    """
    known = {path.name: path for path in forecast_paths(folder)}
    if name not in known:
        raise UnknownNameError(read="forecasts", name=name, known=known)
    make_folder(folder / TAKEN_BACK)
    os.replace(known[name], folder / TAKEN_BACK / name)
    sync_folder(folder)


def forecast_faults(folder: Path) -> Iterator[StoreError]:
    """Yield a fault for every forecast that does not hold what was written."""
    for path in (*forecast_paths(folder), *forecast_paths(folder / TAKEN_BACK)):
        if _digest(path.read_bytes()) != path.stem.rsplit("_", 1)[-1]:
            yield StoreError(
                read="forecasts",
                where=path.name,
                found="other values than were written",
                expected="a forecast as it was brought in",
                action="Bring this file back from a backup, or take the forecast back on the page "
                "of the days to come and bring it in again.",
            )
