"""Forecasts of outdoor air, in a store of their own: what was foretold is never a reading.

``DATA/forecasts/2026-03-15T2300Z_ab12cd34.csv`` holds one forecast under the time of its issue, in
UTC, with the columns time_utc, temp_c, rh_pct and, where they were given, temp_low_c, temp_high_c,
rh_low_pct and rh_high_pct. A new one is put beside the older ones; nothing is ever overwritten.
"""

from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path

import numpy as np
import pandas as pd

from service.storage.durable import make_folder, replace_file

STAMP = "%Y-%m-%dT%H%MZ"
VALUES = ("temp_c", "rh_pct")
ENDS = ("temp_low_c", "temp_high_c", "rh_low_pct", "rh_high_pct")


@dataclass(frozen=True)
class Forecast:
    """Outdoor air to come: ``frame`` in the shape of readings, with the ends of its range."""

    issued_utc: datetime
    frame: pd.DataFrame


def keep_forecast(folder: Path, forecast: Forecast) -> Path:
    """Write a forecast and return its file; the same one sent twice is kept once."""
    columns = [name for name in (*VALUES, *ENDS) if name in forecast.frame]
    text = forecast.frame[columns].to_csv(
        index_label="time_utc", date_format="%Y-%m-%dT%H:%M:%SZ", lineterminator="\n"
    )
    digest = sha256(text.encode()).hexdigest()[:8]
    path = folder / f"{forecast.issued_utc.astimezone(UTC):{STAMP}}_{digest}.csv"
    if not path.exists():
        make_folder(folder)
        replace_file(path, text.encode())
    return path


def newest_forecast(folder: Path, now_utc: datetime) -> Forecast | None:
    """Return the forecast that was issued last, not after ``now_utc``; None: there is none."""
    found = []
    for path in folder.glob("*_*.csv"):
        issued = datetime.strptime(path.name.split("_")[0], STAMP).replace(tzinfo=UTC)
        if issued <= now_utc:
            found.append((issued, path))
    if not found:
        return None
    issued, path = max(found)
    table = pd.read_csv(path, index_col="time_utc", parse_dates=True)
    index = pd.DatetimeIndex(table.index)
    table.index = index.tz_localize("UTC") if index.tz is None else index.tz_convert("UTC")
    return Forecast(issued, table.astype("float64").assign(flags=np.int32(0)))
