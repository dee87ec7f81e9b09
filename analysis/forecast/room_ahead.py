"""A room's next days as a band: from a forecast of outdoor air, or from what its season does."""

from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.moist_air import rh_from_vapour_pressure
from analysis.air.room_air import RoomAir
from analysis.errors import NotEnoughError
from analysis.forecast.transfer import Transfer, at_leads, features, hourly, recent_misses
from analysis.results import Floats

DAY_H = 24
SEASON_DAYS = 21
WEEK_H = 168
LEAST_WEEKS = 3
LAST_WEEKS, WHOLE_YEAR_DAYS = pd.Timedelta("60D"), 366


@dataclass(frozen=True)
class RoomAhead:
    """The air of a room in the days to come, by the hour, shape (h,); low and high are 5 and 95 %.

    ``from_forecast`` is False where no forecast was at hand and the weeks of the season stand in.
    """

    issued_utc: datetime
    time_utc: npt.NDArray[np.datetime64]
    temp_c: Floats
    temp_low_c: Floats
    temp_high_c: Floats
    rh_pct: Floats
    rh_low_pct: Floats
    rh_high_pct: Floats
    outdoor_temp_c: Floats
    from_forecast: bool

    @property
    def hours(self) -> int:
        """Number of hours."""
        return len(self.time_utc)


def room_ahead(
    transfer: Transfer,
    room: pd.DataFrame,
    outdoor: pd.DataFrame,
    forecast: pd.DataFrame,
    issued_utc: datetime,
) -> RoomAhead:
    """Return a room's next days from a forecast of outdoor air.

    Parameters
    ----------
    transfer : Transfer
        As learned from the room's record up to now.
    room, outdoor : pandas.DataFrame
        Readings up to the issue; the last three weeks suffice.
    forecast : pandas.DataFrame
        Outdoor air to come, as readings; hours after ``issued_utc`` are used. Columns
        ``rh_low_pct``, ``rh_high_pct``, ``temp_low_c`` and ``temp_high_c``, where they are there,
        widen the band.
    issued_utc : datetime
        The present: no reading after it is used.

    Raises
    ------
    NotEnoughError
        If room or outdoors have no reading in the day before, or the forecast no hour ahead.
    """
    now = pd.Timestamp(issued_utc).floor("h")
    inside = hourly(room[room.index <= now + pd.Timedelta("59min")]).loc[:now]
    outside = hourly(outdoor[outdoor.index <= now + pd.Timedelta("59min")]).loc[:now]
    ahead = hourly(forecast)
    ahead = ahead[ahead.index > now].dropna()
    _require(inside, outside, ahead, now)
    joined = pd.concat([outside, ahead])
    columns = features(joined, transfer.zone, with_season=transfer.with_season)
    predicted = _predicted(transfer, columns, inside, ahead, now)
    spread = _spread_of_forecast(transfer, forecast, outdoor, ahead, predicted, inside, now)
    return _banded(transfer, columns, ahead, predicted, spread, issued_utc, now)


def _require(
    inside: pd.DataFrame, outside: pd.DataFrame, ahead: pd.DataFrame, now: pd.Timestamp
) -> None:
    day = now - pd.Timedelta(hours=DAY_H)
    for name, frame in (("room", inside), ("outdoors", outside)):
        if frame.empty or frame.loc[day:]["e_pa"].dropna().empty:
            raise NotEnoughError(
                read="the days to come",
                where=f"{name}, the day before {now:%Y-%m-%d %H:%M} UTC",
                found="no usable reading",
                expected="readings up to now",
                action="Bring in the newest readings first.",
            )
    if ahead.empty:
        raise NotEnoughError(
            read="the days to come",
            where="the forecast",
            found=f"no hour after {now:%Y-%m-%d %H:%M} UTC",
            expected="a forecast of the days to come",
            action="Bring in a newer forecast.",
        )


def _predicted(
    transfer: Transfer,
    columns: pd.DataFrame,
    inside: pd.DataFrame,
    ahead: pd.DataFrame,
    now: pd.Timestamp,
) -> Floats:
    """Return vapour pressure and temperature ahead, shape (2, h), with the present miss fading."""
    past = columns.index.intersection(inside.index)[-WEEK_H:]
    lead = (pd.DatetimeIndex(ahead.index) - now) / pd.Timedelta("1h")
    predicted = []
    for name, one in (("e_pa", transfer.vapour), ("temp_c", transfer.warmth)):
        missed = inside[name].reindex(past).to_numpy() - one.at(columns.loc[past].to_numpy())
        recent = np.nan_to_num(recent_misses(missed)[-1])
        fading = at_leads(one.fading, np.asarray(lead, dtype=float))
        predicted.append(one.at(columns.loc[ahead.index].to_numpy()) + fading @ recent)
    return np.array(predicted)


def _spread_of_forecast(
    transfer: Transfer,
    forecast: pd.DataFrame,
    outdoor: pd.DataFrame,
    ahead: pd.DataFrame,
    predicted: Floats,
    inside: pd.DataFrame,
    now: pd.Timestamp,
) -> Floats:
    """Return half the width that the forecast's own range adds, [%RH] and [K], shape (2, h).

    So does that of outdoor air which was not measured, see `outdoor_gap`.
    """
    if not any("rh_low_pct" in one or "temp_low_c" in one for one in (forecast, outdoor)):
        return np.zeros_like(predicted)
    middle, widest = _air(predicted), np.zeros_like(predicted)
    for end in ("low", "high"):
        there = hourly(_at_end(forecast, end)).reindex(ahead.index)
        outside = hourly(_at_end(outdoor, end)).loc[:now]
        columns = features(
            pd.concat([outside, there]), transfer.zone, with_season=transfer.with_season
        )
        moved = _air(_predicted(transfer, columns, inside, there, now))
        widest = np.maximum(widest, np.abs(moved - middle))
    return np.nan_to_num(widest)


def _at_end(frame: pd.DataFrame, end: str) -> pd.DataFrame:
    """Return air with the values of one end of its range, where it has one."""
    other = frame.copy()
    for name, column in (("rh_pct", f"rh_{end}_pct"), ("temp_c", f"temp_{end}_c")):
        if column in frame:
            other[name] = frame[column].fillna(frame[name])
    return other


def _air(predicted: Floats) -> Floats:
    """Return relative humidity and temperature of vapour pressure and temperature, (2, h)."""
    rh = rh_from_vapour_pressure(predicted[1], np.maximum(predicted[0], 1.0))
    return np.array([np.clip(rh, 0.0, 100.0), predicted[1]])


def _banded(
    transfer: Transfer,
    columns: pd.DataFrame,
    ahead: pd.DataFrame,
    predicted: Floats,
    spread: Floats,
    issued_utc: datetime,
    now: pd.Timestamp,
) -> RoomAhead:
    lead = np.asarray((pd.DatetimeIndex(ahead.index) - now) / pd.Timedelta("1h"), dtype=float)
    heated = columns["heated"].loc[ahead.index].to_numpy()[:, None]
    cold, warm = transfer.errors[1], transfer.errors[0]
    rh_off = heated * at_leads(cold.rh_pct, lead) + (1 - heated) * at_leads(warm.rh_pct, lead)
    temp_off = heated * at_leads(cold.temp_c, lead) + (1 - heated) * at_leads(warm.temp_c, lead)
    rh, temp = _air(predicted)
    bands = []
    for value, off, more in ((rh, rh_off, spread[0]), (temp, temp_off, spread[1])):
        middle = value + off[:, 1]
        down = np.hypot(off[:, 1] - off[:, 0], more)
        up = np.hypot(off[:, 2] - off[:, 1], more)
        bands.append((middle, middle - down, middle + up))
    (rh, rh_low, rh_high), (temp, temp_low, temp_high) = bands
    return RoomAhead(
        issued_utc=issued_utc,
        time_utc=pd.DatetimeIndex(ahead.index).tz_localize(None).to_numpy().astype("datetime64[s]"),
        temp_c=temp,
        temp_low_c=temp_low,
        temp_high_c=temp_high,
        rh_pct=np.clip(rh, 0.0, 100.0),
        rh_low_pct=np.clip(rh_low, 0.0, 100.0),
        rh_high_pct=np.clip(rh_high, 0.0, 100.0),
        outdoor_temp_c=ahead["temp_c"].to_numpy(),
        from_forecast=True,
    )


def ordinary_week(
    transfer: Transfer,
    room: pd.DataFrame,
    outdoor: pd.DataFrame,
    issued_utc: datetime,
    measured_until: datetime | None = None,
) -> RoomAhead:
    """Return what an ordinary week of this season would do, where there is no forecast.

    The weeks that outdoors had within three weeks of this day of the year, in any year of the
    record (within six, where those are fewer than three), each stand in for the forecast in turn,
    continued from the outdoor air of now; the band holds what 5 to 95 % of them do, and the error
    of the transfer besides. What outdoors has after ``measured_until`` is no week that was; where
    the record has no such season then, the last two months that were measured serve.

    Raises
    ------
    NotEnoughError
        If the outdoor record holds fewer than three such weeks.
    """
    now = pd.Timestamp(issued_utc).floor("h")
    outside = hourly(outdoor[outdoor.index <= now + pd.Timedelta("59min")]).loc[:now]
    until = now if measured_until is None else pd.Timestamp(measured_until).floor("h")
    known = outside.loc[:until]
    weeks = _weeks_of_the_season(known, now, SEASON_DAYS)
    if len(weeks) < LEAST_WEEKS:
        weeks = _weeks_of_the_season(known, now, 2 * SEASON_DAYS)
    if len(weeks) < LEAST_WEEKS and until < now:
        weeks = _weeks_of_the_season(known.loc[until - LAST_WEEKS :], now, WHOLE_YEAR_DAYS)
    _require_weeks(weeks, now)
    each = [room_ahead(transfer, room, outdoor, week, issued_utc) for week in weeks]
    return _together(each)


def _require_weeks(weeks: list[pd.DataFrame], now: pd.Timestamp) -> None:
    if len(weeks) < LEAST_WEEKS:
        raise NotEnoughError(
            read="an ordinary week",
            where=f"the outdoor record, about {now:%d %B}",
            found=f"{len(weeks)} whole weeks",
            expected=f"{LEAST_WEEKS} or more",
            action="Bring in more outdoor air, or a forecast.",
        )


def _weeks_of_the_season(
    outside: pd.DataFrame, now: pd.Timestamp, within_days: int
) -> list[pd.DataFrame]:
    last = outside.index[-1] - pd.Timedelta(hours=WEEK_H)
    starts = pd.date_range(outside.index[0], last, freq="72h")
    found = []
    for start in starts:
        apart = abs((start.day_of_year - now.day_of_year + 182) % 365 - 182)
        week = outside.loc[start : start + pd.Timedelta(hours=WEEK_H - 1)]
        if apart <= within_days and len(week) == WEEK_H and week["e_pa"].notna().all():
            index = now + pd.to_timedelta(np.arange(1, WEEK_H + 1), unit="h")
            moved = week[["temp_c", "rh_pct"]].set_axis(pd.DatetimeIndex(index))
            found.append(moved.assign(flags=np.int32(0)))
    return found


def _together(each: list[RoomAhead]) -> RoomAhead:
    """Return one band for several: their middle, and their spread with the error in quadrature."""

    def joined(stem: str, unit: str) -> tuple[Floats, Floats, Floats]:
        middles = np.array([getattr(one, f"{stem}_{unit}") for one in each])
        lows = np.array([getattr(one, f"{stem}_low_{unit}") for one in each])
        highs = np.array([getattr(one, f"{stem}_high_{unit}") for one in each])
        middle = np.median(middles, axis=0)
        down = np.hypot(
            middle - np.quantile(middles, 0.05, axis=0), np.median(middles - lows, axis=0)
        )
        up = np.hypot(
            np.quantile(middles, 0.95, axis=0) - middle, np.median(highs - middles, axis=0)
        )
        return middle, middle - down, middle + up

    rh, rh_low, rh_high = joined("rh", "pct")
    temp, temp_low, temp_high = joined("temp", "c")
    return replace(
        each[0],
        rh_pct=rh,
        rh_low_pct=np.clip(rh_low, 0.0, 100.0),
        rh_high_pct=np.clip(rh_high, 0.0, 100.0),
        temp_c=temp,
        temp_low_c=temp_low,
        temp_high_c=temp_high,
        outdoor_temp_c=np.median([one.outdoor_temp_c for one in each], axis=0),
        from_forecast=False,
    )


def air_ahead(ahead: RoomAhead, before: RoomAir) -> RoomAir:
    """Return the days to come as room air for the estimator: the band as low and high copy."""
    return replace(
        before,
        time_utc=ahead.time_utc,
        temp_c=ahead.temp_c,
        rh_low_pct=ahead.rh_low_pct,
        rh_high_pct=ahead.rh_high_pct,
        outdoor_temp_c=ahead.outdoor_temp_c,
        measured=np.ones(ahead.hours, dtype=np.bool_),
    )
