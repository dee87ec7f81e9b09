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
from analysis.results import Floats
from analysis.simulation.checkpoints import instant
from analysis.words import PERHAPS, PROBABLY, day, in_hundred, ranged
from analysis.works import NEEDS_CLOSING_RH, Override, Work

WHOLE_YEAR_H = 360 * 24
QUARTERS = 4
HARDLY_MONTHS = 0.5
OUR_MODEL = (
    "This is our model, not a published rule: no source was found that gives a humidity to mount "
    "at for a gallery's year."
)


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


def season_words(begun: Sequence[Beginning], rh_pct: float) -> str:
    """Return what the season of mounting does, in one sentence."""
    if not begun:
        return "What the season of mounting does cannot be told: the record is no whole year."
    slack = [one.months_slack for one in begun]
    months = ", ".join(f"{one.months_slack:.1f} from {day(one.from_utc)}" for one in begun)
    if max(slack) - min(slack) < HARDLY_MONTHS:
        return f"The season of mounting hardly matters at {rh_pct:g} %RH: months slack {months}."
    best = min(begun, key=lambda one: one.months_slack)
    return (
        f"The season matters: mounted at {rh_pct:g} %RH it would have been slack for the fewest "
        f"months when begun on {day(best.from_utc)} (months slack {months})."
    )


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
    answer: str
    reasons: Sequence[str]
    assumed: Sequence[str]


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
        answer=_answer(points, best),
        reasons=[season_words(begun, middle.rh_pct), _damp_words(middle), *_sticky_words(best[1])],
        assumed=_assumed(work, air),
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
    plain = {f"{work.work_id} at {rh:g} %": mounted_at(work, rh, air) for rh in grid}
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


def _sticky_words(rh_pct: float) -> list[str]:
    """Return what speaks against mounting damp though the print would stay taut, where it does."""
    row = parameter("gelatin", "softening", "sticky")
    if rh_pct < row.value:
        return []
    return [
        f"Taut is not all: from about {row.value:g} %RH gelatin begins to turn sticky on long "
        "exposure and mould may start. The curve says nothing of either, and ends there."
    ]


def _room(air: RoomAir) -> Floats:
    return np.asarray((air.rh_low_pct + air.rh_high_pct) / 2.0)


def _answer(points: Sequence[MountingPoint], best: tuple[float, float]) -> str:
    dry, damp = points[0], points[-1]
    end = "damp" if best[1] == damp.rh_pct else "dry" if best[0] == dry.rh_pct else ""
    beyond = f", the {end} end of the curve" if end else ""
    if (dry.rh_pct, damp.rh_pct) == best:
        first = f"From {dry.rh_pct:g} to {damp.rh_pct:g} %RH no humidity can be told from the best"
    elif best[0] == best[1]:
        chance = max(point.p_best for point in points)
        word = "probably does" if chance > PROBABLY else "may do"
        first = f"It {word} best mounted near {best[0]:g} %RH{beyond}"
    else:
        first = (
            f"It may do best mounted at {best[0]:g} to {best[1]:g} %RH{beyond}; what is known of "
            "it does not tell those apart"
        )
    return (
        f"{first}. Mounted at {dry.rh_pct:g} % it would have been slack for about "
        f"{dry.year.months_slack.mid:.1f} months of {dry.year.look_first.judged_months:.1f}; at "
        f"{damp.rh_pct:g} % slack for {damp.year.months_slack.mid:.1f} and overtight for "
        f"{damp.year.months_overtight.mid:.1f}. The choice is the conservator's."
    )


def _damp_words(point: MountingPoint) -> str:
    plain, damp = point.year, point.damp
    return (
        f"Mounted damp at {point.rh_pct:g} %RH, so that it dries taut: slack for "
        f"{damp.months_slack.mid:.1f} months instead of {plain.months_slack.mid:.1f}, overtight "
        f"for {damp.months_overtight.mid:.1f} instead of {plain.months_overtight.mid:.1f}; peak "
        f"load {ranged(damp.peak_load_n_m, ' N/m')} instead of "
        f"{ranged(plain.peak_load_n_m, ' N/m')}. That is {ranged(damp.peak_load_pct, ' %')} of "
        f"what its hinges are taken to bear, and more than it in {in_hundred(damp.p_overloaded)} "
        f"of the cases instead of {in_hundred(plain.p_overloaded)}: it stays flat longer and pulls "
        "its hinges harder."
    )


def _assumed(work: Work, air: RoomAir) -> list[str]:
    lines = [
        OUR_MODEL,
        f"Mounted on {day(start_utc(air))}, the first day of the year that is used.",
        "The coming year is like the last one.",
        "Slack: the sheet is longer than its panel by more than what buckles it. Overtight: the "
        "load on the hinges reaches what they are taken to bear for weeks.",
    ]
    if work.frame in NEEDS_CLOSING_RH:
        lines.append("The package is closed at the humidity of mounting.")
    if work.sun_or_spot:
        lines.append("Sun and spotlights are left out: they would have to be kept off.")
    return lines
