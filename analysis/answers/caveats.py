"""What to bear in mind beside a work's numbers: where the model is at, or near, its limits.

None of these withholds a number (`analysis.simulation.refusals` does that); each says in one short
sentence what the number cannot show (Enclosure notes, section 11, "number plus warning").
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from analysis.air.room_air import RoomAir
from analysis.chain.enclosure import saturation_pressure_pa
from analysis.duration_words import hours_words
from analysis.learning.half_time import Span, outside_conditions, reach_of
from analysis.learning.weighted import weighted_range
from analysis.parameters import parameter
from analysis.results import Floats, History, Range
from analysis.simulation.priors import Draws
from analysis.words import day, whole
from analysis.works import GLAZED, FrameBuild, Panel, Paper, Work

Flagged = tuple[str, str]
SAMPLES_A_HALF_TIME = 6.0  # below it peaks are more than about 1 %RH off
APART_K = 1.0
BOARD_SHARE = 3.0  # a board slower than this part of the half-time is not well mixed
WEEK_H = 168
# A frame counts as lately closed for as long as a start is remembered, within these bounds.
REMEMBERED, SOONEST, LATEST = 3.3, timedelta(days=7), timedelta(days=60)
COATED = (Paper.RESIN_COATED, Paper.INKJET_RESIN_COATED)


@dataclass(frozen=True)
class Circumstances:
    """What is known of a work's numbers.

    Parameters
    ----------
    draws, weights
        The draws behind them, and the weights of the draws where people have looked.
    air : RoomAir
        The air of its rooms, up to the hour the numbers are for.
    history : History or None
        Its last weeks.
    fitted_in : tuple or None
        Temperature [°C] and humidity [%] in the frame, lowest and highest, over which its half-time
        was fitted; None where that is not known.
    moved_utc : datetime or None
        When it was hung where it hangs.
    logger_inside : bool
        Whether a logger has been in its frame as it is now.
    """

    at_utc: datetime
    draws: Draws
    air: RoomAir
    weights: Floats | None = None
    history: History | None = None
    fitted_in: tuple[Span, Span] | None = None
    moved_utc: datetime | None = None
    logger_inside: bool = False

    @property
    def half_time_h(self) -> Range:
        """Half-time of the frame [h]."""
        return self.drawn("half_time_h")

    def drawn(self, name: str) -> Range:
        """Return the range of a drawn parameter."""
        return weighted_range(self.draws[name], self.weights)


def bear_in_mind(work: Work, known: Circumstances) -> tuple[Flagged, ...]:
    """Return what to bear in mind beside the numbers of a work, as (key, sentence)."""
    flags = (
        _interval,
        _not_isothermal,
        _slow_board,
        _other_conditions,
        _two_layers,
        _not_measured,
        _short_record,
        _lately_closed,
        _lately_moved,
    )
    return tuple(one for flag in flags for one in flag(work, known))


def _interval(_: Work, known: Circumstances) -> Iterator[Flagged]:
    interval_h, half = known.air.interval_s / 3600.0, known.half_time_h.mid
    if interval_h > half / SAMPLES_A_HALF_TIME:
        yield (
            "interval",
            f"A reading every {hours_words(interval_h)} misses short peaks at a frame with a "
            f"half-time of {hours_words(half)}: they are read too low.",
        )


def _not_isothermal(_: Work, known: Circumstances) -> Iterator[Flagged]:
    air = known.air
    outside = np.where(
        np.isfinite(air.outdoor_temp_c), air.outdoor_temp_c, known.drawn("outdoor_temp_c").mid
    )
    apart = known.drawn("wall_factor").mid * (air.temp_c - outside)[-WEEK_H:]
    furthest = float(apart[np.argmax(np.abs(apart))])
    if abs(furthest) > APART_K:
        yield (
            "not isothermal",
            f"Behind it the wall is an outside wall: this week the print was up to about "
            f"{abs(furthest):.0f} K {'colder' if furthest > 0 else 'warmer'} than the room. Front "
            "and back then differ, and its humidity may even move the other way.",
        )


def _slow_board(work: Work, known: Circumstances) -> Iterator[Flagged]:
    uptake_h = _uptake_h(work)
    if uptake_h is not None and uptake_h > known.half_time_h.mid / BOARD_SHARE:
        yield (
            "slow board",
            f"Its board takes {hours_words(uptake_h)} to take up half of what it can: the frame "
            "follows faster at first, and slower later, than one half-time says.",
        )


def _uptake_h(work: Work) -> float | None:
    """Return how long its board takes for half of its uptake; None where no board counts [h]."""
    if work.frame is FrameBuild.A or work.panel is Panel.METAL_FACED:
        return None
    mass = work.overrides.get("board_mass_kg_m2")
    if mass is None:
        group = {Panel.PAPER_HONEYCOMB: "honeycomb_h", Panel.MUSEUM_BOARD: "board_h"}[work.panel]
        return parameter("moisture", "uptake", group).value
    back = work.overrides.get("back_permeance", parameter("frames", "board", "permeance"))
    return board_uptake_h(mass.value, parameter("frames", "board", "capacity").value, back.value)


def board_uptake_h(mass_kg_m2: float, capacity: float, permeance: float) -> float:
    """Return how long a board open on one face takes for half of its uptake at 20 °C [h].

    c L²/D with D = delta p_sat/(rho xi), that is c M xi/(W p_sat) for a mass per area M = rho L
    and a permeance W = delta/L (Enclosure notes, section 7.3).

    Parameters
    ----------
    mass_kg_m2, capacity, permeance : float
        Mass [kg/m²], slope of the isotherm [kg/kg per unit of RH], permeance [kg/(m² s Pa)].

    Examples
    --------
    >>> round(board_uptake_h(1.4, 0.1016, 4.75e-9), 2)
    0.7
    """
    coefficient = parameter("moisture", "uptake", "half_one_face").value  # CRANK1975, p. 48
    seconds = coefficient * mass_kg_m2 * capacity / (permeance * saturation_pressure_pa(20.0))
    return float(seconds) / 3600.0


def _other_conditions(_: Work, known: Circumstances) -> Iterator[Flagged]:
    history = known.history
    if known.fitted_in is None or history is None:
        return
    humidity = history.frame_rh_pct[:, 1]
    humidity = humidity[np.isfinite(humidity)]
    temp = known.air.temp_c[-len(history.time_utc) :]
    if len(humidity):
        said = outside_conditions(known.fitted_in, reach_of(temp), reach_of(humidity))
        if said:
            yield "outside the fit", said


def _two_layers(work: Work, known: Circumstances) -> Iterator[Flagged]:
    if work.paper not in COATED:
        return
    image, core = (known.drawn(f"{name}_half_time_h").mid for name in ("image", "core"))
    yield (
        "two layers",
        f"It is coated on both faces: its image layer follows the frame within "
        f"{hours_words(image)}{_at(known, of_the_core=False)}, its core half of the way in "
        f"{hours_words(core)}{_at(known, of_the_core=True)}. It may curl before the core moves.",
    )


def _at(known: Circumstances, *, of_the_core: bool) -> str:
    """Return at what humidity a layer is, as far as the last hour tells."""
    if known.history is None or not len(known.history.time_utc):
        return ""
    frame, sheet = known.history.frame_rh_pct[-1, 1], known.history.print_rh_pct[-1, 1]
    share = known.drawn("image_share").mid
    value = (sheet - share * frame) / (1.0 - share) if of_the_core else frame
    return f" (now about {whole(float(value))} %RH)" if np.isfinite(value) else ""


def _not_measured(work: Work, known: Circumstances) -> Iterator[Flagged]:
    if "half_time_h" in work.overrides:
        return
    half, source = known.half_time_h, "is usual for its build"
    if "board_mass_kg_m2" in work.overrides:
        source = "follows from its board and back"
    seen = "" if known.weights is None else " and fits what people saw"
    yield (
        "not measured",
        f"Its half-time was not measured: {hours_words(half.mid)} ({hours_words(half.low)} to "
        f"{hours_words(half.high)}) {source}{seen}{_mend(work, known)}.",
    )


def _mend(work: Work, known: Circumstances) -> str:
    if known.logger_inside:
        return "; the logger in it can tell"
    return "; a logger left inside would tell" if work.frame in GLAZED else ""


def _short_record(_: Work, known: Circumstances) -> Iterator[Flagged]:
    record_h, half = float(known.air.hours), known.half_time_h.mid
    if record_h < half:
        yield (
            "short record",
            f"The record of {hours_words(record_h)} is shorter than one half-time of its frame "
            f"({hours_words(half)}): where it began still counts.",
        )


def _lately_closed(work: Work, known: Circumstances) -> Iterator[Flagged]:
    if work.closed_utc is not None and _lately(work.closed_utc, known):
        yield (
            "lately closed",
            f"Its frame was closed on {day(work.closed_utc)}: its state began anew then, and what "
            "was measured of it before no longer counts.",
        )


def _lately_moved(work: Work, known: Circumstances) -> Iterator[Flagged]:
    moved = known.moved_utc
    with_the_frame = moved is not None and moved == work.closed_utc
    if moved is not None and not with_the_frame and _lately(moved, known):
        yield (
            "lately moved",
            f"It was hung here on {day(moved)}: a frame that was carried may follow its room "
            "faster than before.",
        )


def _lately(when: datetime, known: Circumstances) -> bool:
    remembered = timedelta(
        hours=min(REMEMBERED * known.half_time_h.mid, LATEST / timedelta(hours=1))
    )
    return timedelta(0) <= known.at_utc - when <= max(remembered, SOONEST)
