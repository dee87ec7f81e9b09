"""The chain behind one work at one hour: room → frame → print → tension → surface, as numbers."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cached_property

import numpy as np

from analysis.air.room_air import RoomAir, part_of, unchecked_years
from analysis.answers.chain_quantities import QUANTITIES, Quantity, acting, holds
from analysis.answers.judgement import air_now
from analysis.answers.sensitivity import Doubts, Ends, Influence, ends
from analysis.errors import NotEnoughError
from analysis.learning.weighted import weighted_range
from analysis.results import AirNow, Floats, History, Range
from analysis.simulation.chain_state import AXES
from analysis.simulation.checkpoints import Checkpoint, instant
from analysis.simulation.estimator import run
from analysis.simulation.packing import heat_scale, psi_from, stack
from analysis.simulation.pasts import pasts_of
from analysis.simulation.phases import DrawnPhase
from analysis.simulation.priors import Draws
from analysis.simulation.ranges import LEVELS
from analysis.works import GLAZED, Work

HOUR = timedelta(hours=1)
WEEK = timedelta(days=8)  # the week that a judgement looks at, and a day before it
NAMED = 5
LITTLE = 0.05  # a smaller share of what is uncertain is no cause


@dataclass(frozen=True)
class Link:
    """One step of the chain: a quantity with its range, and what decides it most.

    Parameters
    ----------
    step, quantity, unit, name : str
        As `analysis.answers.chain_quantities.Quantity`.
    value : Range
        By the same rule as the histories' ranges.
    influences : sequence of Influence
        The first five, strongest first.
    ends : Ends or None
        What the quantity is at the lowest and the highest fifth of the parameter that matters
        most; None where none does.
    narrower : mapping of str to float
        Parameter → by which share the range would be narrower if it were known; empty where that
        was not worked out (see `analysis.answers.value_of_information`).
    against : float or None
        What the number is read against: the RH at mounting, the slope that is seen.
    holds : bool
        False where the reason for which the work cannot be judged touches this number.
    """

    step: str
    quantity: str
    value: Range
    unit: str
    influences: Sequence[Influence] = ()
    name: str = ""
    decimals: int = 0
    leading: bool = False
    ends: Ends | None = None
    narrower: Mapping[str, float] = field(default_factory=dict)
    against: float | None = None
    holds: bool = True

    @property
    def named(self) -> str:
        """The parameter that matters most, or "" where none clearly does."""
        return "" if self.ends is None else self.influences[0].name


@dataclass(frozen=True)
class Chain:
    """The links of one work at one hour.

    ``refused`` is the key of the reason why no judgement rests on it, or ""; ``history`` is that of
    the week up to the hour, ``work`` the work as it was then, ``effective`` how
    many draws count: light ones and those taken twice after learning count little. ``measured`` is
    what the room's loggers read at that hour, ``half_time_h`` and ``seen_mrad`` the ranges of the
    frame's half-time and of the slope at which a wave is seen. `dashboards.text.reasons` words it.
    """

    work_id: str
    at_utc: datetime
    links: Sequence[Link]
    refused: str
    history: History
    work: Work
    effective: float
    measured: AirNow
    half_time_h: Range
    seen_mrad: Range

    @property
    def leading(self) -> list[Link]:
        """The one or two links that stand for each step."""
        return [link for link in self.links if link.leading]

    def link(self, name: str) -> Link:
        """Return the link of that name, or raise KeyError."""
        return {link.name: link for link in self.links}[name]


def explain(
    work: Work,
    draws: Draws,
    air: RoomAir,
    at_utc: datetime,
    weights: Floats | None = None,
    *,
    since: Checkpoint | None = None,
    earlier: Sequence[DrawnPhase] = (),
) -> Chain:
    """Return the chain of one work at one hour.

    Parameters
    ----------
    work : Work
        Held by tension.
    draws : Draws
        From `priors.draw` or from learning.
    air : RoomAir
        The room from well before that hour on.
    at_utc : datetime
        The hour, with its zone.
    weights : array, shape (n,), optional
        Weights of the draws after learning.
    since : Checkpoint, optional
        A state before that hour to go on from; the chain is the same to the bit as from the start.
    earlier : sequence of DrawnPhase, optional
        How the work was mounted, framed and hung before, oldest first: the chain is told of the
        phase in which the hour lies.

    Raises
    ------
    NotEnoughError
        If the work was not mounted then, or is not held by tension, or if the air does not reach
        from the hour before to that hour.
    """
    work, draws, before = as_it_was(work, draws, earlier, at_utc)
    key, part = work.work_id, air_until(work, air, at_utc)
    found = run(
        [work],
        {key: draws},
        part,
        since=since,
        weights=None if weights is None else {key: weights},
        detail_from=at_utc - WEEK,
        probe={key: [at_utc]},
        week_starts=[at_utc],  # no stop at the weeks in between
        keep_weeks=0,
        earlier={key: before},
        pasts=pasts_of(air),
    )
    probes = {name: values[0] for name, values in found.probes.get(key, {}).items()}
    _require_explainable(work, probes, at_utc)
    history = found.histories[key]
    known = quantities_of(work, draws, part, probes)
    idle = idle_warmth(draws, known, weights)
    teller = _Teller(work, draws, part, weights, str(history.refused[-1]), idle)
    links = [teller.link(one, known[one.name]) for one in QUANTITIES if one.name in known]
    return Chain(
        work_id=key,
        at_utc=at_utc,
        links=links,
        refused=teller.refused,
        history=history,
        work=work,
        effective=teller.doubts.effective,
        measured=air_now(part, at_utc),
        half_time_h=teller.middle("half_time_h"),
        seen_mrad=teller.middle("visible_slope_mrad"),
    )


def as_it_was(
    work: Work, draws: Draws, earlier: Sequence[DrawnPhase], at_utc: datetime
) -> tuple[Work, Draws, Sequence[DrawnPhase]]:
    """Return the work as it was at an hour, its draws then, and its phases before that."""
    before = [phase for phase in earlier if phase.until_utc <= at_utc]
    if len(before) == len(earlier):
        return work, draws, before
    phase = earlier[len(before)]
    return phase.work, phase.draws, before


def air_until(work: Work, air: RoomAir, at_utc: datetime) -> RoomAir:
    """Return the air up to and including an hour."""
    hour = int(at_utc.timestamp())
    count = int(np.searchsorted(air.time_utc, np.datetime64(hour, "s"), "right"))
    last = instant(air.time_utc[-1])
    if count < 2 or at_utc >= last + HOUR:
        raise NotEnoughError(
            read=f"work {work.work_id}",
            where=f"{at_utc:%Y-%m-%d %H:%M} UTC",
            found=f"air of its rooms from {instant(air.time_utc[0]):%Y-%m-%d %H:%M} to "
            f"{last:%Y-%m-%d %H:%M} UTC",
            expected="an hour that the air leads up to",
            action="Ask for an hour of the record.",
        )
    return part_of(air, slice(count))


def _require_explainable(work: Work, probes: Mapping[str, Floats], at_utc: datetime) -> None:
    if not probes or not np.isfinite(probes["slope_mrad"]).all():
        raise NotEnoughError(
            read=f"work {work.work_id}",
            where=f"{at_utc:%Y-%m-%d %H:%M} UTC",
            found=f"{work.mount.value}, mounted {work.mounted_utc or 'at a time not recorded'}",
            expected="a print held by tension, mounted by then",
            action="Ask for a later hour, or correct the register.",
        )


def quantities_of(
    work: Work, draws: Draws, air: RoomAir, probes: Mapping[str, Floats]
) -> dict[str, Floats]:
    """Return every quantity of the chain that exists for this work, draw by draw.

    Parameters
    ----------
    air : RoomAir
        Up to the hour.
    probes : mapping of str to ndarray, shape (n,)
        At that hour, as `analysis.simulation.chain_state.probe_state`.
    """
    low, high = air.rh_low_pct[-1], air.rh_high_pct[-1]
    capacity = draws["hinge_capacity_n_m"] * draws["hinge_coverage"]
    drifted = draws["logger_drift_pct_a"] * unchecked_years(air)[-1]
    offset = draws["sensor_offset_pct"] + drifted
    known = {
        **probes,
        **free_movements(work, draws, probes),
        "prestrain": draws["prestrain"],
        "room_rh_pct": low + draws["gap_fill"] * (high - low) + offset,
        "room_temp_c": np.full(draws.n, air.temp_c[-1]),
        "hinge_load_pct": 100.0 * np.maximum(probes["tension_md"], probes["tension_cd"]) / capacity,
    }
    if work.frame in GLAZED and np.isfinite(draws["gap_mm"]).all():
        known["clearance_mm"] = draws["gap_mm"] - probes["wave_mm"]
    if not draws["image_share"].any():
        del known["core_rh_pct"], known["image_rh_pct"]
    return known


def idle_warmth(
    draws: Draws, known: Mapping[str, Floats], weights: Floats | None = None
) -> frozenset[str]:
    """Return the movements with warmth that do next to nothing at an hour, by name.

    Their own effect is the range of the movement times the change of temperature since mounting.
    Where that is less than a twentieth of the range of the stretch that is left, it is no cause,
    however well it goes along with one that acts.
    """
    warmer = np.abs(known["temp_c"] - draws["mounted_temp_c"])
    found = []
    for axis in ("md", "cd"):
        left = _width(known[f"left_{axis}"], weights)
        for name in (f"alpha_{axis}", f"panel_alpha_along_{axis}"):
            moved = _width(draws[name], weights) * range_of(warmer, weights).mid
            found += [name] if moved < LITTLE * left else []
    return frozenset(found)


def _width(values: Floats, weights: Floats | None) -> float:
    found = range_of(values, weights)
    return found.high - found.low


@dataclass(frozen=True)
class _Teller:
    """What a link is told with: the work, its draws and their weights, the air up to the hour."""

    work: Work
    draws: Draws
    air: RoomAir
    weights: Floats | None
    refused: str
    idle: Collection[str] = ()

    @cached_property
    def doubts(self) -> Doubts:
        """The draws of every parameter that is known."""
        values = self.draws.values
        known = {name: array for name, array in values.items() if np.isfinite(array).all()}
        return Doubts(known, self.weights)

    def link(self, quantity: Quantity, values: Floats) -> Link:
        """Return one link: its range, and what matters most to it."""
        doubts, shown, weights = self.doubts, values * quantity.times, self.weights
        names = [name for name in doubts.values if name not in self.idle]
        found = doubts.influences(shown, acting(quantity, names))
        first = found[0] if found and found[0].clear else None
        value = range_of(shown, weights)
        return Link(
            step=quantity.step,
            quantity=quantity.words,
            value=value,
            unit=quantity.unit,
            influences=found[:NAMED],
            name=quantity.name,
            decimals=quantity.decimals,
            leading=quantity.leading,
            ends=None if first is None else ends(doubts.values[first.name], shown, weights),
            against=self.against(quantity),
            holds=holds(quantity, self.refused),
        )

    def against(self, quantity: Quantity) -> float | None:
        """Return what a number is read against: mounting, slack, the slope that is seen."""
        if quantity.name in ("room_rh_pct", "frame_rh_pct", "print_rh_pct"):
            return self.work.mounted_rh_pct
        if quantity.name == "slope_mrad":
            return self.middle("visible_slope_mrad").mid
        return 0.0 if quantity.name == "headroom_up_pct" else None

    def middle(self, name: str) -> Range:
        """Return the range of a parameter."""
        return weighted_range(self.draws[name], self.weights)


def range_of(values: Floats, weights: Floats | None) -> Range:
    """Return the 5, 50 and 95 % points: the least draws whose share of weight reaches them.

    It is the rule of the histories' ranges, which the loop resolves to a thousandth of their span.

    Examples
    --------
    >>> range_of(np.arange(1.0, 101.0), None)
    Range(low=5.0, mid=50.0, high=95.0)
    """
    share = np.full(len(values), 1.0 / len(values)) if weights is None else weights / weights.sum()
    order = np.argsort(values, kind="stable")
    at = np.searchsorted(np.cumsum(share[order]), LEVELS)
    points = values[order][np.minimum(at, len(values) - 1)]
    return Range(*(float(point) for point in points))


def free_movements(work: Work, draws: Draws, probes: Mapping[str, Floats]) -> dict[str, Floats]:
    """Return how print and panel have moved since mounting, left to themselves.

    Parameters
    ----------
    work : Work
        Held by tension.
    draws : Draws
        Those the probes were run with.
    probes : mapping of str to ndarray, shape (n,)
        At one hour, as `analysis.simulation.chain_state.probe_state`.

    Returns
    -------
    dict of str to ndarray, shape (n,)
        ``panel_strain_md``, ``print_strain_md``, the same for ``cd``; growth is positive [strain].

    Notes
    -----
    The panel's movement is its expansion times its change of humidity and temperature. The print's
    is what closes the account, so that the path of its humidity, its shrinkage after a damp spell
    and its history of damp and dry stand where the loop put them.
    """
    drawn = stack([work], {work.work_id: draws}, None)
    mounted = psi_from(drawn["mounted_rh_pct"], drawn["mounted_temp_c"], heat_scale(drawn))[0]
    wetter, warmer = probes["panel_psi"] - mounted, probes["temp_c"] - draws["mounted_temp_c"]
    found = {}
    for axis in AXES:
        panel = 100.0 * draws[f"panel_beta_along_{axis}"] * wetter
        panel = panel + draws[f"panel_alpha_along_{axis}"] * warmer
        taken = sum(probes[f"{name}_{axis}"] for name in ("relaxed", "cycled", "crept"))
        found[f"panel_strain_{axis}"] = panel
        found[f"print_strain_{axis}"] = np.asarray(
            draws["prestrain"] + panel - taken - probes[f"left_{axis}"]
        )
    return found
