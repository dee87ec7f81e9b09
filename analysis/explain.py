"""The chain behind one work at one hour: room → frame → print → tension → surface, as numbers."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from analysis.duration_words import hours_words
from analysis.errors import NotEnoughError
from analysis.estimator import Run, run
from analysis.learning import until
from analysis.parameter_words import PARAMETER_WORDS
from analysis.priors import Draws
from analysis.results import Floats, Range
from analysis.room_air import RoomAir
from analysis.sensitivity import Influence, influences, matters_most
from analysis.weighted import weighted_range
from analysis.works import FRAME_WORDS, Work

# What cannot decide a step, because it comes later in the chain.
LATER = ("visible_slope_mrad", "wavelength_m", "gap_mm", "hinge_capacity_n_m", "hinge_week_strain")


@dataclass(frozen=True)
class Probed:
    """A quantity that the estimator gives draw by draw: the step it belongs to, its words."""

    step: str
    quantity: str
    unit: str
    name: str


PROBED = (
    Probed("print", "humidity the print has taken up", "%RH", "print_rh_pct"),
    Probed("tension", "pull on the edge", "N/m", "tension_n_m"),
    Probed("tension", "headroom before it goes slack", "%RH", "headroom_up_pct"),
    Probed("surface", "steepest slope of the surface", "mrad", "slope_mrad"),
)


@dataclass(frozen=True)
class Link:
    """One step of the chain: a quantity with its range, and what decides it most."""

    step: str
    quantity: str
    value: Range
    unit: str
    sentence: str
    decides: str
    influences: Sequence[Influence] = ()


@dataclass(frozen=True)
class Chain:
    """The links of one work at one hour.

    ``refused`` is the key of the reason why no judgement rests on it, or "".
    """

    work_id: str
    at_utc: datetime
    links: Sequence[Link]
    refused: str


def explain(
    work: Work, draws: Draws, air: RoomAir, at_utc: datetime, weights: Floats | None = None
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

    Raises
    ------
    NotEnoughError
        If the work was not mounted then, or is not held by tension.
    """
    key = work.work_id
    found = run(
        [work],
        {key: draws},
        until(air, at_utc),
        weights=None if weights is None else {key: weights},
        detail_from=at_utc,
        probe={key: [at_utc]},
    )
    _require_told(work, found, at_utc)
    probes = {name: values[0] for name, values in found.probes[key].items()}
    hour = int(np.searchsorted(air.time_utc, np.datetime64(int(at_utc.timestamp()), "s"), "right"))
    links = _links(work, draws, weights, air, max(hour - 1, 0), found, probes)
    return Chain(key, at_utc, links, str(found.histories[key].refused[0]))


def _require_told(work: Work, found: Run, at_utc: datetime) -> None:
    probes = found.probes.get(work.work_id)
    if probes is None or not np.isfinite(probes["slope_mrad"]).all():
        raise NotEnoughError(
            read=f"work {work.work_id}",
            where=f"{at_utc:%Y-%m-%d %H:%M} UTC",
            found=f"{work.mount.value}, mounted {work.mounted_utc or 'at a time not recorded'}",
            expected="a print held by tension, mounted by then",
            action="Ask for a later hour, or correct the register.",
        )


def _links(
    work: Work,
    draws: Draws,
    weights: Floats | None,
    air: RoomAir,
    hour: int,
    found: Run,
    probes: Mapping[str, Floats],
) -> list[Link]:
    history = found.histories[work.work_id]
    frame = Range(*(float(x) for x in history.frame_rh_pct[0]))
    room = _room(draws, weights, air, hour)
    return [
        Link("room", "relative humidity", room, "%RH", _room_words(air, hour), ""),
        Link("frame", "relative humidity", frame, "%RH", _frame_words(work, draws, weights), ""),
        *(_link(probed, draws, weights, probes[probed.name]) for probed in PROBED),
    ]


def _link(probed: Probed, draws: Draws, weights: Floats | None, values: Floats) -> Link:
    value = weighted_range(values, weights)
    earlier = {key: array for key, array in draws.values.items() if key not in LATER}
    told = {key: array for key, array in earlier.items() if np.isfinite(array).all()}
    found = influences(told, values, weights)[:5]
    quantity, unit = probed.quantity, probed.unit
    sentence = f"{quantity}: {value.mid:.0f} {unit}, between {value.low:.0f} and {value.high:.0f}."
    decides = matters_most(found, f"the {quantity}", PARAMETER_WORDS)
    return Link(
        probed.step, quantity, value, unit, sentence[0].upper() + sentence[1:], decides, found
    )


def _room(draws: Draws, weights: Floats | None, air: RoomAir, hour: int) -> Range:
    low, high = air.rh_low_pct[hour], air.rh_high_pct[hour]
    fill = draws["gap_fill"] * (high - low)
    return weighted_range(low + fill + draws["sensor_offset_pct"], weights)


def _room_words(air: RoomAir, hour: int) -> str:
    if not air.measured[hour]:
        return "The room was not measured at that hour: a low and a high course are followed."
    return (
        f"The room was measured at {air.rh_low_pct[hour]:.0f} %RH and "
        f"{air.temp_c[hour]:.1f} °C; the range is that of the sensor."
    )


def _frame_words(work: Work, draws: Draws, weights: Floats | None) -> str:
    half = weighted_range(draws["half_time_h"], weights)
    return (
        f"The frame ({FRAME_WORDS[work.frame]}) goes half the way in {hours_words(half.mid)}, "
        f"between {hours_words(half.low)} and {hours_words(half.high)} at 20 °C."
    )
