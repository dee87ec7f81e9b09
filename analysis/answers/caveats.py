"""What to bear in mind beside a work's numbers: where the model is at, or near, its limits.

None of these withholds a number (`analysis.simulation.refusals` does that); each says what the
number cannot show (Enclosure notes, section 11, "number plus warning").
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum

import numpy as np

from analysis.air.room_air import RoomAir
from analysis.chain.enclosure import saturation_pressure_pa
from analysis.learning.half_time import OutsideTheFit, Span, outside_conditions, reach_of
from analysis.learning.weighted import weighted_range
from analysis.parameters import parameter
from analysis.results import Floats, History, Range
from analysis.simulation.priors import Draws
from analysis.works import GLAZED, FrameBuild, Panel, Paper, Work

SAMPLES_A_HALF_TIME = 6.0  # below it peaks are more than about 1 %RH off
APART_K = 1.0
BOARD_SHARE = 3.0  # a board slower than this part of the half-time is not well mixed
WEEK_H = 168
# A frame counts as lately closed for as long as a start is remembered, within these bounds.
REMEMBERED, SOONEST, LATEST = 3.3, timedelta(days=7), timedelta(days=60)
COATED = (Paper.RESIN_COATED, Paper.INKJET_RESIN_COATED)


class Caveat(StrEnum):
    """What to bear in mind."""

    INTERVAL = "interval"
    NOT_ISOTHERMAL = "not isothermal"
    SLOW_BOARD = "slow board"
    OUTSIDE_THE_FIT = "outside the fit"
    TWO_LAYERS = "two layers"
    NOT_MEASURED = "not measured"
    SHORT_RECORD = "short record"
    LATELY_CLOSED = "lately closed"
    LATELY_MOVED = "lately moved"


class Origin(StrEnum):
    """Where a half-time that nobody measured comes from."""

    BUILD = "usual for its build"
    BOARD = "its board and back"


class Remedy(StrEnum):
    """What would tell a half-time."""

    LOGGER_INSIDE = "the logger inside"
    A_LOGGER = "a logger left inside"


@dataclass(frozen=True)
class Flagged:
    """A caveat with its figures, as far as it has them.

    ``figures`` are durations [h], a difference in temperature ``apart_k`` [K, positive: colder] and
    humidities ``image_rh_pct``, ``core_rh_pct`` [%]; each by name.
    """

    caveat: Caveat
    figures: Mapping[str, float] = field(default_factory=dict)
    half_time_h: Range | None = None
    outside: tuple[OutsideTheFit, ...] = ()
    at_utc: datetime | None = None
    origin: Origin | None = None
    fits_what_was_seen: bool = False
    remedy: Remedy | None = None


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
    """Return what to bear in mind beside the numbers of a work, in order."""
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
        yield Flagged(Caveat.INTERVAL, {"interval_h": interval_h, "half_time_h": half})


def _not_isothermal(_: Work, known: Circumstances) -> Iterator[Flagged]:
    air = known.air
    outside = np.where(
        np.isfinite(air.outdoor_temp_c), air.outdoor_temp_c, known.drawn("outdoor_temp_c").mid
    )
    apart = known.drawn("wall_factor").mid * (air.temp_c - outside)[-WEEK_H:]
    furthest = float(apart[np.argmax(np.abs(apart))])
    if abs(furthest) > APART_K:
        yield Flagged(Caveat.NOT_ISOTHERMAL, {"apart_k": furthest})


def _slow_board(work: Work, known: Circumstances) -> Iterator[Flagged]:
    uptake_h = _uptake_h(work)
    if uptake_h is not None and uptake_h > known.half_time_h.mid / BOARD_SHARE:
        yield Flagged(Caveat.SLOW_BOARD, {"uptake_h": uptake_h})


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
        outside = outside_conditions(known.fitted_in, reach_of(temp), reach_of(humidity))
        if outside:
            yield Flagged(Caveat.OUTSIDE_THE_FIT, outside=outside)


def _two_layers(work: Work, known: Circumstances) -> Iterator[Flagged]:
    if work.paper not in COATED:
        return
    image, core = (known.drawn(f"{name}_half_time_h").mid for name in ("image", "core"))
    yield Flagged(
        Caveat.TWO_LAYERS, {"image_half_time_h": image, "core_half_time_h": core} | _layers(known)
    )


def _layers(known: Circumstances) -> dict[str, float]:
    """Return at what humidity each layer is, as far as the last hour tells [%]."""
    if known.history is None or not len(known.history.time_utc):
        return {}
    frame, sheet = known.history.frame_rh_pct[-1, 1], known.history.print_rh_pct[-1, 1]
    share = known.drawn("image_share").mid
    layers = {
        "image_rh_pct": float(frame),
        "core_rh_pct": float((sheet - share * frame) / (1.0 - share)),
    }
    return {name: value for name, value in layers.items() if np.isfinite(value)}


def _not_measured(work: Work, known: Circumstances) -> Iterator[Flagged]:
    if "half_time_h" in work.overrides:
        return
    measured = "board_mass_kg_m2" in work.overrides
    yield Flagged(
        Caveat.NOT_MEASURED,
        half_time_h=known.half_time_h,
        origin=Origin.BOARD if measured else Origin.BUILD,
        fits_what_was_seen=known.weights is not None,
        remedy=_remedy(work, known),
    )


def _remedy(work: Work, known: Circumstances) -> Remedy | None:
    if known.logger_inside:
        return Remedy.LOGGER_INSIDE
    return Remedy.A_LOGGER if work.frame in GLAZED else None


def _short_record(_: Work, known: Circumstances) -> Iterator[Flagged]:
    record_h, half = float(known.air.hours_of_record), known.half_time_h.mid
    if record_h < half:
        yield Flagged(Caveat.SHORT_RECORD, {"record_h": record_h, "half_time_h": half})


def _lately_closed(work: Work, known: Circumstances) -> Iterator[Flagged]:
    if work.closed_utc is not None and _lately(work.closed_utc, known):
        yield Flagged(Caveat.LATELY_CLOSED, at_utc=work.closed_utc)


def _lately_moved(work: Work, known: Circumstances) -> Iterator[Flagged]:
    moved = known.moved_utc
    with_the_frame = moved is not None and moved == work.closed_utc
    if moved is not None and not with_the_frame and _lately(moved, known):
        yield Flagged(Caveat.LATELY_MOVED, at_utc=moved)


def _lately(when: datetime, known: Circumstances) -> bool:
    remembered = timedelta(
        hours=min(REMEMBERED * known.half_time_h.mid, LATEST / timedelta(hours=1))
    )
    return timedelta(0) <= known.at_utc - when <= max(remembered, SOONEST)
