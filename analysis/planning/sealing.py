"""Seal or not: the same work in each frame build, with the humidity that closing now locks in.

The boards and the print of a sealed package hold nearly all its water, so with temperature its
humidity moves a little the other way than that of empty air: up when warmed, down when cooled.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum

import numpy as np

from analysis.air.moist_air import (
    dew_point_from_vapour_pressure_c,
    rh_from_vapour_pressure,
    vapour_pressure_pa,
)
from analysis.air.room_air import RoomAir
from analysis.answers.judgement import JudgementLimits
from analysis.chain.isotherm import psi_of, shift_factor
from analysis.errors import NotEnoughError
from analysis.harm.condensation import glazing_margin_k
from analysis.learning.posterior import Learned
from analysis.learning.weighted import weighted_range
from analysis.parameters import parameter
from analysis.planning.year import (
    YearSummary,
    draws_of,
    framed_anew,
    history_of,
    start_utc,
    years_of,
)
from analysis.results import Floats, History, Range
from analysis.simulation.phases import Phase
from analysis.works import FrameBuild, Glazing, Wall, Work

MOULD_RH_PCT = 85.0  # at the glass; where the margin of the cold-wall rule begins
BACK_WARMER_K = 3.0
MONTH_H = 30 * 24
HOUR = timedelta(hours=1)
HARDLY = 0.02  # a smaller difference of shares of the year is not called one
GLAZED_BUILDS = (FrameBuild.C, FrameBuild.D, FrameBuild.E, FrameBuild.F)


@dataclass(frozen=True)
class Package:
    """A sealed package closed at a humidity and a temperature.

    ``cooled_rh_pct`` and ``warmed_rh_pct`` are its humidity at the room's coldest and warmest.
    ``dew_k`` is how much colder than the package the glazing may be before water forms inside it,
    ``humid_k`` before the air at it passes 85 %RH. ``print_rh_pct`` is the humidity at a print that
    is 3 K cooler than the absorbent board behind it.
    """

    rh_pct: float
    temp_c: float
    coldest_c: float
    warmest_c: float
    cooled_rh_pct: float
    warmed_rh_pct: float
    dew_k: float
    humid_k: float
    print_rh_pct: float


def package(rh_pct: float, temp_c: float, coldest_c: float, warmest_c: float) -> Package:
    """Return what a package closed now would hold.

    Parameters
    ----------
    rh_pct, temp_c : float
        Humidity and temperature inside when it is closed.
    coldest_c, warmest_c : float
        Between which the room moves.
    """
    return Package(
        rh_pct=rh_pct,
        temp_c=temp_c,
        coldest_c=coldest_c,
        warmest_c=warmest_c,
        cooled_rh_pct=held_rh_pct(rh_pct, temp_c, coldest_c),
        warmed_rh_pct=held_rh_pct(rh_pct, temp_c, warmest_c),
        dew_k=float(glazing_margin_k(temp_c, rh_pct)),
        humid_k=humid_margin_k(temp_c, rh_pct),
        print_rh_pct=before_a_warmer_board_pct(rh_pct, temp_c, BACK_WARMER_K),
    )


def held_rh_pct(rh_pct: float, temp_c: float, now_c: float) -> float:
    """Return the humidity of a sealed package full of paper when its temperature changes [%].

    Examples
    --------
    >>> round(held_rh_pct(50.0, 20.0, 10.0), 2), round(held_rh_pct(50.0, 20.0, 30.0), 2)
    (46.26, 53.77)
    """
    psi = psi_of(rh_pct, temp_c)
    return 100.0 * psi * shift_factor(psi, now_c)


def humid_margin_k(temp_c: float, rh_pct: float, surface_rh_pct: float = MOULD_RH_PCT) -> float:
    """Return how much colder than the package a surface may be before it is that humid [K].

    Examples
    --------
    >>> round(humid_margin_k(20.0, 50.0), 1), round(humid_margin_k(20.0, 70.0), 1)
    (8.3, 3.1)
    """
    pressure = np.asarray(vapour_pressure_pa(temp_c, rh_pct))
    return temp_c - float(dew_point_from_vapour_pressure_c(pressure * 100.0 / surface_rh_pct))


def before_a_warmer_board_pct(rh_pct: float, temp_c: float, warmer_k: float) -> float:
    """Return the humidity at a print when the board behind it, which holds the water, is warmer.

    Examples
    --------
    >>> round(before_a_warmer_board_pct(50.0, 20.0, 0.0))
    50
    """
    board = held_rh_pct(rh_pct, temp_c, temp_c + warmer_k)
    pressure = vapour_pressure_pa(temp_c + warmer_k, board)
    return float(np.minimum(rh_from_vapour_pressure(temp_c, pressure), 100.0))


@dataclass(frozen=True)
class BuildYear:
    """The year of a work in one build; ``frame_rh_pct`` is its driest, usual and dampest."""

    build: FrameBuild
    half_time_h: Range
    year: YearSummary
    frame_rh_pct: Range
    history: History
    is_now: bool


class SealingWarning(StrEnum):
    """What speaks against closing now."""

    NO_TARGET = "nothing to compare with"
    FAR_FROM_TARGET = "far from its target"
    TOO_DAMP = "too damp"
    COLD_WALL = "a cold wall"
    SUN = "sun or a spotlight"


@dataclass(frozen=True)
class SealingComparison:
    """Builds compared; ``locked_in_rh_pct`` is what the frame holds at the last hour, as it is now.

    ``month_rh_pct`` is what it held over the last month: least, middle and most. ``warnings`` say
    what speaks against closing now.
    """

    work: Work
    air: RoomAir
    builds: Sequence[BuildYear]
    locked_in_rh_pct: Range
    month_rh_pct: Range
    package: Package
    target_rh_pct: float | None
    warnings: tuple[SealingWarning, ...]

    @property
    def hardly_differ(self) -> bool:
        """Whether the builds leave as much of the year in which to look first."""
        shares = [one.year.look_first.share for one in self.builds]
        return max(shares) - min(shares) < HARDLY

    @property
    def from_utc(self) -> datetime:
        """When each build is taken to be closed."""
        return start_utc(self.air)


def sealing_comparison(
    work: Work,
    air: RoomAir,
    *,
    target_rh_pct: float | None = None,
    n: int = 200,
    learned: Learned | None = None,
    limits: JudgementLimits | None = None,
) -> SealingComparison:
    """Return how a work would fare over a room's year in each glazed build.

    Parameters
    ----------
    work : Work
        Held by tension.
    air : RoomAir
        The room's last year; the package would be closed at its last hour.
    target_rh_pct : float, optional
        Humidity the package should hold [%]; default that of mounting.

    Raises
    ------
    OutOfRangeError
        If the work is not held by tension.
    NotEnoughError
        If no hour can be told.
    """
    bare = replace(work, sun_or_spot=False)
    now = history_of(bare, air, n, learned)
    locked = _known_last(now)
    target = work.mounted_rh_pct if target_rh_pct is None else target_rh_pct
    builds = _builds(bare, locked.mid, air, n, learned, limits)
    held = _package(locked, air)
    month = _month(now)
    return SealingComparison(
        work=work,
        air=air,
        builds=builds,
        locked_in_rh_pct=locked,
        month_rh_pct=month,
        package=held,
        target_rh_pct=target,
        warnings=_warnings(work, locked, target, held),
    )


def _builds(
    work: Work,
    closing_rh_pct: float,
    air: RoomAir,
    n: int,
    learned: Learned | None,
    limits: JudgementLimits | None,
) -> list[BuildYear]:
    builds = sorted({*GLAZED_BUILDS, work.frame})
    variants = {b.value: _in_build(work, b, closing_rh_pct, air) for b in builds}
    before = _until_closed(work, air)
    found = years_of(variants, air, n, learned, hourly_ranges=True, earlier=[before])
    weights = None if learned is None else learned.weights
    return [
        BuildYear(
            build=b,
            half_time_h=weighted_range(
                draws_of(variants[b.value], n, learned)["half_time_h"], weights
            ),
            year=found[b.value].summary(limits),
            frame_rh_pct=_extent(found[b.value].history),
            history=found[b.value].history,
            is_now=b is work.frame,
        )
        for b in builds
    ]


def _known_last(history: History) -> Range:
    """Return the humidity in the frame at the last hour.

    Raises
    ------
    NotEnoughError
        If that hour cannot be told.
    """
    if history.refused[-1]:
        raise NotEnoughError(
            read=f"work {history.work_id}",
            where="humidity in the frame at the last hour",
            found=f"cannot tell: {history.refused[-1]}",
            expected="an hour that can be told",
            action="See what would mend it on the page of the work.",
        )
    return Range(*(float(x) for x in history.frame_rh_pct[-1]))


def _extent(history: History) -> Range:
    """Return the lowest 5 % point, the median and the highest 95 % point of a year [%]."""
    judged = history.frame_rh_pct[history.refused == ""]
    return Range(
        float(judged[:, 0].min()), float(np.median(judged[:, 1])), float(judged[:, 2].max())
    )


def _month(history: History) -> Range:
    """Return the least, the middle and the most of the last month's middle draw [%]."""
    recent = history.frame_rh_pct[-MONTH_H:, 1]
    known: Floats = recent[np.isfinite(recent)]
    return Range(float(known.min()), float(np.median(known)), float(known.max()))


def _package(locked: Range, air: RoomAir) -> Package:
    temp = air.temp_c[air.measured]
    coldest, warmest = np.quantile(temp, (0.01, 0.99))
    return package(locked.mid, float(temp[-1]), float(coldest), float(warmest))


def _until_closed(work: Work, air: RoomAir) -> Phase:
    """Return the work in its present frame, until each build is closed, an hour into the year."""
    return Phase(replace(work, mounted_utc=_mounted(work, air)), start_utc(air) + HOUR)


def _mounted(work: Work, air: RoomAir) -> datetime | None:
    return None if work.mounted_utc is None else min(work.mounted_utc, start_utc(air))


def _in_build(work: Work, build: FrameBuild, closing_rh_pct: float, air: RoomAir) -> Work:
    start = start_utc(air)
    overrides = (
        work.overrides
        if build is work.frame
        else {
            k: v
            for k, v in work.overrides.items()
            if k not in ("half_time_h", "thermal_time_h", "board_mass_kg_m2", "back_permeance")
        }
    )
    glazing = Glazing.ACRYLIC if work.glazing is Glazing.NONE else work.glazing
    return replace(
        work if build is work.frame else framed_anew(work),
        frame=build,
        glazing=work.glazing if build is work.frame else glazing,
        mounted_utc=_mounted(work, air),
        closed_utc=start + HOUR,
        closing_rh_pct=closing_rh_pct,
        overrides=overrides,
    )


def _warnings(
    work: Work, locked: Range, target: float | None, held: Package
) -> tuple[SealingWarning, ...]:
    far = parameter("planning", "sealing", "far_from_target_pct").value
    near = parameter("planning", "sealing", "glazing_margin_k").value
    found = {
        SealingWarning.NO_TARGET: target is None,
        SealingWarning.FAR_FROM_TARGET: target is not None and abs(locked.mid - target) > far,
        SealingWarning.TOO_DAMP: held.humid_k < near,
        SealingWarning.COLD_WALL: work.wall is not Wall.INSIDE,
        SealingWarning.SUN: work.sun_or_spot,
    }
    return tuple(warning for warning, is_so in found.items() if is_so)
