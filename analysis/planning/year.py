"""What a room's year is to a work, as it is or in another guise.

First by the hour: the share of time in which to look first, which means what it means on the
round: the chance that something showed at any hour of the week up to now. Then draw by draw every
third day, from the states that a run leaves behind, so that months and peak loads have ranges over
the draws and not over the hours. Last in several guises, run together on the same draws, so that
only the guise differs: what was learned of a work goes with it as far as it is about the same
thing. A print mounted or framed anew is the same sheet, but has new hinges or a new frame; in
another room another logger measures the air. A work that was mounted before the year lives through
the same drawn years as in a judgement (`analysis.simulation.pasts`).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from hashlib import sha256

import numpy as np
import numpy.typing as npt

from analysis.air.room_air import RoomAir
from analysis.answers.judgement import JudgementLimits
from analysis.errors import NotEnoughError, OutOfRangeError
from analysis.learning.posterior import Learned
from analysis.learning.weighted import weighted_range
from analysis.results import Floats, History, Range
from analysis.simulation import layout
from analysis.simulation.checkpoints import Checkpoint, instant
from analysis.simulation.discrepancy import angle_at, delta_psi
from analysis.simulation.estimator import Run, run
from analysis.simulation.histories import gaps_before
from analysis.simulation.packing import fixed_rows, stack
from analysis.simulation.pasts import Pasts, pasts_of
from analysis.simulation.phases import DrawnPhase, Phase
from analysis.simulation.priors import Draws, draw, drawn_lately
from analysis.simulation.redraw import draws_from
from analysis.simulation.refusals import hourly_refusals, standing_refusal
from analysis.works import GLAZED, Mount, Work

HOURS_A_MONTH = 365.25 * 24.0 / 12.0
WEEKLY = ("visible_week", "clearance_week", "hinges_week")
Bools = npt.NDArray[np.bool_]
# An hour more than three days, so that every hour of the day has its turn.
EVERY = timedelta(hours=73)
ANEW = 1000  # number of a mounting or framing that is only planned
# doubts about a room's air
OF_A_ROOM = (
    "sensor_offset_pct",
    "gap_fill",
    "outdoor_temp_c",
    "frame_minus_logger_k",
    "logger_drift_pct_a",
    "past",
)
OF_A_WALL = ("wall_factor",)


@dataclass(frozen=True)
class Chances:
    """One work through time, by the hour: arrays of shape (h,).

    The chances are those of the week up to an hour; ``clearance`` is NaN where the depth in front
    of the print is not known. ``refused`` holds the key of the reason why nothing is said, or "".
    """

    work_id: str
    time_utc: npt.NDArray[np.datetime64]
    visible: Floats
    clearance: Floats
    hinges: Floats
    refused: npt.NDArray[np.str_]

    @property
    def judged(self) -> npt.NDArray[np.bool_]:
        """Whether anything can be said, by the hour."""
        return np.asarray(self.refused == "", dtype=np.bool_)

    def since(self, time_utc: datetime) -> "Chances":
        """Return the hours from an instant on."""
        first = np.searchsorted(self.time_utc, np.datetime64(int(time_utc.timestamp()), "s"))
        names = ("time_utc", "visible", "clearance", "hinges", "refused")
        return replace(self, **{name: getattr(self, name)[first:] for name in names})


@dataclass(frozen=True)
class LookFirst:
    """The share of a stretch of time in which a work would have stood on the first list.

    Shares are of the hours that can be told, and an hour with two reasons counts under each.
    ``clearance`` is None where the spacer is not known. ``refused`` gives, by reason, the share of
    all hours that cannot be told; where that is all of them, shares are NaN.
    """

    share: float
    visible: float
    clearance: float | None
    hinges: float
    judged_months: float
    refused: Mapping[str, float]

    @property
    def judged(self) -> bool:
        """Whether anything can be said."""
        return self.judged_months > 0.0

    @property
    def refused_share(self) -> float:
        """Share of all hours that cannot be told."""
        return sum(self.refused.values())


@dataclass(frozen=True)
class YearSummary:
    """A year in a few numbers; ranges are over the draws: 5, 50, 95 %.

    Months and the peak load count the hours that can be told, of which there are
    ``look_first.judged_months``. ``peak_load_pct`` is the peak load in per cent of what the hinges
    are taken to bear for a short while, ``p_overloaded`` the share of the draws that pass it.
    """

    work_id: str
    look_first: LookFirst
    months_slack: Range
    months_overtight: Range
    peak_load_n_m: Range
    peak_load_pct: Range
    p_overloaded: float


def chances_of(work: Work, air: RoomAir, found: Run) -> Chances:
    """Return what a run says of one work by the hour, refused hours named."""
    sums = found.hourly[work.work_id]
    rows = layout.indices(layout.SUMS)
    visible, clearance, hinges = (sums[rows[name]].astype(np.float64) for name in WEEKLY)
    if work.frame in GLAZED and work.spacer_mm is None and "gap_mm" not in work.overrides:
        clearance = np.full_like(clearance, np.nan)
    standing = standing_refusal(work, air.interval_s)
    refused = hourly_refusals(standing, sums, gaps_before(air, found.time_utc))
    return Chances(work.work_id, found.time_utc, visible, clearance, hinges, refused)


def look_first(chances: Chances, limits: JudgementLimits | None = None) -> LookFirst:
    """Return the share of time in which a work would have stood on the first list, by reason."""
    limit, judged = limits or JudgementLimits(), chances.judged
    visible = chances.visible[judged] > limit.first_visible
    near = chances.clearance[judged] > limit.first_clearance
    giving_way = chances.hinges[judged] > limit.first_hinges
    known = bool(np.isfinite(chances.clearance[judged]).any())
    return LookFirst(
        share=_share(visible | near | giving_way),
        visible=_share(visible),
        clearance=_share(near) if known else None,
        hinges=_share(giving_way),
        judged_months=float(judged.sum()) * step_months(chances.time_utc),
        refused=refused_shares(chances),
    )


def _share(hours: npt.NDArray[np.bool_]) -> float:
    return float(hours.mean()) if len(hours) else float("nan")


def refused_shares(chances: Chances) -> dict[str, float]:
    """Return, by reason, the share of hours that cannot be told; the commonest reason first."""
    judged = chances.judged
    if judged.all():
        return {}
    keys, counts = np.unique(chances.refused[~judged], return_counts=True)
    order = np.argsort(-counts, kind="stable")
    return {str(keys[i]): float(counts[i]) / len(chances.refused) for i in order}


def step_months(time_utc: npt.NDArray[np.datetime64]) -> float:
    """Return how many months one hour of the grid stands for."""
    step = np.diff(time_utc[:2]).astype("timedelta64[s]").astype(float)
    return (float(step[0]) / 3600.0 if len(step) else 1.0) / HOURS_A_MONTH


@dataclass(frozen=True)
class DrawYear:
    """One work's draws through a year, arrays of shape (instants, n)."""

    times_utc: Sequence[datetime]
    slack: Bools
    overtight: Bools
    hinge_load_n_m: Floats
    load_of_capacity: Floats
    weights: Floats | None

    def judged(self, chances: Chances) -> "DrawYear":
        """Return the same with those instants only of which anything can be said.

        Raises
        ------
        NotEnoughError
            If there is none.
        """
        stamps = np.array([np.datetime64(int(t.timestamp()), "s") for t in self.times_utc])
        row = np.searchsorted(chances.time_utc, stamps)
        keep = np.flatnonzero(chances.judged[np.minimum(row, len(chances.judged) - 1)])
        if not len(keep):
            reasons = ", ".join(refused_shares(chances)) or "an empty record"
            raise NotEnoughError(
                read=f"work {chances.work_id}",
                where="the room's year",
                found=f"no three days that can be told ({reasons})",
                expected="weeks with a number",
                action="Bring in more of the room's record, or enter what is missing for it.",
            )
        return DrawYear(
            [self.times_utc[int(i)] for i in keep],
            self.slack[keep],
            self.overtight[keep],
            self.hinge_load_n_m[keep],
            self.load_of_capacity[keep],
            self.weights,
        )


def sample_times(air: RoomAir) -> list[datetime]:
    """Return an instant every third day of a room's air.

    Raises
    ------
    NotEnoughError
        If the air is shorter than three days.
    """
    first, last = instant(air.time_utc[0]), instant(air.time_utc[-1])
    times = [first + i * EVERY for i in range(1, int((last - first) / EVERY) + 1)]
    if not times:
        raise NotEnoughError(
            read="the room's year",
            where=f"{first:%Y-%m-%d %H:%M} to {last:%Y-%m-%d %H:%M} UTC",
            found=f"{air.hours} hours",
            expected="weeks, better a whole year",
            action="Bring in more of the room's record, or choose another room.",
        )
    return times


def draw_years(
    works: Sequence[Work],
    draws: Mapping[str, Draws],
    checkpoints: Sequence[Checkpoint],
    weights: Mapping[str, Floats] | None,
) -> dict[str, DrawYear]:
    """Return what each work's draws show at the checkpoints of a run."""
    fixed = fixed_rows(stack(works, draws, weights))
    found = {}
    for i, work in enumerate(works):
        at = {name: fixed[i, row] for row, name in enumerate(layout.FIXED)}
        kept = [point for point in checkpoints if work.work_id in point.states]
        states = np.stack([point.states[work.work_id] for point in kept], axis=1)
        state = {name: states[row] for row, name in enumerate(layout.STATE)}
        share = None if weights is None else weights.get(work.work_id)
        found[work.work_id] = _draw_year([p.time_utc for p in kept], at, state, share)
    return found


def _draw_year(
    times: Sequence[datetime],
    at: Mapping[str, Floats],
    state: Mapping[str, Floats],
    weights: Floats | None,
) -> DrawYear:
    share = at["image_share"]
    psi = share * state["psi_image"] + (1.0 - share) * state["psi_core"]
    soft = np.exp(-at["soften"] * (psi - 0.5))
    delta = delta_psi(at, state, np.array([[angle_at(when)] for when in times]))
    slack = np.zeros(psi.shape, dtype=np.bool_)
    tight, loads, shares = slack.copy(), np.zeros(psi.shape), np.zeros(psi.shape)
    for axis in ("md", "cd"):
        above = state[f"above_{axis}"] + at[f"beta_{axis}"] * delta
        reserve = at[f"gain_{axis}"] * np.maximum(above, 0.0) * soft
        slack |= -above > at["buckle"]
        tight |= reserve >= at[f"sustain_{axis}"]
        loads = np.maximum(loads, at[f"ea_{axis}"] * reserve)
        shares = np.maximum(shares, at[f"load_{axis}"] * np.maximum(above, 0.0) * soft)
    return DrawYear(times, slack, tight, loads, shares, weights)


def year_summary(
    chances: Chances, year: DrawYear, limits: JudgementLimits | None = None
) -> YearSummary:
    """Return a work's year in a few numbers.

    Raises
    ------
    NotEnoughError
        If every hour is refused; the reasons are quoted.
    """
    first = look_first(chances, limits)
    judged = year.judged(chances)

    peak = judged.load_of_capacity.max(axis=0)

    def months(of: Bools) -> Range:
        return weighted_range(of.mean(axis=0) * first.judged_months, year.weights)

    return YearSummary(
        work_id=chances.work_id,
        look_first=first,
        months_slack=months(judged.slack),
        months_overtight=months(judged.overtight),
        peak_load_n_m=weighted_range(judged.hinge_load_n_m.max(axis=0), year.weights),
        peak_load_pct=weighted_range(100.0 * peak, year.weights),
        p_overloaded=float(np.average(peak >= 1.0, weights=year.weights)),
    )


def start_utc(air: RoomAir) -> datetime:
    """Return the first hour of a room's air."""
    return instant(air.time_utc[0])


def require_tension_held(work: Work) -> None:
    """Raise unless a work is held by tension.

    Raises
    ------
    OutOfRangeError
        If it is bonded, hung by corners or in a window mount: it cannot go slack.
    """
    if work.mount is not Mount.TENSION_HELD:
        raise OutOfRangeError(
            read=f"work {work.work_id}",
            where="mount",
            found=work.mount.value,
            expected=Mount.TENSION_HELD.value,
            action="Plan only for prints held by tension; correct the register if it is one.",
        )


def mounted_anew(work: Work) -> Work:
    """Return a work whose hinges and pre-strain are those of a mounting to come."""
    return replace(work, mounting_no=ANEW)


def framed_anew(work: Work) -> Work:
    """Return a work whose half-time and closing are those of a framing to come."""
    return replace(work, framing_no=ANEW, conditioned=False)


def draws_of(
    work: Work, n: int, learned: Learned | None = None, *, elsewhere: bool = False
) -> Draws:
    """Return the draws of a work as it would be, with what was learned of it as it is.

    Parameters
    ----------
    elsewhere : bool
        In another room or on another wall than where it was learned.
    """
    if learned is None:
        return draw(work, n)
    gone = (*OF_A_ROOM, *OF_A_WALL) if elsewhere else ()
    levels = {name: level for name, level in learned.levels.items() if name not in gone}
    digest = sha256()  # a plan asks for the same again in every room
    for name, level in levels.items():
        digest.update(name.encode() + level.tobytes())
    return drawn_lately(
        digest.hexdigest(), work, len(learned.weights), lambda: draws_from(work, levels)
    )


@dataclass(frozen=True)
class VariantYear:
    """One guise of a work through a room's year; the history has hours only where asked for."""

    chances: Chances
    draws: DrawYear
    history: History

    def months_unfit(self) -> Floats:
        """Return for how many months each draw is slack or overtight, shape (n,)."""
        judged = self.draws.judged(self.chances)
        share = (judged.slack | judged.overtight).mean(axis=0)
        return np.asarray(share * look_first(self.chances).judged_months)

    def summary(self, limits: JudgementLimits | None = None) -> YearSummary:
        """Return the year in a few numbers, with ranges over the draws.

        Raises
        ------
        NotEnoughError
            If no hour can be told.
        """
        return year_summary(self.chances, self.draws, limits)


def years_of(
    variants: Mapping[str, Work],
    air: RoomAir,
    n: int,
    learned: Learned | None = None,
    *,
    hourly_ranges: bool = False,
    pasts: Pasts | None = None,
    earlier: Sequence[Phase] = (),
) -> dict[str, VariantYear]:
    """Return a room's year for each variant of one work.

    Parameters
    ----------
    variants : mapping of str to Work
        Name → the work as it would be; all with the same ``work_id``, so that they share draws.
    air : RoomAir
        The room's year.
    n : int
        Draws, where nothing was learned.
    learned : Learned, optional
        What inspections taught of the work.
    hourly_ranges : bool
        Whether ranges by the hour are wanted; they cost three times the run itself.
    pasts : Pasts, optional
        What the room's air may have been before the year; default that of ``air``.
    earlier : sequence of Phase
        How the work was before, in every guise.
    """
    works, draws, weights = _as_works(variants, n, learned)
    phases = {
        name: tuple(
            DrawnPhase(
                replace(one.work, work_id=name),
                one.until_utc,
                replace(draws_of(one.work, n, learned), work_id=name),
            )
            for one in earlier
        )
        for name in variants
    }
    found = run(
        works,
        draws,
        air,
        weights=weights,
        detail_from=instant(air.time_utc[0 if hourly_ranges else -1]),
        week_starts=sample_times(air),
        earlier=phases if earlier else None,
        pasts=pasts or pasts_of(air),
    )
    years = draw_years(works, draws, found.checkpoints, weights)
    return {
        work.work_id: VariantYear(
            chances_of(work, air, found), years[work.work_id], found.histories[work.work_id]
        )
        for work in works
    }


def history_of(work: Work, air: RoomAir, n: int, learned: Learned | None = None) -> History:
    """Return a work's hours through a room's year, with their ranges."""
    works, draws, weights = _as_works({work.work_id: work}, n, learned)
    found = run(
        works,
        draws,
        air,
        weights=weights,
        detail_from=start_utc(air),
        keep_weeks=0,
        pasts=pasts_of(air),
    )
    return found.histories[work.work_id]


def months_slack(work: Work, air: RoomAir, n: int, learned: Learned | None = None) -> float:
    """Return for how many months of a room's year a work would be slack, on average of its draws.

    Quicker than `years_of`, without a range.
    """
    works, draws, weights = _as_works({work.work_id: work}, n, learned)
    end = instant(air.time_utc[-1])
    found = run(
        works, draws, air, weights=weights, detail_from=end, keep_weeks=0, pasts=pasts_of(air)
    )
    slack = found.hourly[work.work_id][layout.SUMS.index("slack")]
    judged = chances_of(work, air, found).judged
    return float(slack[judged].sum()) * step_months(found.time_utc)


def _as_works(
    variants: Mapping[str, Work], n: int, learned: Learned | None
) -> tuple[list[Work], dict[str, Draws], dict[str, Floats] | None]:
    """Return variants as works of their own names, with the draws and weights of the one work."""
    for work in variants.values():
        require_tension_held(work)
    works = [replace(work, work_id=name) for name, work in variants.items()]
    draws = {
        name: replace(draws_of(work, n, learned), work_id=name) for name, work in variants.items()
    }
    return works, draws, None if learned is None else dict.fromkeys(variants, learned.weights)
