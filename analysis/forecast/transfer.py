"""What outdoor air does to a room: learned from the room's own record, with its honest error.

Two linear regressions, one for vapour pressure and one for temperature, on outdoor air as running
means of several memories, on the hour of the day, on working days and on the season, apart for
heated and unheated weeks. What they miss now is carried into the days to come and fades as it did
in the record. Errors are those of blocks of the record that the regression had not seen, by hours
ahead, so that a band means what it says; a short record widens it.
"""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy import linalg

from analysis.air.moist_air import rh_from_vapour_pressure, vapour_pressure_pa
from analysis.errors import NotEnoughError
from analysis.parameters import parameter
from analysis.results import Floats
from analysis.series import require_readings, usable

Marks = npt.NDArray[np.bool_]
LEADS_H = (1, 2, 3, 6, 9, 12, 18, 24, 36, 48, 72, 96, 120, 144, 168)
MEMORIES_H = (2.0, 8.0, 30.0, 120.0, 480.0)
SHORT_MEMORIES_H = (8.0, 60.0)
FAST_H, SLOW_H = 3, 72
BLOCKS = 10
RIDGE = 1e-3
WHOLE_YEAR_H = 300 * 24
QUANTILES = (0.05, 0.5, 0.95)
BRIDGED_H = 6


@dataclass(frozen=True)
class Regression:
    """One quantity of the room on the columns of `features`: standardised, with its fading miss.

    ``fading`` has shape (leads, 2): the share of the mean miss of the last hours, and of the last
    days, that is still there so many hours later.
    """

    mean: Floats
    scale: Floats
    weights: Floats
    level: float
    fading: Floats

    def at(self, columns: Floats) -> Floats:
        """Return the value at rows of columns, shape (h,)."""
        return np.asarray((columns - self.mean) / self.scale @ self.weights + self.level)


@dataclass(frozen=True)
class Errors:
    """Errors by hours ahead, shape (leads, 3): 5, 50 and 95 % of measured less foretold."""

    rh_pct: Floats
    temp_c: Floats


@dataclass(frozen=True)
class Transfer:
    """What was learned of one room.

    ``errors`` are those of unheated and of heated weeks; where the record holds too little of one,
    those of both together. ``days`` is how much of the record both room and outdoors had.
    """

    vapour: Regression
    warmth: Regression
    errors: tuple[Errors, Errors]
    zone: str
    with_season: bool
    days: float


def hourly(frame: pd.DataFrame) -> pd.DataFrame:
    """Return hourly means of usable readings, ``temp_c`` and ``e_pa``; short gaps are bridged."""
    require_readings(frame, read="readings for the days to come")
    both = pd.DataFrame({name: usable(frame, name) for name in ("temp_c", "rh_pct")}).dropna()
    mean = both.groupby(pd.DatetimeIndex(both.index).floor("h")).mean()
    grid = pd.date_range(mean.index.min(), mean.index.max(), freq="h") if len(mean) else mean.index
    mean = mean.reindex(grid)
    mean = mean.interpolate(limit=BRIDGED_H, limit_area="inside")
    mean["e_pa"] = vapour_pressure_pa(mean["temp_c"], mean["rh_pct"])
    return mean


def features(outdoor: pd.DataFrame, zone: str, *, with_season: bool) -> pd.DataFrame:
    """Return the columns on which a room's air is regressed, by the hour.

    Parameters
    ----------
    outdoor : pandas.DataFrame, h hours
        As from `hourly`.
    zone : str
        IANA zone: hours and working days are the site's.
    with_season : bool
        For records of a year or so: the turn of the year, heated weeks and working days have
        columns of their own. A shorter record could not tell them apart.
    """
    columns: dict[str, Floats] = {}
    for memory in MEMORIES_H if with_season else SHORT_MEMORIES_H:
        for name in ("e_pa", "temp_c"):
            running = outdoor[name].ewm(halflife=memory * np.log(2.0), ignore_na=False).mean()
            columns[f"{name} {memory:g}"] = running.to_numpy()
    wall = pd.DatetimeIndex(outdoor.index).tz_convert(zone)
    angle = 2.0 * np.pi * (wall.hour + wall.minute / 60.0).to_numpy() / 24.0
    for k in (1, 2, 3) if with_season else (1, 2):
        columns[f"day {k} sin"], columns[f"day {k} cos"] = np.sin(k * angle), np.cos(k * angle)
    heated = _heated(outdoor)
    if with_season:
        columns |= _apart(columns, heated, wall)
    return pd.DataFrame(columns, index=outdoor.index).assign(heated=heated)


def _heated(outdoor: pd.DataFrame) -> Floats:
    """Return how far each hour lies in a heated week, 0 to 1."""
    week = outdoor["temp_c"].ewm(halflife=84.0).mean().to_numpy()
    limit = parameter("forecast", "heating", "outdoor_temp_c").value
    return np.asarray(1.0 / (1.0 + np.exp((week - limit) / 1.5)))


def _apart(
    columns: Mapping[str, Floats], heated: Floats, wall: pd.DatetimeIndex
) -> dict[str, Floats]:
    """Return the columns once more for heated weeks and working days, and the turn of the year."""
    working = np.asarray(wall.day_of_week < 5, dtype=float)
    more = {f"{name}, heated": column * heated for name, column in columns.items()}
    days = {name: column for name, column in columns.items() if name.startswith("day")}
    more |= {f"{name}, working": column * working for name, column in days.items()}
    more["working"] = working
    year = 2.0 * np.pi * wall.day_of_year.to_numpy() / 365.25
    for k in (1, 2):
        more[f"year {k} sin"], more[f"year {k} cos"] = np.sin(k * year), np.cos(k * year)
    return more


def learn_transfer(room: pd.DataFrame, outdoor: pd.DataFrame, zone: str) -> Transfer:
    """Return what a room's record says of the way it follows outdoor air.

    Parameters
    ----------
    room, outdoor : pandas.DataFrame
        Readings, as from `analysis.series.readings_frame`.
    zone : str
        IANA zone of the site.

    Raises
    ------
    NotEnoughError
        If both were measured together for less than ``forecast.toml``, record.least_days.
    """
    inside, outside = hourly(room), hourly(outdoor)
    hours = inside.index.intersection(outside.index)
    with_season = len(hours) >= WHOLE_YEAR_H
    columns = features(outside, zone, with_season=with_season).reindex(hours)
    inside = inside.reindex(hours)
    known = inside["e_pa"].notna().to_numpy() & columns.notna().all(axis=1).to_numpy()
    _require_enough(int(known.sum()))
    x, heated = columns.to_numpy(), columns["heated"].to_numpy() > 0.5
    blocks = _blocks(known, both_sides=with_season)
    vapour, missed_e = _regression(x, inside["e_pa"].to_numpy(), known, blocks)
    warmth, missed_t = _regression(x, inside["temp_c"].to_numpy(), known, blocks)
    return Transfer(
        vapour=vapour,
        warmth=warmth,
        errors=_errors(inside, vapour, warmth, missed_e, missed_t, heated),
        zone=zone,
        with_season=with_season,
        days=float(known.sum()) / 24.0,
    )


def _require_enough(hours: int) -> None:
    least = parameter("forecast", "record", "least_days").value
    if hours < 24 * least:
        raise NotEnoughError(
            read="the days to come",
            where="the record of room and outdoors",
            found=f"{hours / 24:.0f} days of both together",
            expected=f"{least:.0f} days or more",
            action="Bring in more of the room's record, or of an outdoor logger.",
        )


def _fit(x: Floats, y: Floats) -> tuple[Floats, Floats, Floats, float]:
    mean, scale = x.mean(axis=0), x.std(axis=0)
    scale = np.where(scale > 1e-9, scale, 1.0)
    z = (x - mean) / scale
    level = float(y.mean())
    normal = z.T @ z + RIDGE * len(z) * np.eye(z.shape[1])
    weights = linalg.solve(normal, z.T @ (y - level), assume_a="pos")
    return mean, scale, np.asarray(weights), level


def _blocks(known: Marks, *, both_sides: bool) -> list[tuple[Marks, Marks]]:
    """Return blocks of the record, each with the hours that teach it: (taught by, block).

    Where a year was measured all other hours teach a block; in a shorter record only those before
    it, for what is ahead will lie outside what was seen.
    """
    edges = np.linspace(0, len(known), BLOCKS + 1).astype(int)
    place = np.arange(len(known))
    found = []
    for number, (first, last) in enumerate(itertools.pairwise(edges)):
        block = known & (place >= first) & (place < last)
        training = known & ((place < first) | (both_sides & (place >= last)))
        if both_sides or number >= BLOCKS // 3:
            found.append((training, block))
    return found


def _regression(
    x: Floats, y: Floats, known: Marks, blocks: Sequence[tuple[Marks, Marks]]
) -> tuple[Regression, Floats]:
    """Return the regression of the whole record, and what it missed in blocks it had not seen."""
    missed = np.full(len(y), np.nan)
    for training, block in blocks:
        if training.any() and block.any():
            mean, scale, weights, level = _fit(x[training], y[training])
            missed[block] = y[block] - ((x[block] - mean) / scale @ weights + level)
    return Regression(*_fit(x[known], y[known]), _fading(missed)), missed


def recent_misses(missed: Floats) -> Floats:
    """Return the mean miss of the last hours and of the last days at each hour, shape (h, 2)."""
    series = pd.Series(missed)
    fast = series.rolling(FAST_H, min_periods=1).mean()
    slow = series.rolling(SLOW_H, min_periods=1).mean()
    return np.column_stack([fast.to_numpy(), slow.to_numpy()])


def _fading(missed: Floats) -> Floats:
    """Return how much of the recent misses is still there later, shape (leads, 2)."""
    recent = recent_misses(missed)
    found = np.zeros((len(LEADS_H), 2))
    for i, lead in enumerate(LEADS_H):
        now, later = recent[:-lead], missed[lead:]
        both = np.isfinite(now).all(axis=1) & np.isfinite(later)
        if both.sum() > 100:
            found[i] = linalg.lstsq(now[both], later[both])[0]
    return found


def _errors(
    inside: pd.DataFrame,
    vapour: Regression,
    warmth: Regression,
    missed_e: Floats,
    missed_t: Floats,
    heated: Marks,
) -> tuple[Errors, Errors]:
    """Return the errors of foretelling unseen blocks, unheated and heated."""
    e, t, rh = (inside[name].to_numpy() for name in ("e_pa", "temp_c", "rh_pct"))
    recent_e, recent_t = recent_misses(missed_e), recent_misses(missed_t)
    tables = np.zeros((2, 2, len(LEADS_H), len(QUANTILES)))
    known_h = float(np.isfinite(e).sum())
    for i, lead in enumerate(LEADS_H):
        given_pressure = (e - missed_e)[lead:] + recent_e[:-lead] @ vapour.fading[i]
        given_temp = (t - missed_t)[lead:] + recent_t[:-lead] @ warmth.fading[i]
        given_rh = np.clip(
            rh_from_vapour_pressure(given_temp, np.maximum(given_pressure, 1.0)), 0.0, 100.0
        )
        off = np.stack([rh[lead:] - given_rh, t[lead:] - given_temp])
        for kind in (0, 1):
            tables[kind, :, i] = _quantiles(off, heated[lead:] == bool(kind))
    widening = 1.0 + parameter("forecast", "record", "widening_days").value * 24.0 / known_h
    tables = tables[..., 1:2] + widening * (tables - tables[..., 1:2])
    unheated, warmed = (Errors(rh_pct=one[0], temp_c=one[1]) for one in tables)
    return unheated, warmed


def _quantiles(off: Floats, wanted: Marks) -> Floats:
    """Return 5, 50 and 95 % of two errors, shape (2, 3), of the hours wanted where they suffice."""
    known: Marks = np.asarray(np.isfinite(off).all(axis=0), dtype=np.bool_)
    least = 24 * parameter("forecast", "record", "least_days").value
    chosen = known & wanted if (known & wanted).sum() >= least else known
    return np.asarray(np.quantile(off[:, chosen], QUANTILES, axis=1).T)


def at_leads(table: Floats, hours_ahead: Sequence[float] | Floats) -> Floats:
    """Return rows of a table by `LEADS_H` at any hours ahead, straight between them."""
    hours = np.asarray(hours_ahead, dtype=float)
    return np.column_stack(
        [np.interp(hours, np.asarray(LEADS_H, dtype=float), column) for column in table.T]
    )
