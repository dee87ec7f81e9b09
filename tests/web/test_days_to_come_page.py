"""The page of the days to come: with the season's weeks, with a forecast, with a what-if."""

from collections.abc import Callable
from pathlib import Path

import httpx
import pandas as pd
import pytest

from service.answers.days_ahead import WHAT_IF
from service.intake.demo import deliveries, sample_folder
from service.intake.taking_in import take_in
from service.settings import Settings
from service.storage.forecasts import newest_forecast
from service.storage.stores import Stores

NEEDED = ("north-1_to-february.csv", "out-1_epoch.csv")
NOW = pd.Timestamp("2026-03-22T21:00", tz="UTC")


@pytest.fixture
def outdoors(own_museum: Path) -> Path:
    """The small museum with a year of the north room and of the air outdoors."""
    samples = sample_folder()
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        for one in deliveries(samples):
            if one.file in NEEDED:
                take_in(
                    stores,
                    samples / "exports" / one.file,
                    name=one.file,
                    logger_id=next(iter(one.sensors.values())),
                    zone=one.zone,
                    sensors={sensor: logger for sensor, logger in one.sensors.items() if sensor},
                )
    return own_museum


def forecast_file(start: pd.Timestamp, hours: int = 120) -> bytes:
    times = pd.date_range(start, periods=hours, freq="h").strftime("%Y-%m-%dT%H:%M:%SZ")
    rows = ["time UTC,temperature °C,relative humidity %"]
    rows += [f"{when},{8 + i % 5},{80 - i % 7}" for i, when in enumerate(times)]
    return "\n".join(rows).encode()


def test_season_then_forecast_then_what_if(
    outdoors: Path, serve: Callable[..., httpx.Client]
) -> None:
    web = serve(outdoors)
    page = web.get("/plan/days", params={"room": "north"})
    assert page.status_code == 200, page.text
    assert "<h1>What will the next days do to North Gallery?</h1>" in page.text
    assert "There is no forecast: this is what an ordinary week of this season" in page.text
    assert "is likely to stay at" in page.text

    readings = sorted((outdoors / "readings").rglob("*.parquet"))
    before = [path.read_bytes() for path in readings]
    sent = web.post(
        "/plan/days-forecast",
        files={"file": ("weather.csv", forecast_file(NOW + pd.Timedelta("1h")))},
    )
    assert sent.status_code == 303
    # A forecast is never a reading: it lies in a store of its own.
    assert [path.read_bytes() for path in readings] == before
    assert sorted((outdoors / "readings").rglob("*.parquet")) == readings
    kept = newest_forecast(outdoors / "forecasts", (NOW + pd.Timedelta("9D")).to_pydatetime())
    assert kept is not None
    assert len(kept.frame) == 120

    page = web.get("/plan/days", params={"room": "north"})
    assert "By the forecast of outdoor air issued" in page.text
    for what in ("off", "door", "45"):
        changed = web.get("/plan/days", params={"room": "north", "what": what})
        assert changed.status_code == 200, changed.text
        assert "What is changed was not learned" in changed.text
        assert f'<p class="answer">{WHAT_IF[what].capitalize()[:8]}' in changed.text
    assert web.get("/plan/days", params={"room": "north", "what": "boil"}).status_code == 404


def test_a_file_that_is_no_forecast_is_refused_and_nothing_is_kept(
    own_museum: Path, serve: Callable[..., httpx.Client]
) -> None:
    web = serve(own_museum)
    only_warmth = (
        b"time UTC,temperature in degrees C\n2026-03-22T23:00:00Z,8.0\n2026-03-23T00:00:00Z,8.5\n"
    )
    sent = web.post("/plan/days-forecast", files={"file": ("weather.csv", only_warmth)})
    assert sent.status_code == 422
    assert not (own_museum / "forecasts").exists()
