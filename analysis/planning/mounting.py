"""When to mount, at which humidity: the room's year for each humidity at mounting."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.errors import NotEnoughError, OutOfRangeError
from analysis.learning import Learned
from analysis.parameters import parameter
from analysis.planning.variants import start_utc, years_of
from analysis.planning.year import ListLimits, YearSummary
from analysis.room_air import RoomAir
from analysis.works import NEEDS_CLOSING_RH, Work


@dataclass(frozen=True)
class MountingPoint:
    """The year of a work mounted at one humidity."""

    rh_pct: float
    year: YearSummary


@dataclass(frozen=True)
class MountingCurve:
    """Months slack, months overtight and peak load by humidity at mounting. No pick is made."""

    work: Work
    points: Sequence[MountingPoint]
    mounted_rh_pct: float | None
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
    limits: ListLimits | None = None,
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
        Humidities [%]; default those of ``planning.toml``.
    learned : Learned, optional
        What inspections taught of the work.

    Raises
    ------
    OutOfRangeError
        If the work is not held by tension, or a humidity is none.
    NotEnoughError
        If no hour of the year can be told.
    """
    grid = mounting_grid_pct() if rh_pct is None else list(rh_pct)
    for rh in grid:
        _require_humidity(rh)
    variants = {f"{work.work_id} at {rh:g} %": _mounted_at(work, rh, air) for rh in grid}
    found = years_of(variants, air, n, learned)
    years = [found[name].summary(limits) for name in variants]
    points = [MountingPoint(rh, year) for rh, year in zip(grid, years, strict=True)]
    if not points:
        raise NotEnoughError(
            read="mounting curve",
            where="humidities",
            found="none",
            expected="one or more",
            action="Give the humidities to compare.",
        )
    return MountingCurve(
        work=work,
        points=points,
        mounted_rh_pct=work.mounted_rh_pct,
        answer=_answer(points),
        reasons=_reasons(points),
        assumed=_assumed(work, air),
    )


def _require_humidity(rh_pct: float) -> None:
    if not 0.0 < rh_pct < 100.0:
        raise OutOfRangeError(
            read="mounting curve",
            where="humidity at mounting",
            found=f"{rh_pct:g} %",
            expected="between 0 and 100 %",
            action="Correct the option.",
        )


def _mounted_at(work: Work, rh_pct: float, air: RoomAir) -> Work:
    start = start_utc(air)
    sealed = work.frame in NEEDS_CLOSING_RH
    overrides = {k: v for k, v in work.overrides.items() if k != "mounted_rh_pct"}
    return replace(
        work,
        mounted_utc=start,
        mounted_rh_pct=rh_pct,
        closed_utc=start if sealed else None,
        closing_rh_pct=rh_pct if sealed else None,
        sun_or_spot=False,
        overrides=overrides,
    )


def _answer(points: Sequence[MountingPoint]) -> str:
    dry, damp = points[0], points[-1]
    return (
        f"Mounted at {dry.rh_pct:g} %RH it would have been slack for about "
        f"{dry.year.months_slack.mid:.1f} months of the {dry.year.told_months:.1f} that can be "
        f"told; at {damp.rh_pct:g} %RH for about {damp.year.months_slack.mid:.1f}. "
        "The choice is the conservator's."
    )


def _reasons(points: Sequence[MountingPoint]) -> list[str]:
    return [
        f"At {p.rh_pct:g} %RH: slack {p.year.months_slack.mid:.1f} months "
        f"({p.year.months_slack.low:.1f} to {p.year.months_slack.high:.1f}), overtight "
        f"{p.year.months_overtight.mid:.1f} ({p.year.months_overtight.low:.1f} to "
        f"{p.year.months_overtight.high:.1f}), peak load {p.year.peak_load_n_m.mid:.0f} N/m "
        f"({p.year.peak_load_n_m.low:.0f} to {p.year.peak_load_n_m.high:.0f})."
        for p in points
    ]


def _assumed(work: Work, air: RoomAir) -> list[str]:
    lines = [
        f"Mounted on {start_utc(air):%Y-%m-%d}, the first day of the year that is used.",
        "The coming year is like the last one.",
        "Overtight: the load on the hinges reaches what they are taken to bear for weeks.",
    ]
    if work.frame in NEEDS_CLOSING_RH:
        lines.append("The package is closed at the humidity of mounting.")
    if work.sun_or_spot:
        lines.append("Sun and spotlights are left out: they would have to be kept off.")
    return lines
