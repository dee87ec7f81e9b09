"""Forecasts of outdoor air, in a store of their own: what was foretold is never a reading.

``forecasts/2026-03-15T2300Z_ab12cd34.csv`` holds one forecast under the time of its issue, in
UTC, with the columns time_utc, temp_c, rh_pct and, where they were given, temp_low_c, temp_high_c,
rh_low_pct and rh_high_pct. A new one is put beside the older ones; nothing is ever overwritten. One
that is taken back is moved into ``forecasts/taken-back``.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from io import BytesIO
from pathlib import PurePosixPath

import numpy as np
import pandas as pd

from analysis.errors import UnknownNameError
from service.errors import StoreError
from service.storage.objects.named import Objects
from service.storage.stores import Stores
from service.storage.versions import raise_numbers

STAMP = "%Y-%m-%dT%H%MZ"
VALUES = ("temp_c", "rh_pct")
ENDS = ("temp_low_c", "temp_high_c", "rh_low_pct", "rh_high_pct")
TAKEN_BACK = "taken-back"
SCOPE = "forecasts"  # under which the register numbers their changes


@dataclass(frozen=True)
class Forecast:
    """Outdoor air to come: ``frame`` in the shape of readings, with the ends of its range.

    ``name`` is that of its file, empty while it has none.
    """

    issued_utc: datetime
    frame: pd.DataFrame
    name: str = ""


def keep_forecast(stores: Stores, forecast: Forecast) -> str:
    """Keep a forecast and return its name; the same one sent twice is kept once."""
    stores.register.require_writable()
    columns = [name for name in (*VALUES, *ENDS) if name in forecast.frame]
    text = forecast.frame[columns].to_csv(
        index_label="time_utc", date_format="%Y-%m-%dT%H:%M:%SZ", lineterminator="\n"
    )
    data = text.encode()
    name = f"{forecast.issued_utc.astimezone(UTC):{STAMP}}_{_digest(data)}.csv"
    if not stores.forecasts.exists(name):
        stores.forecasts.put({name: lambda: data})
    _note_changed(stores)
    return name


def _note_changed(stores: Stores) -> None:
    """Give the forecasts a new number, so that no page is taken for one with the newest."""
    with stores.register.writing() as session:
        raise_numbers(session, {SCOPE})


def _digest(data: bytes) -> str:
    return sha256(data).hexdigest()[:8]


def forecast_names(forecasts: Objects) -> list[str]:
    """Return the names of all forecasts, the one that was issued last at the end."""
    named = (found.name for found in forecasts.listed())
    return sorted(
        (name for name in named if "/" not in name and "_" in name and name.endswith(".csv")),
        key=lambda name: (_issued(name), name),
    )


def _issued(name: str) -> datetime:
    return datetime.strptime(name.split("_")[0], STAMP).replace(tzinfo=UTC)


def newest_forecast(forecasts: Objects, now_utc: datetime) -> Forecast | None:
    """Return the forecast that was issued last, not after ``now_utc``; None: there is none."""
    found = [name for name in forecast_names(forecasts) if _issued(name) <= now_utc]
    if not found:
        return None
    content = BytesIO(forecasts.get(found[-1]))
    table = pd.read_csv(content, index_col="time_utc", parse_dates=True)
    index = pd.DatetimeIndex(table.index)
    table.index = index.tz_localize("UTC") if index.tz is None else index.tz_convert("UTC")
    frame = table.astype("float64").assign(flags=np.int32(0))
    return Forecast(_issued(found[-1]), frame, found[-1])


def take_forecast_back(stores: Stores, name: str) -> None:
    """Put a forecast aside: it is used no more, and stays among those taken back.

    Raises
    ------
    UnknownNameError
        If there is no forecast of that name.
    """
    stores.register.require_writable()
    forecasts = stores.forecasts
    known = forecast_names(forecasts)
    if name not in known:
        raise UnknownNameError(read="forecasts", name=name, known=known)
    content = forecasts.get(name)
    forecasts.put({f"{TAKEN_BACK}/{name}": lambda: content})
    forecasts.remove(name)
    _note_changed(stores)


def forecast_faults(forecasts: Objects) -> Iterator[StoreError]:
    """Yield a fault for every forecast that does not hold what was written."""
    back = forecasts.under(TAKEN_BACK)
    for objects in (forecasts, back):
        for name in forecast_names(objects):
            if _digest(objects.get(name)) != PurePosixPath(name).stem.rsplit("_", 1)[-1]:
                yield StoreError(
                    read="forecasts",
                    where=name,
                    found="other values than were written",
                    expected="a forecast as it was brought in",
                    action="Bring this file back from a backup, or take the forecast back on the "
                    "page of the days to come and bring it in again.",
                )
