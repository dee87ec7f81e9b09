"""The museum → the days to come of a room and of its works, for the page."""

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import pandas as pd

from analysis.air.moist_air import vapour_pressure_pa
from analysis.errors import NotEnoughError, UnknownNameError
from analysis.forecast.room_ahead import RoomAhead, ordinary_week, room_ahead
from analysis.forecast.transfer import Transfer, hourly, learn_transfer
from analysis.forecast.what_if import door_open, plant_off, set_point
from analysis.forecast.work_ahead import WorkAhead, works_ahead
from analysis.results import Floats
from service.answers.museum import Museum
from service.estimates.assessments import Assessed
from service.ingest.read import read_bytes
from service.storage.forecasts import Forecast, keep_forecast, newest_forecast

LATELY = timedelta(days=40)
EVENING = (timedelta(hours=18), timedelta(hours=21))
WHAT_IF = {
    "": "as it is run now",
    "off": "with the plant off from now on",
    "door": "with an outer door open this evening, 18:00 to 21:00",
    "45": "with a set point of 45 %RH from now on",
}


@dataclass(frozen=True)
class DaysAhead:
    """A room's next days, its works in them, and what they rest on.

    ``usual`` is the room with plant as it is run now, beside which a what-if is shown; ``issued``
    is when the forecast was made, None where the weeks of the season stand in.
    """

    room_name: str
    what_if: str
    ahead: RoomAhead
    usual: RoomAhead
    works: dict[str, tuple[str, WorkAhead]]
    record_days: float
    issued: datetime | None


def take_forecast(museum: Museum, name: str, data: bytes) -> Forecast:
    """Read a forecast file by the general rules for files, and keep it apart from all readings.

    Columns or sensors named low and high are the ends of its range. It counts as issued an hour
    before its first time.

    Raises
    ------
    NotEnoughError
        If the file holds no humidity or no temperature.
    """
    reading = read_bytes(name, data, zone=museum.zone)
    ends = {end: _sensor(reading.sensors, end) for end in ("low", "high")}
    named = {sensor for sensor in ends.values() if sensor is not None}
    plain = [key for key in reading.sensors if key not in named]
    main = reading.sensors[plain[0]] if plain else None
    if main is None or main["rh_pct"].isna().all() or main["temp_c"].isna().all():
        raise NotEnoughError(
            read=name,
            where="the forecast",
            found="no column of temperature or none of humidity",
            expected="times, temperature and relative humidity of the outdoor air to come",
            action="Export both, with their units in the headings.",
        )
    frame = main.drop(columns="flags")
    for end, sensor in ends.items():
        if sensor is not None:
            other = reading.sensors[sensor].reindex(frame.index)
            frame[f"temp_{end}_c"] = other["temp_c"].fillna(frame["temp_c"])
            frame[f"rh_{end}_pct"] = other["rh_pct"].fillna(frame["rh_pct"])
    issued = (pd.Timestamp(frame.index[0]) - pd.Timedelta("1h")).to_pydatetime()
    forecast = Forecast(issued, frame)
    keep_forecast(museum.stores.folder / "forecasts", forecast)
    return forecast


def _sensor(sensors: dict[str, pd.DataFrame], end: str) -> str | None:
    return next((name for name in sensors if end in name.lower().split()), None)


def days_ahead(museum: Museum, room_id: str, what_if: str = "") -> DaysAhead:
    """Return the days to come of a room and of the works that hang in it.

    Raises
    ------
    UnknownNameError
        If there is no such room or no such what-if.
    NotEnoughError
        If there is no outdoor record, or too little of both.
    """
    if what_if not in WHAT_IF:
        raise UnknownNameError(read="what if", name=what_if, known=WHAT_IF)
    room, outdoor = museum.room(room_id), museum.outdoor()
    if outdoor is None:
        raise NotEnoughError(
            read="the days to come",
            where="outdoor air",
            found="no outdoor record",
            expected="readings of an outdoor logger, or of a weather service, beside the room's",
            action="Bring in outdoor air as a logger placed outdoors.",
        )
    frame = museum.readings(room_id).frame
    now = _last_measured(frame, outdoor, museum.now())
    transfer = museum.cached(
        ("transfer", room_id), lambda: learn_transfer(frame, outdoor, museum.zone), rooms=[room_id]
    )
    forecast = newest_forecast(museum.stores.folder / "forecasts", now)
    usual, issued = _usual(transfer, frame, outdoor, forecast, now)
    ahead = _changed(museum, usual, outdoor, forecast, what_if, now)
    works = _works(museum.assessed(room_id, now), ahead)
    return DaysAhead(room.name, what_if, ahead, usual, works, transfer.days, issued)


def _last_measured(frame: pd.DataFrame, outdoor: pd.DataFrame, now: datetime) -> datetime:
    """Return the last hour for which both room and outdoors were read: the days begin there."""
    ends = [one.index[one.index <= pd.Timestamp(now)] for one in (frame, outdoor)]
    if any(end.empty for end in ends):
        raise NotEnoughError(
            read="the days to come",
            where="the record",
            found="no reading of the room or of outdoors",
            expected="readings of both",
            action="Bring in the readings of the room and of outdoor air.",
        )
    last: datetime = min(end[-1] for end in ends).floor("h").to_pydatetime()
    return last


def _usual(
    transfer: Transfer,
    frame: pd.DataFrame,
    outdoor: pd.DataFrame,
    forecast: Forecast | None,
    now: datetime,
) -> tuple[RoomAhead, datetime | None]:
    """Return the days by the newest forecast that still reaches ahead, else by the season."""
    lately = pd.Timestamp(now - LATELY)
    if forecast is not None and forecast.frame.index[-1] > pd.Timestamp(now):
        found = room_ahead(transfer, frame.loc[lately:], outdoor.loc[lately:], forecast.frame, now)
        return found, forecast.issued_utc
    return ordinary_week(transfer, frame.loc[lately:], outdoor, now), None


def _changed(
    museum: Museum,
    usual: RoomAhead,
    outdoor: pd.DataFrame,
    forecast: Forecast | None,
    what_if: str,
    now: datetime,
) -> RoomAhead:
    if what_if == "45":
        return set_point(usual, 45.0, now)
    if not what_if:
        return usual
    moisture = _outdoor_moisture_pa(usual, outdoor, forecast)
    if what_if == "off":
        return plant_off(usual, moisture, now)
    here = pd.Timestamp(now).tz_convert(museum.zone)
    evening = here.normalize() + pd.Timedelta(days=1 if here.hour >= 18 else 0)
    opens, closes = ((evening + at).tz_convert("UTC").to_pydatetime() for at in EVENING)
    return door_open(usual, moisture, opens, closes)


def _outdoor_moisture_pa(
    usual: RoomAhead, outdoor: pd.DataFrame, forecast: Forecast | None
) -> Floats:
    """Return the vapour pressure outdoors by the forecast, else that of the last week's mean."""
    index = pd.DatetimeIndex(usual.time_utc).tz_localize("UTC")
    lately = hourly(outdoor)["e_pa"].iloc[-168:]
    mean = np.full(len(index), float(lately.mean()))
    if not usual.from_forecast or forecast is None:
        return mean
    told = vapour_pressure_pa(forecast.frame["temp_c"], forecast.frame["rh_pct"])
    at = pd.Series(told, index=forecast.frame.index).reindex(index, method="nearest")
    return np.asarray(at.fillna(lately.mean()), dtype=np.float64)


def _works(found: tuple[Assessed, ...], ahead: RoomAhead) -> dict[str, tuple[str, WorkAhead]]:
    """Return the works for which something was run, each in the air to come."""
    told: dict[str, tuple[str, WorkAhead]] = {}
    for one in found:
        if one.draws is None or one.air is None or one.state_then is None:
            continue
        key = one.work.work_id
        weights = None if one.learned is None else {key: one.learned.weights}
        days = works_ahead(
            [one.work], {key: one.draws}, one.state_then, one.air, ahead, weights=weights
        )
        if key in days:
            told[key] = (one.work.title, days[key])
    return told
