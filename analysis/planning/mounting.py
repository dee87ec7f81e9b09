"""When to mount, at which humidity: the room's year for each humidity, and for each season."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from analysis.air.room_air import RoomAir
from analysis.answers.judgement import JudgementLimits
from analysis.errors import OutOfRangeError
from analysis.learning.posterior import Learned
from analysis.parameters import parameter
from analysis.planning.year import (
    VariantYear,
    YearSummary,
    months_slack,
    mounted_anew,
    start_utc,
    years_of,
)
from analysis.records.declaration import plain_number
from analysis.results import Floats
from analysis.simulation.checkpoints import instant
from analysis.works import NEEDS_CLOSING_RH, Override, Work

WHOLE_YEAR_H = 360 * 24
QUARTERS = 4
PERHAPS = 0.3  # a humidity that may be the best is so with at least this chance
HARDLY_MONTHS = 0.5


@dataclass(frozen=True)
class Beginning:
    """A year begun at a day of the record, what came before it following at its end."""

    from_utc: datetime
    months_slack: float


def begun_at(air: RoomAir, hours: int) -> RoomAir:
    """Return a room's year begun some hours later; its first hours follow at its end.

    The hours keep the names of the year as it was: only their order changes.
    """
    names = ("temp_c", "rh_low_pct", "rh_high_pct", "outdoor_temp_c", "measured")
    return replace(air, **{name: np.roll(getattr(air, name), -hours) for name in names})


def beginnings(
    work: Work, air: RoomAir, *, n: int, learned: Learned | None = None
) -> list[Beginning]:
    """Return the year of a work mounted at the first hour, for each quarter to begin in.

    Nothing is returned for a record that is no whole year.
    """
    if air.hours < WHOLE_YEAR_H:
        return []
    found = []
    for quarter in range(QUARTERS):
        hours = quarter * air.hours // QUARTERS
        begun = begun_at(air, hours)
        slack = months_slack(work, begun, n, learned)
        found.append(Beginning(instant(air.time_utc[hours]), slack))
    return found


@dataclass(frozen=True)
class MountingPoint:
    """The year of a work mounted at one humidity, and with the print damp, so that it dries taut.

    ``p_best`` is the share of the draws for which no other humidity of the curve is better: none
    leaves them slack or overtight for clearly less time.
    """

    rh_pct: float
    year: YearSummary
    damp: YearSummary
    p_best: float


@dataclass(frozen=True)
class MountingCurve:
    """Months slack, months overtight and peak load by humidity at mounting. No pick is made.

    ``best_rh_pct`` holds the lowest and the highest humidity that may be the best. ``beginnings``
    are the year at the middle of that range, begun in each quarter. The room's humidities are its
    mean over the year and at its last hour [%].
    """

    work: Work
    points: Sequence[MountingPoint]
    best_rh_pct: tuple[float, float]
    beginnings: Sequence[Beginning]
    mounted_rh_pct: float | None
    room_mean_rh_pct: float
    room_now_rh_pct: float
    from_utc: datetime

    @property
    def middle(self) -> MountingPoint:
        """The point nearest to the middle of the humidities that may be the best."""
        middle = sum(self.best_rh_pct) / 2.0
        return min(self.points, key=lambda point: abs(point.rh_pct - middle))

    @property
    def season_matters(self) -> bool:
        """Whether it makes a difference in which quarter the work is mounted."""
        slack = [one.months_slack for one in self.beginnings]
        return bool(slack) and max(slack) - min(slack) >= HARDLY_MONTHS

    @property
    def sticky(self) -> bool:
        """Whether the best may be so damp that gelatin begins to turn sticky."""
        return self.best_rh_pct[1] >= parameter("gelatin", "softening", "sticky").value


def mounting_grid_pct() -> list[float]:
    """Return the humidities of the curve [%]."""
    low, high, step = (
        parameter("planning", "mounting", name).value
        for name in ("lowest_rh_pct", "highest_rh_pct", "step_pct")
    )
    return [float(rh) for rh in np.arange(low, high + step / 2.0, step)]


def mounting_curve(
    work: Work,
    air: RoomAir,
    *,
    n: int = 200,
    rh_pct: Sequence[float] | None = None,
    learned: Learned | None = None,
    limits: JudgementLimits | None = None,
) -> MountingCurve:
    """Return how a work would fare over a room's year, for each humidity at mounting.

    Parameters
    ----------
    work : Work
        Held by tension; its own humidity at mounting is only marked.
    air : RoomAir
        The room's last year.
    n : int
        Draws.
    rh_pct : sequence of float, optional
        Humidities, rising [%]; default those of ``planning.toml``.
    learned : Learned, optional
        What inspections taught of the work; of its hinges and pre-strain nothing is carried over,
        since they would be new.

    Raises
    ------
    OutOfRangeError
        If the work is not held by tension, or a humidity is none.
    NotEnoughError
        If no hour of the year can be told.
    """
    grid = list(rh_pct) if rh_pct else mounting_grid_pct()
    for rh in grid:
        _require_humidity(rh)
    plain, damp = _years(work, air, n, grid, learned)
    points = [
        MountingPoint(rh, year.summary(limits), taut.summary(limits), float(p))
        for rh, year, taut, p in zip(grid, plain, damp, _p_best(plain), strict=True)
    ]
    best = best_range_pct(points)
    middle = min(points, key=lambda point: abs(point.rh_pct - sum(best) / 2.0))
    begun = beginnings(mounted_at(work, middle.rh_pct, air), air, n=n, learned=learned)
    return MountingCurve(
        work=work,
        points=points,
        best_rh_pct=best,
        beginnings=begun,
        mounted_rh_pct=work.mounted_rh_pct,
        room_mean_rh_pct=float(_room(air)[air.measured].mean()),
        room_now_rh_pct=float(_room(air)[air.measured][-1]),
        from_utc=start_utc(air),
    )


def mounted_at(work: Work, rh_pct: float, air: RoomAir) -> Work:
    """Return a work as if it were mounted anew at a humidity, at the first hour of a room's air."""
    start = start_utc(air)
    sealed = work.frame in NEEDS_CLOSING_RH
    gone = ("mounted_rh_pct", "prestrain")
    overrides = {k: v for k, v in work.overrides.items() if k not in gone}
    return replace(
        mounted_anew(work),
        mounted_utc=start,
        mounted_rh_pct=rh_pct,
        closed_utc=start if sealed else None,
        closing_rh_pct=rh_pct if sealed else None,
        sun_or_spot=False,
        overrides=overrides,
    )


def best_range_pct(points: Sequence[MountingPoint]) -> tuple[float, float]:
    """Return the lowest and the highest humidity that may be the best [%]."""
    least = min(PERHAPS, max(point.p_best for point in points))
    good = [point.rh_pct for point in points if point.p_best >= least]
    return min(good), max(good)


def _years(
    work: Work, air: RoomAir, n: int, grid: Sequence[float], learned: Learned | None
) -> tuple[list[VariantYear], list[VariantYear]]:
    """Return the year at each humidity, mounted as usual and mounted damp, all in one run."""
    plain = {f"{work.work_id} at {plain_number(rh)} %": mounted_at(work, rh, air) for rh in grid}
    damp = {f"{name}, damp": _damp(variant) for name, variant in plain.items()}
    found = years_of(plain | damp, air, n, learned)
    return [found[name] for name in plain], [found[name] for name in damp]


def _p_best(years: Sequence[VariantYear]) -> Floats:
    """Return, for each year, the weight of the draws for which it is as good as the best."""
    tolerance = parameter("planning", "mounting", "as_good_months").value
    unfit = np.array([year.months_unfit() for year in years])
    good = unfit <= unfit.min(axis=0) + tolerance
    weights = years[0].draws.weights
    return np.asarray(good.mean(axis=1) if weights is None else good @ weights)


def _require_humidity(rh_pct: float) -> None:
    if not 0.0 < rh_pct < 100.0:
        raise OutOfRangeError(
            read="mounting curve",
            where="humidity at mounting",
            found=f"{rh_pct:g} %",
            expected="between 0 and 100 %",
            action="Correct the option.",
        )


def _damp(work: Work) -> Work:
    """Return a work mounted damp: pre-strain in the upper half of its range."""
    row = parameter("hinges", "mounting", "prestrain")
    taut = Override(row.high, (row.value + row.high) / 2.0, row.high, "mounted damp")
    return replace(work, overrides={**work.overrides, "prestrain": taut})


def _room(air: RoomAir) -> Floats:
    return np.asarray((air.rh_low_pct + air.rh_high_pct) / 2.0)
