"""From a room's last reading to the present: its air carried on as a low and a high copy.

The band opens from the last reading to what the room did in the thirty days before it, and from
there to what it did at that season and hour in its own record (Enclosure notes, section 10.5).
Where the record does not hold that season, the last thirty days are moved by what seasons do to
rooms: the prior of `analysis.published.pasts`, whose range widens the band.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.air.room_air import (
    HIGH_PERCENTILE,
    HOUR_BY_HOUR,
    LOW_PERCENTILE,
    WINDOW_DAYS,
    RoomAir,
    part_of,
)
from analysis.parameters import parameter
from analysis.results import Floats

DAY_H = 24
YEAR_D = 365.25
HOUR = np.timedelta64(3600, "s")
BESIDE_H = 1  # hours before and after an hour of the day that count as it
STEP_DAYS = 5  # the season is looked up anew for each
Hours = npt.NDArray[np.intp]
FEW = 24  # hours; fewer say nothing about a season


def _beside_each() -> npt.NDArray[np.bool_]:
    """Return which hours of the day count as which, shape (24, 24)."""
    hours = np.arange(float(DAY_H))
    return np.stack([_apart(hours, hour, DAY_H) <= BESIDE_H for hour in hours])


def carried_on(air: RoomAir, until_utc: datetime) -> RoomAir:
    """Return the air from the last hour of a record on, up to an instant; none of it measured.

    Parameters
    ----------
    air : RoomAir
        The record, which ends with its last measured hour.
    until_utc : datetime
        With its zone; the last full hour at or before it is the last of the result.

    Returns
    -------
    RoomAir
        Its first hour is the record's last, as it was read; what follows depends on nothing but
        the record and how long ago it ended. A single hour where nothing follows.
    """
    last = air.time_utc[-1]
    end = np.datetime64(int(until_utc.timestamp()), "s")
    hours = max(int((end - last) / HOUR), 0)
    ahead = np.arange(1, hours + 1, dtype=np.float64)
    time = last + np.arange(hours + 1) * HOUR
    season = _Season(air, time[1:])
    low, high = (
        _opened(
            at[-1], np.nanquantile(at[-WINDOW_DAYS * DAY_H :], level), season.rh(at, level), ahead
        )
        for at, level in ((air.rh_low_pct, LOW_PERCENTILE), (air.rh_high_pct, HIGH_PERCENTILE))
    )
    recent = float(np.median(air.temp_c[-WINDOW_DAYS * DAY_H :]))
    temp = _opened(air.temp_c[-1], recent, season.temp(), ahead)
    return replace(
        air,
        time_utc=time,
        temp_c=np.concatenate([air.temp_c[-1:], temp]),
        rh_low_pct=np.clip(np.concatenate([air.rh_low_pct[-1:], low]), 0.0, 100.0),
        rh_high_pct=np.clip(np.concatenate([air.rh_high_pct[-1:], high]), 0.0, 100.0),
        outdoor_temp_c=np.concatenate([air.outdoor_temp_c[-1:], np.full(hours, np.nan)]),
        measured=np.concatenate([air.measured[-1:], np.zeros(hours, dtype=np.bool_)]),
    )


def ends_at(ahead: RoomAir, until_utc: datetime) -> RoomAir:
    """Return what was carried on up to an earlier instant: the same as `carried_on` up to it."""
    end = np.datetime64(int(until_utc.timestamp()), "s")
    hours = max(int(np.searchsorted(ahead.time_utc, end, "right")), 1)
    return part_of(ahead, slice(hours))


def joined(air: RoomAir, ahead: RoomAir) -> RoomAir:
    """Return a record with what was carried on from its last hour."""
    arrays: dict[str, Any] = {
        name: np.concatenate([getattr(air, name), getattr(ahead, name)[1:]])
        for name in HOUR_BY_HOUR
    }
    return replace(air, read_until_utc=air.time_utc[-1], **arrays)


def _opened(last: float, recent: float, season: Floats, ahead_h: Floats) -> Floats:
    """Return a course that leaves the last value for the recent one, and that for the season's."""
    day = parameter("ahead", "band", "day_h").value
    days = parameter("ahead", "band", "season_days").value
    lately = np.exp(-ahead_h / (days * DAY_H))
    towards = lately * recent + (1.0 - lately) * season
    held = np.exp(-ahead_h / day)
    return np.asarray(held * last + (1.0 - held) * towards)


class _Season:
    """What a room did at the season and hour of some later hours, or what seasons do to rooms."""

    def __init__(self, air: RoomAir, time: npt.NDArray[np.datetime64]) -> None:
        self.air, self.time = air, time
        days, hours = _day_of_year(time) // STEP_DAYS, _hour_of_day(time)
        keys = np.stack([days, hours], axis=1).astype(np.intp)
        distinct, self.which = np.unique(keys, axis=0, return_inverse=True)
        day_of_year, hour_of_day = _day_of_year(air.time_utc), _hour_of_day(air.time_utc)
        years = np.flatnonzero(np.diff(day_of_year) < 0.0) + 1
        spans = list(pairwise([0, *years.tolist(), air.hours]))
        near = {day: self._near(day, day_of_year, spans) for day in np.unique(distinct[:, 0])}
        of_near = {day: hour_of_day[at].astype(np.intp) for day, at in near.items()}
        members = [near[day][_BESIDE[hour][of_near[day]]] for day, hour in distinct]
        self.sets, self.alike = len(members), _of_one_size(members)

    def _near(
        self, step: int, day_of_year: Floats, years: Sequence[tuple[int, int]]
    ) -> npt.NDArray[np.intp]:
        """Return the measured hours of the record about a time of the year.

        ``years`` are the spans of the record within which the day of the year only rises.
        """
        about = parameter("ahead", "band", "about_days").value
        middle = (step + 0.5) * STEP_DAYS
        found = []
        for first, last in years:
            day = day_of_year[first:last]
            for turn in (-YEAR_D, 0.0, YEAR_D):  # about the turn of the year there are two parts
                ends = middle + turn - about, middle + turn + about
                begin, end = np.searchsorted(day, ends[0]), np.searchsorted(day, ends[1], "right")
                found.append(np.arange(first + begin, first + end))
        hours = np.concatenate(found)
        return hours[self.air.measured[hours]]

    def rh(self, values: Floats, level: float) -> Floats:
        """Return a percentile of humidity at the season and hour of each hour [%RH]."""
        recent, highest = float(np.quantile(values[-WINDOW_DAYS * DAY_H :], level)), level > 0.5
        years = parameter("pasts", "years", "offset_pct")
        other_years = years.high if highest else years.low
        known = self._quantiles(values, level) + other_years
        return self._or_prior(known, recent, "rh_amplitude_pct", highest=highest)

    def temp(self) -> Floats:
        """Return the usual temperature at the season and hour of each hour [°C]."""
        temp = self.air.temp_c
        recent = float(np.median(temp[-WINDOW_DAYS * DAY_H :]))
        known = self._quantiles(temp, 0.5)
        return self._or_prior(known, recent, "temp_amplitude_k", highest=None)

    def _quantiles(self, values: Floats, level: float) -> Floats:
        """Return a quantile of each set of members, NaN of few; sets of one size at once."""
        found = np.full(self.sets, np.nan)
        for alike, rows in self.alike:
            found[alike] = _quantile(values[rows], level)
        return found

    def _or_prior(
        self, known: Floats, recent: float, amplitude: str, *, highest: bool | None
    ) -> Floats:
        """Return what is known of a season; else the recent value moved by a season's range."""
        found = known[self.which.ravel()] if len(known) else np.empty(0)
        rows = parameter("pasts", "season", amplitude), parameter("pasts", "season", "dampest_day")
        sizes = (rows[0].value,) if highest is None else (rows[0].low, rows[0].high)
        days = (rows[1].value,) if highest is None else (rows[1].low, rows[1].value, rows[1].high)
        turned = 0.5 * YEAR_D if getattr(self.air, "southern", False) else 0.0
        moved = np.stack(
            [
                size
                * (_wave(self.time, day + turned) - _wave(self.air.time_utc[-1:], day + turned))
                for size in sizes
                for day in days
            ]
        )
        most = moved.max(axis=0) if highest is not False else moved.min(axis=0)
        if highest is not None:
            most = np.maximum(most, 0.0) if highest else np.minimum(most, 0.0)
        return np.where(np.isfinite(found), found, recent + most)


def _quantile(rows: Floats, level: float) -> Floats:
    """Return a quantile of each row, which is put in another order: what `numpy.quantile` gives.

    Examples
    --------
    >>> rows = np.random.default_rng(7).normal(50.0, 3.0, (40, 93))
    >>> same = np.quantile(rows, [0.05, 0.5, 0.95], axis=1)
    >>> [(_quantile(rows.copy(), q) == x).all() for q, x in zip((0.05, 0.5, 0.95), same)]
    [np.True_, np.True_, np.True_]
    """
    at = level * (rows.shape[1] - 1)
    below = int(at)
    above = min(below + 1, rows.shape[1] - 1)
    rows.partition((below, above), axis=1)
    low, high, share = rows[:, below], rows[:, above], at - below
    step = high - low
    return np.asarray(np.where(share >= 0.5, high - step * (1.0 - share), low + step * share))


def _of_one_size(members: Sequence[npt.NDArray[np.intp]]) -> list[tuple[Hours, Hours]]:
    """Return which sets have one size, and their members, shape (sets, size); none of few."""
    sizes = np.array([len(at) for at in members], dtype=np.intp)
    found = []
    for size in np.unique(sizes[sizes >= FEW]):
        alike = np.flatnonzero(sizes == size)
        found.append((alike, np.stack([members[int(i)] for i in alike])))
    return found


def _wave(time: npt.NDArray[np.datetime64], dampest_day: float) -> Floats:
    angle = 2.0 * np.pi * (_day_of_year(time) - dampest_day) / YEAR_D
    return np.asarray(np.cos(angle))


def _day_of_year(time: npt.NDArray[np.datetime64]) -> Floats:
    return np.asarray((time - time.astype("datetime64[Y]")) / np.timedelta64(86400, "s"))


def _hour_of_day(time: npt.NDArray[np.datetime64]) -> Floats:
    return np.asarray((time - time.astype("datetime64[D]")) / HOUR)


def _apart(one: Floats, other: float, period: float) -> Floats:
    """Return how far apart two phases of a period are."""
    off = np.abs(one - other) % period
    return np.minimum(off, period - off)


_BESIDE = _beside_each()
