"""Seal or not: the same work in each frame build, with the humidity that closing now locks in."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from analysis.learning import Learned
from analysis.parameters import parameter
from analysis.planning.variants import draws_of, start_utc, years_of
from analysis.planning.year import ListLimits, YearSummary
from analysis.results import Floats, Range
from analysis.room_air import RoomAir
from analysis.weighted import weighted_range
from analysis.works import FRAME_WORDS, FrameBuild, Glazing, Wall, Work

GLAZED_BUILDS = (FrameBuild.C, FrameBuild.D, FrameBuild.E, FrameBuild.F)


@dataclass(frozen=True)
class BuildYear:
    """The year of a work in one build."""

    build: FrameBuild
    words: str
    half_time_h: Range
    year: YearSummary
    is_now: bool


@dataclass(frozen=True)
class SealingComparison:
    """Builds compared; ``locked_in_rh_pct`` is what the package holds at the last hour."""

    work: Work
    builds: Sequence[BuildYear]
    locked_in_rh_pct: Range
    target_rh_pct: float | None
    warnings: Sequence[str]
    answer: str
    assumed: Sequence[str]


def sealing_comparison(
    work: Work,
    air: RoomAir,
    *,
    target_rh_pct: float | None = None,
    n: int = 200,
    learned: Learned | None = None,
    limits: ListLimits | None = None,
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
    now = years_of({work.work_id: bare}, air, n, learned)[work.work_id].history
    locked = _last(now.frame_rh_pct)
    target = work.mounted_rh_pct if target_rh_pct is None else target_rh_pct
    builds = list(dict.fromkeys((*GLAZED_BUILDS, work.frame)))
    variants = {b.value: _in_build(bare, b, locked.mid, air) for b in builds}
    found = years_of(variants, air, n, learned)
    years = []
    for b in sorted(builds):
        half_time = _half_time(variants[b.value], n, learned)
        year = found[b.value].summary(limits)
        years.append(BuildYear(b, FRAME_WORDS[b], half_time, year, b is work.frame))
    return SealingComparison(
        work=work,
        builds=years,
        locked_in_rh_pct=locked,
        target_rh_pct=target,
        warnings=_warnings(work, locked, target),
        answer=_answer(years, locked),
        assumed=_assumed(air),
    )


def _half_time(work: Work, n: int, learned: Learned | None) -> Range:
    weights = None if learned is None else learned.weights
    return weighted_range(draws_of(work, n, learned)["half_time_h"], weights)


def _last(rh_pct: Floats) -> Range:
    return Range(*(float(x) for x in rh_pct[-1]))


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
    mounted = work.mounted_utc if work.mounted_utc and work.mounted_utc <= start else start
    return replace(
        work,
        frame=build,
        glazing=work.glazing if build is work.frame else glazing,
        mounted_utc=mounted,
        closed_utc=start,
        closing_rh_pct=closing_rh_pct,
        overrides=overrides,
    )


def _warnings(work: Work, locked: Range, target: float | None) -> list[str]:
    found = []
    far = parameter("planning", "sealing", "far_from_target_pct").value
    if target is None:
        found.append("The humidity of mounting is not known: nothing to compare the package with.")
    elif abs(locked.mid - target) > far:
        side = "above" if locked.mid > target else "below"
        found.append(
            f"Closed now, a sealed package would keep about {locked.mid:.0f} %RH, "
            f"{abs(locked.mid - target):.0f} %RH {side} its target of {target:.0f} %RH: "
            "let it rest in air at the target first."
        )
    if work.wall is not Wall.INSIDE:
        found.append(
            f"It hangs on an {work.wall.value}: in a sealed package on a cold wall the back and "
            "the front differ in temperature, and water may move towards the cold side."
        )
    if work.sun_or_spot:
        found.append("Sun or a spotlight reaches it: a sealed package in the sun is not estimated.")
    return found


def _answer(years: Sequence[BuildYear], locked: Range) -> str:
    parts = [f"{y.words}: {100 * y.year.look_first_share:.0f} % of the year" for y in years]
    return (
        "Share of the last year in which to look first: "
        + "; ".join(parts)
        + f". Closing today would lock in about {locked.mid:.0f} %RH "
        f"({locked.low:.0f} to {locked.high:.0f})."
    )


def _assumed(air: RoomAir) -> list[str]:
    return [
        f"Each build closed on {start_utc(air):%Y-%m-%d} at the humidity that today would lock in.",
        "The coming year is like the last one.",
        "Half-times are class defaults unless one was fitted for this frame as it is now.",
    ]
