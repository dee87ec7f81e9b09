"""The museum → the days to come of a room and of its works: for page, command and interface."""

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pandas as pd

from analysis.air.moist_air import vapour_pressure_pa
from analysis.errors import NotEnoughError, UnknownNameError
from analysis.forecast.outdoor_gap import bridged_outdoors
from analysis.forecast.room_ahead import RoomAhead, ordinary_week, room_ahead
from analysis.forecast.transfer import Transfer, hourly, learn_transfer
from analysis.forecast.what_if import door_open, plant_off, set_point
from analysis.forecast.work_ahead import WorkAhead, works_ahead
from analysis.results import Floats
from analysis.simulation.checkpoints import instant
from dashboards.text.messages import N_, Worded
from service.answers.museum import Museum
from service.estimates.assessments import Assessed
from service.storage.forecasts import Forecast, newest_forecast

LATELY = timedelta(days=40)
# A forecast that begins so long after the last reading still counts; the air between is bridged.
BRIDGED = timedelta(hours=24)
MORE_LIKELY = 0.5
EVENING = (timedelta(hours=18), timedelta(hours=21))
WHAT_IF = Worded(
    {
        "": N_("as it is run now"),
        "off": N_("with the plant off from now on"),
        "door": N_("with an outer door open this evening, 18:00 to 21:00"),
        "45": N_("with a set point of 45 %RH from now on"),
    }
)


@dataclass(frozen=True)
class DaysAhead:
    """A room's next days, its works in them, and what they rest on.

    ``usual`` is the room with plant as it is run now, beside which a what-if is shown; ``issued``
    is when the forecast was made, None where the weeks of the season stand in. ``from_utc`` is the
    last hour at which both room and outdoors were read: the days begin there. Where outdoors is
    read seldom the days begin with the room's last hour, and ``outdoors_until`` is when outdoors
    was last read: since then what the season usually does stands in.
    """

    room_id: str
    room_name: str
    what_if: str
    ahead: RoomAhead
    usual: RoomAhead
    works: dict[str, tuple[str, WorkAhead]]
    record_days: float
    from_utc: datetime
    issued: datetime | None
    forecast: str = ""
    outdoors_until: datetime | None = None


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
    now, outdoors_until = _last_measured(frame, outdoor, museum.now())
    transfer = museum.cached(
        ("transfer", room_id), lambda: learn_transfer(frame, outdoor, museum.zone), rooms=[room_id]
    )
    known = outdoor
    if outdoors_until is not None:
        known = bridged_outdoors(outdoor.loc[: pd.Timestamp(now)], pd.Timestamp(now))
    forecast = _in_use(museum, now)
    usual = _usual(transfer, frame, known, forecast, now, outdoors_until)
    ahead = _changed(museum, usual, known, forecast, what_if, now)
    works = _works(museum.assessed(room_id, now), ahead)
    issued, name = (None, "") if forecast is None else (forecast.issued_utc, forecast.name)
    return DaysAhead(
        room_id,
        room.name,
        what_if,
        ahead,
        usual,
        works,
        transfer.days,
        now,
        issued,
        name,
        outdoors_until,
    )


def _in_use(museum: Museum, now: datetime) -> Forecast | None:
    """Return the newest forecast that reaches ahead and begins soon enough, else None.

    Where it begins after the last reading, what outdoors measured since then comes first, and the
    hours between are bridged.
    """
    forecast = newest_forecast(museum.stores.forecasts, museum.clock())
    if forecast is None or forecast.frame.index[-1] <= pd.Timestamp(now):
        return None
    if forecast.frame.index[0] > pd.Timestamp(now + BRIDGED):
        return None
    return replace(forecast, frame=_bridged(forecast.frame, museum.outdoor(), now))


def _bridged(frame: pd.DataFrame, outdoor: pd.DataFrame | None, now: datetime) -> pd.DataFrame:
    """Return a forecast by the hour, from the hour of the last readings on."""
    ahead = frame.drop(columns="flags").resample("h").mean()
    if outdoor is not None:
        columns = ["temp_c", "rh_pct"]
        measured = outdoor.loc[pd.Timestamp(now) :, columns].resample("h").mean()
        ahead = ahead.combine_first(measured[measured.index < ahead.index[0]])
    ahead = ahead.interpolate(method="time", limit_area="inside")
    return ahead[ahead.index > pd.Timestamp(now)].assign(flags=np.int32(0))


def _last_measured(
    frame: pd.DataFrame, outdoor: pd.DataFrame, now: datetime
) -> tuple[datetime, datetime | None]:
    """Return the hour at which the days begin, and outdoors' last one where that lies far before.

    The days begin with the last hour for which both were read; with the room's last one where
    outdoors ends more than a day before it.
    """
    ends = [one.index[one.index <= pd.Timestamp(now)] for one in (frame, outdoor)]
    if any(end.empty for end in ends):
        raise NotEnoughError(
            read="the days to come",
            where="the record",
            found="no reading of the room or of outdoors",
            expected="readings of both",
            action="Bring in the readings of the room and of outdoor air.",
        )
    room, outdoors = (end[-1].floor("h").to_pydatetime() for end in ends)
    if room - outdoors > BRIDGED:
        return room, outdoors
    return min(room, outdoors), None


def _usual(
    transfer: Transfer,
    frame: pd.DataFrame,
    outdoor: pd.DataFrame,
    forecast: Forecast | None,
    now: datetime,
    outdoors_until: datetime | None,
) -> RoomAhead:
    """Return the days by a forecast, else by the season."""
    lately = pd.Timestamp(now - LATELY)
    if forecast is None:
        return ordinary_week(transfer, frame.loc[lately:], outdoor, now, outdoors_until)
    return room_ahead(transfer, frame.loc[lately:], outdoor.loc[lately:], forecast.frame, now)


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
        if one.draws is None or one.lately is None or one.state_then is None:
            continue
        key = one.work.work_id
        weights = None if one.learned is None else {key: one.learned.weights}
        days = works_ahead(
            [one.work], {key: one.draws}, one.state_then, one.lately, ahead, weights=weights
        )
        if key in days:
            told[key] = (one.work.title, days[key])
    return told


def days_json(found: DaysAhead) -> dict[str, Any]:
    """Return the days to come as plain values, by the hour; a number that is none becomes None."""
    ahead = found.ahead
    hours = [f"{time}Z" for time in ahead.time_utc]
    columns = ("temp_c", "temp_low_c", "temp_high_c", "rh_pct", "rh_low_pct", "rh_high_pct")
    return {
        "room": found.room_id,
        "name": found.room_name,
        "what_if": found.what_if,
        "from_utc": _utc(found.from_utc),
        "forecast_made_utc": None if found.issued is None else _utc(found.issued),
        "outdoors_until_utc": None if found.outdoors_until is None else _utc(found.outdoors_until),
        "record_days": found.record_days,
        "air": {
            "time_utc": hours,
            **{name: getattr(ahead, name).round(2).tolist() for name in columns},
        },
        "works": [
            _work_json(key, title, work) for key, (title, work) in sorted(found.works.items())
        ],
    }


def _utc(time_utc: datetime) -> str:
    return time_utc.astimezone(UTC).isoformat().replace("+00:00", "Z")


def _work_json(work_id: str, title: str, work: WorkAhead) -> dict[str, Any]:
    chances = [None if np.isnan(p) else round(float(p), 3) for p in work.history.p_visible]
    return {
        "work": work_id,
        "title": title,
        "p_worst": None if np.isnan(work.p_worst) else round(work.p_worst, 3),
        "worst_utc": None if work.worst_utc is None else f"{work.worst_utc}Z",
        "time_utc": [f"{time}Z" for time in work.history.time_utc],
        "p_visible": chances,
    }


@dataclass(frozen=True)
class Foretold:
    """A work on which, by a forecast, waves will be likelier than not, though not now."""

    work_id: str
    title: str
    room_name: str
    at_utc: datetime
    p_worst: float
    issued_utc: datetime


def foretold(museum: Museum, room_id: str) -> tuple[Foretold, ...]:
    """Return the works of a room that will go slack by the forecast at hand; none without one."""
    forecast = newest_forecast(museum.stores.forecasts, museum.clock())
    if forecast is None or forecast.frame.index[-1] <= pd.Timestamp(museum.clock()):
        return ()
    name = ("foretold", room_id, forecast.name, museum.now())
    return museum.cached(name, lambda: _foretold(museum, room_id))


def _foretold(museum: Museum, room_id: str) -> tuple[Foretold, ...]:
    try:
        found = days_ahead(museum, room_id)
    except NotEnoughError:
        return ()
    if found.issued is None:
        return ()
    waved = {one.work_id for one in museum.judgements(room_id) if one.p_visible_now > MORE_LIKELY}
    return tuple(
        Foretold(key, title, found.room_name, first, work.p_worst, found.issued)
        for key, (title, work) in found.works.items()
        if key not in waved and (first := _first_likely(work, museum.clock())) is not None
    )


def _first_likely(work: WorkAhead, now: datetime) -> datetime | None:
    """Return the first hour ahead at which waves are likelier than not, None if there is none."""
    ahead = work.history.time_utc > np.datetime64(now.replace(tzinfo=None), "s")
    likely = np.flatnonzero(ahead & (np.nan_to_num(work.history.p_visible) > MORE_LIKELY))
    return instant(work.history.time_utc[likely[0]]) if len(likely) else None
