"""The years before the first reading: several plausible airs of a room, back to any mounting.

Nobody measured them, and they decide how much of a print's stretch is left: a work that was mounted
three years before its record has lived through three winters. Each past is a season with a height
and a mean that differ from year to year, and spells of the record's own weather. Draws share them
out: a draw lives through one of them.

A past is drawn backwards from the first reading, so that a longer one only adds to a shorter one;
and from the first months of the record, so that it stays as it is while the record grows, but for a
few dates at which more is known (`KNOWN_DAYS`).
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache, cached_property
from hashlib import sha256

import numpy as np
import numpy.typing as npt

from analysis.air.room_air import RoomAir
from analysis.parameters import Parameter, parameter
from analysis.results import Floats
from analysis.simulation.checkpoints import instant
from analysis.simulation.discrepancy import year_angle
from analysis.simulation.drawer import log_moments
from analysis.simulation.priors import PASTS

COUNT = PASTS  # twelve did no better
YEAR_H, DAY_H = 8766.0, 24
YEARS = 200  # that are told apart; those before are like the first of them
# A past rests on the first so many days of a record, the most of these that are there.
KNOWN_DAYS = (1, 3, 7, 14, 30, 60, 120, 180, 240, 335, 366)
SEASON_KNOWN_DAYS = 335
# Steps in which a past is lived, each from so many hours before the first reading: within 0.5 %RH
# and 2e-6 of strain of hourly steps (tested).
STEPS = ((30 * DAY_H, 1), (round(2 * YEAR_H), 3), (10**9, 6))
DRIEST_PCT, DAMPEST_PCT = 3.0, 97.0
# Four values of mean 0 and standard deviation 1: the middles of the quarters of a normal.
QUARTERS = np.array([-1.3610, -0.3776, 0.3776, 1.3610])
# How the quarters of height, phase and level fall together, so that none goes with another.
ORDERS = ((0, 1, 2, 3), (1, 3, 0, 2), (2, 0, 3, 1))


@dataclass(frozen=True)
class Season:
    """Mean and yearly wave of one quantity, one value for each past, shape (COUNT,)."""

    mean: Floats
    cos: Floats
    sin: Floats

    def at(self, which: int, angle: Floats, factor: Floats | float = 1.0) -> Floats:
        """Return the season of one past at angles of the year [rad]."""
        wave = self.cos[which] * np.cos(angle) + self.sin[which] * np.sin(angle)
        return np.asarray(self.mean[which] + factor * wave)


@dataclass(frozen=True)
class Pasts:
    """What a room's air may have been before its first reading.

    Parameters
    ----------
    start_utc : datetime
        The record's first hour.
    rh, temp : Season
        Seasons of humidity and temperature.
    weather_rh_pct, weather_temp_k : ndarray, shape (COUNT, h)
        What the record's first months show beside the season.
    outdoor_c : Season or None
        Season outdoors, where the record knows it.
    ends_with : tuple of float
        Temperature, humidity and outdoor temperature of the first hour.
    season_known : bool
        Whether the season is that of the record, else a guess from what rooms do.
    """

    start_utc: datetime
    rh: Season
    temp: Season
    weather_rh_pct: Floats
    weather_temp_k: Floats
    outdoor_c: Season | None
    ends_with: tuple[float, float, float]
    season_known: bool

    @cached_property
    def digest(self) -> str:
        """Return what the pasts rest on, as a few letters: the same while they are the same."""
        digest = sha256(f"{self.start_utc} {self.ends_with} {self.season_known}".encode())
        parts = [self.weather_rh_pct, self.weather_temp_k]
        seasons = [one for one in (self.rh, self.temp, self.outdoor_c) if one is not None]
        parts += [array for one in seasons for array in (one.mean, one.cos, one.sin)]
        for array in parts:
            digest.update(np.round(array, 9).tobytes())
        return digest.hexdigest()[:12]

    @cached_property
    def _airs(self) -> dict[tuple[int, int, int], tuple[int, RoomAir]]:
        """The airs last asked for, of each step: learning lives through them again and again."""
        return {}

    def air(self, which: int, from_h: int, until_h: int, step_h: int) -> RoomAir:
        """Return one past from so many hours before the first reading until so many, by steps.

        Each value is the mean of the hours around it. With ``until_h`` 0 it ends on the first hour
        itself, as that was read.
        """
        kept = self._airs.get((which, until_h, step_h))
        if kept is None or kept[0] != from_h:
            kept = (from_h, self._air(which, from_h, until_h, step_h))
            self._airs[which, until_h, step_h] = kept
        return kept[1]

    def _air(self, which: int, from_h: int, until_h: int, step_h: int) -> RoomAir:
        steps = -(-(from_h - until_h) // step_h)
        before_h = until_h + step_h * np.arange(steps, -1, -1, dtype=np.int64)
        start = np.datetime64(self.start_utc.replace(tzinfo=None), "s")
        time = start - before_h * np.timedelta64(3600, "s")
        temp, rh, outdoor = self._means(which, before_h, step_h)
        if until_h == 0:
            temp[-1], rh[-1], outdoor[-1] = self.ends_with
        span = np.quantile(rh, [0.01, 0.99])
        return RoomAir(
            time_utc=time,
            temp_c=temp,
            rh_low_pct=rh,
            rh_high_pct=rh.copy(),
            outdoor_temp_c=outdoor,
            measured=np.ones(len(time), dtype=np.bool_),
            interval_s=3600.0,
            first_low_pct=float(span[0]),
            first_high_pct=float(span[1]),
            checked_utc=(start,),
        )

    def _means(
        self, which: int, before_h: np.typing.NDArray[np.int64], step_h: int
    ) -> tuple[Floats, Floats, Floats]:
        """Return temperature, humidity and outdoor temperature, means over a step about each."""
        half = step_h // 2
        around = np.arange(-half, half + 1)
        share = np.ones(len(around))
        if step_h % 2 == 0:
            share[[0, -1]] = 0.5
        hours = np.arange(before_h[0] + half, before_h[-1] - half - 1, -1)
        start = np.datetime64(self.start_utc.replace(tzinfo=None), "s")
        angle = year_angle(start - hours * np.timedelta64(3600, "s"))
        hourly = self._values(which, np.maximum(hours, 0).astype(np.float64), angle)
        at = (before_h[0] + half - before_h)[:, None] + around
        temp, rh, outdoor = ((x[at] * share).sum(axis=1) / share.sum() for x in hourly)
        return temp, rh, outdoor

    def _values(self, which: int, before_h: Floats, angle: Floats) -> tuple[Floats, Floats, Floats]:
        """Return temperature, humidity and outdoor temperature at hours before the record."""
        year = np.minimum(before_h // YEAR_H, YEARS - 1).astype(np.intp)
        factor, offset = (yearly[which][year] for yearly in _years())
        rh = self.rh.at(which, angle, factor) + offset
        temp = self.temp.at(which, angle)
        hours = self.weather_rh_pct.shape[1]
        spell = spell_hours(hours)
        if spell:
            block = (np.maximum(before_h - 1.0, 0.0) // spell).astype(np.intp)
            within = (-before_h % spell).astype(np.intp)
            at = _spells(which, int(block.max()) + 1, hours, spell)[block] + within
            rh, temp = rh + self.weather_rh_pct[which][at], temp + self.weather_temp_k[which][at]
        outdoor = np.full(len(angle), np.nan)
        if self.outdoor_c is not None:
            outdoor = self.outdoor_c.at(which, angle)
        return temp, np.clip(rh, DRIEST_PCT, DAMPEST_PCT), outdoor


def spell_hours(hours: int) -> int:
    """Return how long the spells of weather are: twenty days, or the whole days that there are."""
    days = int(parameter("pasts", "weather", "block_days").value)
    return min(days, hours // DAY_H) * DAY_H


def pasts_of(air: RoomAir) -> Pasts:
    """Return what a room's air may have been before its first reading.

    Parameters
    ----------
    air : RoomAir
        The room's record from its first hour on; hours carried on from it tell nothing.
    """
    days = max((d for d in KNOWN_DAYS if d * DAY_H <= air.hours_of_record), default=0)
    known = slice(0, max(days * DAY_H, 1))
    angle, measured = year_angle(air.time_utc[known]), air.measured[known]
    rh = 0.5 * (air.rh_low_pct[known] + air.rh_high_pct[known])
    temp, outdoor = air.temp_c[known], air.outdoor_temp_c[known]
    season_known = days >= SEASON_KNOWN_DAYS and bool(measured.mean() > 0.5)
    seasons = (
        [_fitted(angle[measured], x[measured]) for x in (rh, temp)]
        if season_known
        else _guessed(angle, rh, temp, air.southern)
    )
    weather = [
        np.where(measured, [x - season.at(i, angle) for i in range(COUNT)], 0.0)
        for x, season in zip((rh, temp), seasons, strict=True)
    ]
    out = _outdoors(angle, outdoor, seasons[1], season_known)
    first = (float(temp[0]), float(np.clip(rh[0], DRIEST_PCT, DAMPEST_PCT)), float(outdoor[0]))
    return Pasts(
        start_utc=instant(air.time_utc[0]),
        rh=seasons[0],
        temp=seasons[1],
        weather_rh_pct=weather[0],
        weather_temp_k=weather[1],
        outdoor_c=out,
        ends_with=first,
        season_known=season_known,
    )


def _fitted(angle: Floats, values: Floats) -> Season:
    """Return the season that fits a year of values best, the same for every past."""
    terms = np.column_stack([np.ones_like(angle), np.cos(angle), np.sin(angle)])
    found = np.linalg.lstsq(terms, values, rcond=None)[0]
    return Season(*(np.full(COUNT, x) for x in found))


def _guessed(angle: Floats, rh: Floats, temp: Floats, southern: bool) -> list[Season]:
    """Return seasons of unknown height and phase whose level is that of a short record."""
    rows = {
        name: parameter("pasts", "season", name)
        for name in ("rh_amplitude_pct", "dampest_day", "temp_amplitude_k", "level_error_pct")
    }
    height, phase, level = (QUARTERS[list(order)] for order in ORDERS)
    mean, sd = log_moments(rows["rh_amplitude_pct"])
    day, error = rows["dampest_day"], rows["level_error_pct"]
    turn = np.pi if southern else 0.0
    at = 2.0 * np.pi * (day.value + _sd(day) * phase) / 365.25 + turn
    warmer = rows["temp_amplitude_k"].value
    found = []
    for values, size, off in (
        (rh, np.exp(mean + sd * height), _sd(error) * level),
        (temp, np.full(COUNT, warmer), np.zeros(COUNT)),
    ):
        wave = Season(np.zeros(COUNT), size * np.cos(at), size * np.sin(at))
        there = np.array([wave.at(i, angle).mean() for i in range(COUNT)])
        found.append(Season(values.mean() - there + off, wave.cos, wave.sin))
    return found


def _outdoors(angle: Floats, outdoor: Floats, indoors: Season, known: bool) -> Season | None:
    """Return the season outdoors: as recorded for a year, else three times that of the room."""
    there = np.isfinite(outdoor)
    if not there.any():
        return None
    if known and there.mean() > 0.5:
        return _fitted(angle[there], outdoor[there])
    cos, sin = 3.0 * indoors.cos, 3.0 * indoors.sin
    wave = Season(np.zeros(COUNT), cos, sin)
    mean = [outdoor[there].mean() - wave.at(i, angle[there]).mean() for i in range(COUNT)]
    return Season(np.array(mean), cos, sin)


def _sd(row: Parameter) -> float:
    """Return the standard deviation of a row whose low and high lie two of them off."""
    return float((row.high - row.low) / 4.0)


def _years() -> tuple[Floats, Floats]:
    """Return factor and offset of each year back, shape (COUNT, YEARS): all quarters in each."""
    factor, offset = (QUARTERS[order].T for order in _orders())
    mean, sd = log_moments(parameter("pasts", "years", "factor"))
    return np.exp(mean + sd * factor), _sd(parameter("pasts", "years", "offset_pct")) * offset


@cache
def _orders() -> tuple[npt.NDArray[np.intp], ...]:
    """Return how the quarters of factor and offset fall in each year, shape (YEARS, COUNT)."""
    rng = np.random.Generator(np.random.PCG64(20))
    return tuple(np.stack([rng.permutation(COUNT) for _ in range(YEARS)]) for _ in range(2))


def _spells(which: int, count: int, hours: int, spell: int) -> np.typing.NDArray[np.intp]:
    """Return where in the record each spell of a past begins, counted backwards, on whole days."""
    rng = np.random.Generator(np.random.PCG64(1000 + which))
    share = rng.random(count)
    return (np.floor(share * ((hours - spell) // DAY_H + 1)) * DAY_H).astype(np.intp)


def years_before(mounted_utc: datetime, start_utc: datetime) -> float:
    """Return the years from a mounting to the first reading; 0 where it was mounted after."""
    return max((start_utc - mounted_utc) / timedelta(hours=YEAR_H), 0.0)
