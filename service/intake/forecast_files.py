"""A forecast of outdoor air on its way in: read by the rules for any file, never a reading."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from zoneinfo import ZoneInfo

import pandas as pd

from analysis.errors import NotEnoughError, StilltautError
from dashboards.file_lines import Receipt
from dashboards.text import wording
from service.answers.museum import Museum
from service.ingest.read import FileReading, read_as
from service.intake.import_options import ImportOptions
from service.storage.forecasts import Forecast, keep_forecast

BEFORE_FIRST = pd.Timedelta("1h")
# What stands in the place of a logger in the form of a file that is a forecast.
FORECAST = "+forecast"


def is_forecast(options: ImportOptions) -> bool:
    """Return whether a person said that a file is a forecast, not a logger's."""
    return options.logger == FORECAST


def forecast_of(museum: Museum, reading: FileReading, issued: str = "") -> Forecast:
    """Return the forecast in a file: outdoor air to come, and the ends of its range.

    Sensors named low and high are those ends. ``issued`` is when it was made, by the site's clock;
    without it, an hour before its first time, or now where that lies ahead.

    Raises
    ------
    NotEnoughError
        If the file holds no humidity or no temperature, or nothing after it was made.
    StilltautError
        If ``issued`` is no time, or lies ahead.
    """
    frame = _frame(reading)
    made = _issued(museum, issued) if issued else None
    if made is None:
        first = pd.Timestamp(frame.index[0]) - BEFORE_FIRST
        made = min(first, pd.Timestamp(museum.clock())).to_pydatetime()
    if frame.index[-1] <= pd.Timestamp(made):
        raise NotEnoughError(
            read=reading.understanding.file,
            where="the forecast",
            found=f"no time after it was made, {wording.date_time(made, museum.zone)}",
            expected="air to come",
            action="Correct when it was made, or bring the file in as a logger's.",
        )
    return Forecast(made, frame)


def _frame(reading: FileReading) -> pd.DataFrame:
    ends = {end: _sensor(reading.sensors, end) for end in ("low", "high")}
    plain = [key for key in reading.sensors if key not in ends.values()]
    main = reading.sensors[plain[0]] if plain else None
    if main is None or main["rh_pct"].isna().all() or main["temp_c"].isna().all():
        raise NotEnoughError(
            read=reading.understanding.file,
            where="the forecast",
            found="no column of temperature or none of humidity",
            expected="times, temperature and relative humidity of the outdoor air to come",
            action="Export both, with their units in the headings.",
        )
    if len(plain) > 1:
        raise NotEnoughError(
            read=reading.understanding.file,
            where="the forecast",
            found=f"several places: {wording.listed(plain)}",
            expected="the outdoor air of one place, and perhaps its low and high ends",
            action="Export one place.",
        )
    frame = main.drop(columns="flags")
    for end, sensor in ends.items():
        if sensor is not None:
            other = reading.sensors[sensor].reindex(frame.index)
            frame[f"temp_{end}_c"] = other["temp_c"].fillna(frame["temp_c"])
            frame[f"rh_{end}_pct"] = other["rh_pct"].fillna(frame["rh_pct"])
    return frame


def _sensor(sensors: Mapping[str, pd.DataFrame], end: str) -> str | None:
    return next((name for name in sensors if end in name.lower().split()), None)


def _issued(museum: Museum, text: str) -> datetime:
    try:
        made = datetime.fromisoformat(text)
    except ValueError:
        made = None
    if made is not None and made.tzinfo is None:
        made = made.replace(tzinfo=ZoneInfo(museum.zone))
    if made is None or made > museum.clock():
        raise StilltautError(
            read="the form",
            where="when the forecast was made",
            found=repr(text),
            expected="a day and a time that is not ahead, such as 2026-03-22T06:00",
            action="Correct it and look again. Nothing was stored.",
        )
    return made


def take_forecast(
    museum: Museum, name: str, sha256: str, options: ImportOptions, received_utc: datetime
) -> Receipt:
    """Keep a forecast apart from all readings and return its receipt.

    Raises
    ------
    StilltautError
        As `forecast_of`, or if the clock of its times is not known; then nothing is kept.
    """
    choice = replace(options.choice, zone=options.zone or None)
    reading = read_as(name, museum.stores.originals.read(sha256), choice, None)
    reading.require_zone()
    forecast = forecast_of(museum, reading, options.issued)
    keep_forecast(museum.stores, forecast)
    hours = len(forecast.frame)
    return Receipt(
        file_name=name,
        sha256=sha256,
        logger_id="",
        room_id="",
        room_name="",
        rows=hours,
        new=hours,
        already_known=0,
        conflicts=0,
        unreadable=reading.understanding.rows.unreadable,
        flagged=0,
        first_utc=forecast.frame.index[0].to_pydatetime(),
        last_utc=forecast.frame.index[-1].to_pydatetime(),
        received_utc=received_utc,
        forecast_utc=forecast.issued_utc,
    )
