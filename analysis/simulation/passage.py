"""The passage of some works through the hours of a room: packed, begun, advanced, kept."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property

import numpy as np
import numpy.typing as npt

from analysis.air.room_air import RoomAir, unchecked_years
from analysis.chain.enclosure import saturation_pressure_pa
from analysis.errors import NotEnoughError, OutOfRangeError
from analysis.results import Floats
from analysis.simulation import layout
from analysis.simulation.checkpoints import Checkpoint, instant
from analysis.simulation.closing import (
    close_anywhere,
    close_at,
    framed_with_mounting,
    may_change_at_closing,
    recent_span,
)
from analysis.simulation.discrepancy import year_angle
from analysis.simulation.layout import Hour
from analysis.simulation.loop import all_works
from analysis.simulation.packing import (
    HOURS_PER_YEAR,
    Beginning,
    Stacked,
    constants,
    first_state,
    fixed_rows,
    stack,
    stacked_part,
)
from analysis.simulation.phases import DrawnPhase, framed_anew, mounted_anew, require_phases
from analysis.simulation.priors import Draws
from analysis.simulation.refusals import closing_known
from analysis.simulation.step import N_DETAIL, N_SUMS
from analysis.works import NEEDS_CLOSING_RH, Mount, Work

HOUR = timedelta(hours=1)


Singles = npt.NDArray[np.float32]


def hour_rows(air: RoomAir) -> Floats:
    """Return what is known of a room by the hour, shape (h, len(layout.HOUR))."""
    _require_moist(air)
    angle = year_angle(air.time_utc)
    columns = {
        "room_c": air.temp_c,
        "outdoor_c": air.outdoor_temp_c,
        "rh_low": air.rh_low_pct / 100,
        "rh_high": air.rh_high_pct / 100,
        "room_ratio": saturation_pressure_pa(air.temp_c) / saturation_pressure_pa(20.0),
        "year_cos": np.cos(angle),
        "year_sin": np.sin(angle),
        "unchecked_a": unchecked_years(air),
    }
    return np.ascontiguousarray(np.column_stack([columns[name] for name in layout.HOUR]))


def _require_moist(air: RoomAir) -> None:
    """Raise if a room is said to be at 0 %RH or below, which no room is."""
    dry = np.flatnonzero(air.rh_low_pct <= 0.0)
    if len(dry):
        raise OutOfRangeError(
            read="room air",
            where=f"{instant(air.time_utc[int(dry[0])]):%Y-%m-%d %H:%M} UTC",
            found=f"{air.rh_low_pct[dry[0]]:g} %RH",
            expected="more than 0 %RH",
            action="Leave the hours of a failed sensor out: analysis.air.room_air.hourly_air does.",
        )


def _hours_since(when: datetime | None, now: datetime, years: Floats) -> Floats:
    """Return the hours since a date, or the drawn years where it is not recorded."""
    if when is None:
        return years * HOURS_PER_YEAR
    return np.full(len(years), max((now - when) / HOUR, 0.0))


# Phases laid on the hours of a run: the one it begins in, and those that begin on its way.


@dataclass(frozen=True)
class Begun:
    """A work as it is from an hour of the air on."""

    hour: int
    work: Work
    draws: Draws


@dataclass(frozen=True)
class Turn:
    """What changes for the i-th work of a run as a phase begins: its facts, draws and rows."""

    i: int
    work: Work
    part: Stacked
    fixed: Floats


class Passage:
    """One run: packs the draws, cuts the hours where something happens, keeps what is asked.

    ``works``, ``stacked`` and ``fixed`` are those of the phase that holds after the present hour.
    """

    def __init__(
        self,
        works: Sequence[Work],
        draws: Mapping[str, Draws],
        air: RoomAir,
        since: Checkpoint | None,
        weights: Mapping[str, Floats] | None,
        earlier: Mapping[str, Sequence[DrawnPhase]] | None = None,
    ) -> None:
        self.air = air
        self.start = instant(air.time_utc[0])
        self.step = timedelta(hours=air.step_h)
        self.first = self._first_hour(since)
        self.last = air.hours - 1
        self.hours = hour_rows(air)
        self.constants = constants(air.step_h)
        self.work_phases = self._phases(works, draws, earlier or {})
        self.turns = turns_of(self.work_phases, weights, air.step_h)
        self.works = list(works)
        begun = dict(draws)
        for i, phases_of_work in self.work_phases.items():
            self.works[i], begun[phases_of_work[0].work.work_id] = (
                phases_of_work[0].work,
                phases_of_work[0].draws,
            )
        self.stacked = stack(self.works, begun, weights) if self.works else None
        n = self.stacked.weight.shape[1] if self.stacked else 1
        self.state = np.zeros((len(self.works), len(layout.STATE), n))
        self.fixed = fixed_rows(self.stacked, air.step_h) if self.stacked else np.zeros((0, 1, 1))
        self.active = np.zeros(len(self.works), dtype=np.bool_)
        self.mounted = np.array([self._mounting(work) for work in self.works], dtype=np.int64)
        if since is not None:
            self._take(since)

    def _phases(
        self,
        works: Sequence[Work],
        draws: Mapping[str, Draws],
        earlier: Mapping[str, Sequence[DrawnPhase]],
    ) -> dict[int, list[Begun]]:
        """Return the phases of the works that have earlier ones, by their place in the run."""
        span = (self.first, self.last)
        return {
            i: on_hours(work, draws[work.work_id], earlier[work.work_id], self.hour_at, span)
            for i, work in enumerate(works)
            if earlier.get(work.work_id) and work.work_id in draws
        }

    def _first_hour(self, since: Checkpoint | None) -> int:
        if since is None:
            return 0
        hours = round((since.time_utc - self.start) / self.step)
        if hours < -1 or hours >= self.air.hours:
            raise NotEnoughError(
                read="room air",
                where=f"from {self.start:%Y-%m-%d %H:%M} UTC",
                found=f"a state of {since.time_utc:%Y-%m-%d %H:%M} UTC",
                expected="air from that hour on",
                action="Give the air from the checkpoint's hour, or run from the start.",
            )
        return hours

    def index(self, when: datetime) -> int:
        """Return the hour of the air at or before an instant."""
        if when.tzinfo is None:
            raise OutOfRangeError(
                read="estimator",
                where="instant",
                found=f"{when} without a zone",
                expected="a time in UTC",
                action="State the zone.",
            )
        return int((when - self.start) // self.step)

    def index_at_or_after(self, when: datetime) -> int:
        """Return the hour of the air at or after an instant, within the run."""
        return min(max(self.hour_at(when), self.first), self.air.hours - 1)

    def hour_at(self, when: datetime) -> int:
        """Return the hour of the air at or after an instant: before the air, negative."""
        return -int((self.start - when) // self.step)

    def _mounting(self, work: Work) -> int:
        """Return the hour at which a work begins: after the run while it is not held."""
        if work.mount is not Mount.TENSION_HELD:
            return self.air.hours
        return -1 if work.mounted_utc is None else self.hour_at(work.mounted_utc)

    def _take(self, since: Checkpoint) -> None:
        for i, work in enumerate(self.works):
            known = since.states.get(work.work_id)
            if known is not None:
                self.state[i] = known
                self.active[i] = True

    def events(self) -> set[int]:
        """Return the hours within the run at which a work is mounted, framed or hung anew."""
        works = [*self.works, *(turn.work for turns in self.turns.values() for turn in turns)]
        mounted = {hour for hour in map(self._mounting, works) if hour >= self.first}
        closed = {self.hour_at(work.closed_utc) for work in works if work.closed_utc is not None}
        return mounted | closed | set(self.turns)

    def _closes(self, i: int, at: int) -> bool:
        """Whether a frame is closed at an hour of the run, after its work was mounted."""
        work = self.works[i]
        if work.closed_utc is None or not self.active[i] or not may_change_at_closing(work):
            return False
        begun = max(int(self.mounted[i]), self.first)
        return self.hour_at(work.closed_utc) == at > begun

    def advance(self, before: int, at: int, *, detail: bool) -> tuple[Floats, Singles]:
        """Run the hours after ``before`` up to and including ``at``.

        Returns
        -------
        tuple of ndarray
            Sums of shape (works, hours, SUMS); ranges of shape (works, hours, DETAIL, 3), with no
            hours unless ``detail``. NaN for works not yet mounted.
        """
        count, hours = len(self.works), self.hours[before + 1 : at + 1]
        sums = np.zeros((count, len(hours), N_SUMS))
        ranges = np.empty((count, len(hours) if detail else 0, N_DETAIL, 3), dtype=np.float32)
        if len(hours) and self.active.any():
            all_works(hours, self.fixed, self.state, self.active, self.constants, sums, ranges)
        sums[~self.active], ranges[~self.active] = np.nan, np.nan
        return sums, ranges

    def happen(self, at: int) -> None:
        """Begin phases and works whose hour has come, and close frames that were closed now."""
        for turn in self.turns.get(at, ()):
            self._turn(turn, at)
        for i in self._closing(at):
            self._close(i, at)
        new = [int(i) for i in self._beginning_at(at)]
        if not new or self.stacked is None:
            return
        self.state[new] = self._first_states(new, at)
        self.active[new] = True
        for i in new:
            if self.mounted[i] == at and framed_with_mounting(self.works[i]):
                self._close(i, at)

    def _first_states(self, new: Sequence[int], at: int) -> Floats:
        """Return the state with which works begin at an hour, shape (works, STATE, n)."""
        places, states = self._mounted_on_the_way
        if self.stacked is None or all(places.get(i) is not None for i in new):
            return states[[places[i] for i in new]]
        part = stacked_part(self.stacked, new)
        begin = self._beginning(part, np.full(len(new), at), self.mounted[new] == at)
        return first_state(part, self.fixed[new], begin)

    @cached_property
    def _mounted_on_the_way(self) -> tuple[dict[int, int], Floats]:
        """The works that are mounted within the run, and their states then, worked out at once.

        Of many works, each mounted at an hour of its own, one by one costs as much as the run.
        """
        within = (self.mounted > self.first) & (self.mounted <= self.last)
        works = [int(i) for i in np.flatnonzero(within) if i not in self.work_phases]
        if self.stacked is None or not works:
            return {}, np.empty(0)
        part = stacked_part(self.stacked, works)
        begin = self._beginning(part, self.mounted[works], np.ones(len(works), dtype=np.bool_))
        states = first_state(part, self.fixed[works], begin)
        return {i: place for place, i in enumerate(works)}, states

    def changing(self, at: int) -> list[int]:
        """Return the works that begin, or whose frames are closed, as `happen` has it next."""
        return [*self._closing(at), *(int(i) for i in self._beginning_at(at))]

    def _closing(self, at: int) -> list[int]:
        return [i for i in self._closings.get(at, ()) if self._closes(i, at)]

    def _beginning_at(self, at: int) -> npt.NDArray[np.intp]:
        return np.flatnonzero((self.mounted <= at) & ~self.active)

    @cached_property
    def _closings(self) -> dict[int, list[int]]:
        """At which hours the frame of a work is closed, in some phase of it; works by their place.

        Most hours have none: at each to ask every work would cost more than to run it.
        """
        phases = [(turn.i, turn.work) for turns in self.turns.values() for turn in turns]
        found: dict[int, list[int]] = {}
        for i, work in sorted([*enumerate(self.works), *phases], key=lambda one: one[0]):
            if work.closed_utc is not None:
                at = found.setdefault(self.hour_at(work.closed_utc), [])
                at += [] if i in at else [i]
        return found

    def _turn(self, turn: Turn, at: int) -> None:
        """Begin a phase: anew where mounted anew, else with the state that the print has."""
        i, before, after = turn.i, self.works[turn.i], turn.work
        self.works[i], self.fixed[i] = after, turn.fixed
        if self.stacked is not None:
            self.stacked = with_row(self.stacked, i, turn.part)
        if mounted_anew(before, after):
            self.active[i], self.mounted[i] = False, self._mounting(after)
        elif self.active[i] and framed_anew(before, after) and may_change_at_closing(after):
            closed = at if after.closed_utc is None else self.hour_at(after.closed_utc)
            if closed < at or after.closed_utc is None:
                self._close(i, at)

    def _close(self, i: int, at: int) -> None:
        """Set the humidity in a frame to that at closing, or to a band where it is not known."""
        if self.stacked is not None and closing_known(self.works[i]):
            close_at(self.state[i], self.fixed[i], self.stacked["closing_rh_pct"][i])
        else:
            close_anywhere(self.state[i], self.fixed[i], *recent_span(self.air, at))

    def _beginning(
        self, part: Stacked, at: npt.NDArray[np.int64], mounted_now: npt.NDArray[np.bool_]
    ) -> Beginning:
        """Return where works begin: as mounted now, as closed before, or anywhere the room was.

        ``at`` is the hour at which each begins, shape (works,).
        """
        air = self.air
        n = part.weight.shape[1]
        low, high = (x + part["sensor_offset_pct"] for x in (air.first_low_pct, air.first_high_pct))
        of_room = np.ones((len(part.works), 1), dtype=np.bool_)
        held, level_c = np.zeros((len(part.works), n)), np.full((len(part.works), n), np.nan)
        for i, work in enumerate(part.works):
            now = self.start + int(at[i]) * self.step
            held[i] = _hours_since(work.mounted_utc, now, part["mounted_years"][i])
            if mounted_now[i]:
                low[i] = high[i] = part["mounted_rh_pct"][i]
                level_c[i] = part["mounted_temp_c"][i]
                of_room[i] = False
            elif closing_known(work) or work.frame in NEEDS_CLOSING_RH:
                closed = work.closed_utc or work.mounted_utc
                closed_h = _hours_since(closed, now, part["mounted_years"][i])
                drifted = 1.0 - 2.0 ** (-closed_h / part["half_time_h"][i])
                closing = part["closing_rh_pct"][i]
                of_room[i] = False
                low[i] = closing + (np.minimum(low[i], closing) - closing) * drifted
                high[i] = closing + (np.maximum(high[i], closing) - closing) * drifted
        asked = (Hour.ROOM_C, Hour.OUTDOOR_C, Hour.RH_LOW, Hour.RH_HIGH)
        room = (self.hours[at, column][:, None] for column in asked)
        return Beginning(low, high, level_c, of_room, held, *room)

    def phases(self, i: int) -> list[tuple[int, Work]]:
        """Return a work through the run, each time with the hour after which it was so."""
        if i not in self.work_phases:
            return [(self.first, self.works[i])]
        return [(begun.hour, begun.work) for begun in self.work_phases[i]]

    def checkpoint(self, at: int) -> Checkpoint:
        """Return the state of the works that are mounted by now."""
        states = {
            work.work_id: self.state[i].copy()
            for i, work in enumerate(self.works)
            if self.active[i]
        }
        return Checkpoint(self.start + at * self.step, states)


def on_hours(
    work: Work,
    draws: Draws,
    earlier: Sequence[DrawnPhase],
    hour_of: Callable[[datetime], int],
    span: tuple[int, int],
) -> list[Begun]:
    """Return the phases that hold after the first hour of a run, up to its last.

    A phase that ended by the first hour, or within the hour in which it began, is left out.

    Raises
    ------
    OutOfRangeError
        If the phases are not those of one print, in order of time.
    NotEnoughError
        If a phase has not as many draws as the work has now.
    """
    require_phases(work, earlier)
    begins, found = span[0], []
    for one in earlier:
        ends = hour_of(one.until_utc)
        if ends > begins:
            found.append(Begun(begins, one.work, one.draws))
            begins = ends
    found.append(Begun(begins, work, draws))
    if len({one.draws.n for one in found}) > 1:
        raise NotEnoughError(
            read="draws",
            where=f"earlier phases of {work.work_id}",
            found=", ".join(str(one.draws.n) for one in found),
            expected="the same number of draws in every phase",
            action="Draw all phases at the same levels: see phases.drawn_before, drawn_at.",
        )
    return [one for one in found if one.hour <= span[1]]


def turns_of(
    phases: Mapping[int, Sequence[Begun]], weights: Mapping[str, Floats] | None, step_h: float
) -> dict[int, list[Turn]]:
    """Return what changes at each hour of a run at which phases begin; works by their place."""
    turns: dict[int, list[Turn]] = {}
    for k in range(1, max((len(phases_of_work) for phases_of_work in phases.values()), default=0)):
        begun = {
            i: phases_of_work[k] for i, phases_of_work in phases.items() if len(phases_of_work) > k
        }
        works = [one.work for one in begun.values()]
        part = stack(works, {one.work.work_id: one.draws for one in begun.values()}, weights)
        fixed = fixed_rows(part, step_h)
        for at, (i, one) in enumerate(begun.items()):
            turn = Turn(i, one.work, stacked_part(part, [at]), fixed[at])
            turns.setdefault(one.hour, []).append(turn)
    return turns


def with_row(stacked: Stacked, i: int, part: Stacked) -> Stacked:
    """Return the draws of several works with those of the i-th replaced, in the same arrays."""
    works = (*stacked.works[:i], *part.works, *stacked.works[i + 1 :])
    values = {name: stacked[name] for name in stacked.names}
    for name in part.names:
        values[name][i] = part[name][0]
    return Stacked(works, values, stacked.weight)
