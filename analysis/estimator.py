"""Draws and room air → histories, probabilities and checkpoints."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from analysis import layout
from analysis.checkpoints import Checkpoint, instant, mondays
from analysis.enclosure import saturation_pressure_pa
from analysis.errors import NotEnoughError, OutOfRangeError
from analysis.headroom import headroom_up
from analysis.packing import (
    HOURS_PER_YEAR,
    Beginning,
    Stacked,
    constants,
    first_state,
    fixed_rows,
    psi_from,
    shift_from,
    stack,
)
from analysis.priors import Draws
from analysis.refusals import hourly_refusals, standing_refusal
from analysis.results import Floats, History
from analysis.room_air import RoomAir
from analysis.step import N_DETAIL, N_SUMS, all_works
from analysis.works import GLAZED, Mount, Work

HOUR = timedelta(hours=1)
Singles = npt.NDArray[np.float32]


@dataclass(frozen=True)
class Run:
    """What a run found.

    Parameters
    ----------
    histories : mapping of str to History
        Hourly from ``detail_from`` on. Only works held by tension have one.
    time_utc : ndarray of datetime64[s], shape (h,)
        All hours of the run.
    hourly : mapping of str to ndarray, shape (8, h)
        Per work and hour of the whole run, rows as `analysis.layout.SUMS`: probabilities, and the
        mean width of the band between low and high copy (0 to 1). NaN before mounting.
    checkpoints : tuple of Checkpoint
        At the week starts that were kept, oldest first.
    last : Checkpoint
        At the last hour.
    probes : mapping of str to mapping of str to ndarray
        Work → name → array of shape (instants, n): ``slope_mrad``, ``slack``, ``print_rh_pct``,
        ``tension_n_m``, ``headroom_up_pct``; NaN before mounting.
    """

    histories: Mapping[str, History]
    time_utc: npt.NDArray[np.datetime64]
    hourly: Mapping[str, Singles]
    checkpoints: tuple[Checkpoint, ...]
    last: Checkpoint
    probes: Mapping[str, Mapping[str, Floats]]


def run(
    works: Sequence[Work],
    draws: Mapping[str, Draws],
    air: RoomAir,
    *,
    since: Checkpoint | None = None,
    weights: Mapping[str, Floats] | None = None,
    detail_from: datetime | None = None,
    probe: Mapping[str, Sequence[datetime]] | None = None,
    week_starts: Sequence[datetime] | None = None,
    keep_weeks: int | None = None,
) -> Run:
    """Carry works through the hours of a room's air.

    Parameters
    ----------
    works : sequence of Work
        Works that hang in one room all the time. Those not held by tension are left out.
    draws : mapping of str to Draws
        Work → its draws, all of one length n.
    air : RoomAir
        The room's air. With ``since``, hours up to that instant are not run again.
    since : Checkpoint, optional
        State to go on from; the results are then the same to the bit as from the start. A work that
        it lacks begins at its first hour, as in a run from the start.
    weights : mapping of str to ndarray, shape (n,), optional
        Weights of a work's draws (from inspections); equal where absent.
    detail_from : datetime, optional
        From here on histories hold ranges by the hour; default: the whole run. Ranges cost about
        three times the run itself, and 170 bytes a work and hour.
    probe : mapping of str to sequence of datetime, optional
        Instants at which a work's draws are wanted one by one, taken at the full hour before.
    week_starts : sequence of datetime, optional
        Instants at which a checkpoint is made; default Mondays 00:00 UTC.
    keep_weeks : int, optional
        How many of the latest checkpoints to keep; default all. One takes 56 kB a work at n = 200.

    Returns
    -------
    Run

    Raises
    ------
    NotEnoughError
        If draws are missing, or hours lie between ``since`` and the beginning of the air.
    """
    held = [work for work in works if work.mount is Mount.TENSION_HELD]
    loop = _Loop(held, draws, air, since, weights)
    first_detail = loop.index_at_or_after(detail_from) if detail_from else loop.first
    probes = {w.work_id: [loop.index(t) for t in (probe or {}).get(w.work_id, ())] for w in held}
    weeks = [loop.index(t) for t in (week_starts or mondays(air))]
    return loop.go(first_detail, probes, sorted(set(weeks)), keep_weeks)


class _Loop:
    """One run: packs the draws, cuts the hours where something happens, keeps what is asked."""

    def __init__(
        self,
        works: Sequence[Work],
        draws: Mapping[str, Draws],
        air: RoomAir,
        since: Checkpoint | None,
        weights: Mapping[str, Floats] | None,
    ) -> None:
        self.works, self.air = list(works), air
        self.start = instant(air.time_utc[0])
        self.first = self._first_hour(since)
        self.hours = _hour_rows(air)
        self.constants = constants()
        self.stacked = stack(self.works, draws, weights) if self.works else None
        n = self.stacked.weight.shape[1] if self.stacked else 1
        self.state = np.zeros((len(self.works), len(layout.STATE), n))
        self.fixed = fixed_rows(self.stacked) if self.stacked else np.zeros((0, 1, 1))
        self.active = np.zeros(len(self.works), dtype=np.bool_)
        self.begins = np.array([self._begin(work) for work in self.works], dtype=np.int64)
        if since is not None:
            self._take(since)

    def _first_hour(self, since: Checkpoint | None) -> int:
        if since is None:
            return 0
        hours = round((since.time_utc - self.start) / HOUR)
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
        return int((when - self.start) // HOUR)

    def index_at_or_after(self, when: datetime) -> int:
        """Return the hour of the air at or after an instant, within the run."""
        return min(max(-self.index_before(when), self.first), self.air.hours - 1)

    def index_before(self, when: datetime) -> int:
        """Return minus the hour at or after an instant."""
        return int((self.start - when) // HOUR)

    def _begin(self, work: Work) -> int:
        """Return the hour at which a work's run begins: the first, or that of mounting."""
        if work.mounted_utc is None:
            return 0
        return max(-self.index_before(work.mounted_utc), 0)

    def _take(self, since: Checkpoint) -> None:
        for i, work in enumerate(self.works):
            known = since.states.get(work.work_id)
            if known is not None:
                self.state[i] = known
                self.active[i] = True

    def _cuts(self, first_detail: int, probes: Mapping[str, Sequence[int]]) -> list[int]:
        last = self.air.hours - 1
        wanted = {self.first, first_detail, last}
        wanted |= {i for at in probes.values() for i in at}
        wanted |= {int(i) for i in self.begins} | {i for i, _ in self._closings()}
        return sorted(i for i in wanted if self.first <= i <= last)

    def _closings(self) -> list[tuple[int, int]]:
        """Return (hour, work) of frames closed within the run, after their work was mounted."""
        found = []
        for i, work in enumerate(self.works):
            if work.closed_utc is not None and work.closing_rh_pct is not None:
                at = -self.index_before(work.closed_utc)
                if at > max(self.begins[i], self.first):
                    found.append((at, i))
        return found

    def go(
        self,
        first_detail: int,
        probes: Mapping[str, Sequence[int]],
        weeks: Sequence[int],
        keep: int | None,
    ) -> Run:
        """Run from the first hour to the last."""
        last = self.air.hours - 1
        cuts = sorted({*self._cuts(first_detail, probes), *(i for i in weeks if i <= last)})
        cuts = [i for i in cuts if i >= self.first]
        shape = (len(self.works), N_SUMS, last - self.first)
        self.sums = np.full(shape, np.nan, dtype=np.float32)
        detail_hours = last - max(first_detail, self.first)
        self.detail = np.full(
            (len(self.works), detail_hours, N_DETAIL, 3), np.nan, dtype=np.float32
        )
        found: dict[str, dict[int, dict[str, Floats]]] = {w.work_id: {} for w in self.works}
        checkpoints: list[Checkpoint] = []
        before = self.first
        for at in cuts or [self.first]:
            self._advance(before, at, max(first_detail, self.first))
            self._at_cut(at)
            if at in weeks:
                checkpoints = [*checkpoints, self._checkpoint(at)]
                checkpoints = checkpoints[-keep:] if keep else checkpoints if keep is None else []
            self._probe(at, probes, found)
            before = at
        return self._results(max(first_detail, self.first), probes, found, checkpoints)

    def _advance(self, before: int, at: int, first_detail: int) -> None:
        """Run the hours after ``before`` up to and including ``at``."""
        if at <= before or not self.active.any():
            return
        hours = self.hours[before + 1 : at + 1]
        sums = np.zeros((len(self.works), at - before, N_SUMS))
        wanted = before >= first_detail
        ranges = np.empty(
            (len(self.works), at - before if wanted else 0, N_DETAIL, 3), dtype=np.float32
        )
        all_works(hours, self.fixed, self.state, self.active, self.constants, sums, ranges)
        span = slice(before - self.first, at - self.first)
        self.sums[self.active, :, span] = sums[self.active].transpose(0, 2, 1)
        if wanted:
            where = slice(before - first_detail, at - first_detail)
            self.detail[self.active, where] = ranges[self.active]

    def _at_cut(self, at: int) -> None:
        """Begin works whose hour has come, and close frames that were closed now."""
        for hour, i in self._closings():
            if hour == at and self.active[i]:
                self._close(i)
        new = [i for i, b in enumerate(self.begins) if b <= at and not self.active[i]]
        if not new or self.stacked is None:
            return
        part = _part(self.stacked, new)
        begin = self._beginning(part, at, self.begins[new] > 0)
        self.state[new] = first_state(part, self.fixed[new], begin)
        self.active[new] = True

    def _close(self, i: int) -> None:
        """Set the humidity in a frame to that at closing."""
        row = layout.indices(layout.STATE)
        part = _part(self.stacked, [i]) if self.stacked else None
        if part is None:
            return
        temp = self.state[i, row["temp_c"]]
        scale = self.fixed[i, layout.indices(layout.FIXED)["heat_scale"]]
        self.state[i, row["psi_frame"]] = psi_from(part["closing_rh_pct"][0], temp, scale)
        self.state[i, row["band_frame"]] = 0.0

    def _beginning(self, part: Stacked, at: int, mounted_now: npt.NDArray[np.bool_]) -> Beginning:
        """Return where works begin: as mounted now, as closed before, or anywhere the room was."""
        air, now = self.air, self.start + at * HOUR
        n = part.weight.shape[1]
        low = np.full((len(part.works), n), air.first_low_pct)
        high = np.full((len(part.works), n), air.first_high_pct)
        held = np.zeros((len(part.works), n))
        for i, work in enumerate(part.works):
            if mounted_now[i]:
                low[i] = high[i] = part["mounted_rh_pct"][i]
                continue
            held[i] = part["mounted_years"][i] * HOURS_PER_YEAR
            if work.mounted_utc is not None:
                held[i] = (now - work.mounted_utc) / HOUR
            if work.closing_rh_pct is not None and work.closed_utc is not None:
                closed_h = max((now - work.closed_utc) / HOUR, 0.0)
                drifted = 1.0 - 2.0 ** (-closed_h / part["half_time_h"][i])
                closing = part["closing_rh_pct"][i]
                low[i] = closing + (np.minimum(low[i], closing) - closing) * drifted
                high[i] = closing + (np.maximum(high[i], closing) - closing) * drifted
        row = self.hours[at]
        return Beginning(low, high, held, row[0], row[1], row[2], row[3])

    def _checkpoint(self, at: int) -> Checkpoint:
        states = {
            work.work_id: self.state[i].copy()
            for i, work in enumerate(self.works)
            if self.active[i]
        }
        return Checkpoint(self.start + at * HOUR, states)

    def _probe(
        self,
        at: int,
        probes: Mapping[str, Sequence[int]],
        found: dict[str, dict[int, dict[str, Floats]]],
    ) -> None:
        for i, work in enumerate(self.works):
            if at in probes[work.work_id] and self.active[i]:
                found[work.work_id][at] = probe_state(self.state[i], self.fixed[i])

    def _results(
        self,
        first_detail: int,
        probes: Mapping[str, Sequence[int]],
        found: Mapping[str, Mapping[int, Mapping[str, Floats]]],
        checkpoints: Sequence[Checkpoint],
    ) -> Run:
        skip = first_detail - self.first
        time = self.air.time_utc[self.first + 1 :]
        histories = {
            work.work_id: _history(
                work, self.air, time[skip:], self.sums[i, :, skip:], self.detail[i]
            )
            for i, work in enumerate(self.works)
        }
        n = self.state.shape[2]
        return Run(
            histories=histories,
            time_utc=time,
            hourly={work.work_id: self.sums[i] for i, work in enumerate(self.works)},
            checkpoints=tuple(checkpoints),
            last=self._checkpoint(self.air.hours - 1),
            probes={key: _stacked_probes(probes[key], found[key], n) for key in found},
        )


PROBES = ("slack", "slope_mrad", "print_rh_pct", "tension_n_m", "headroom_up_pct")


def probe_state(state: Floats, fixed: Floats) -> dict[str, Floats]:
    """Return what one work's draws show at an hour: names in `PROBES`, each of shape (n,).

    Parameters
    ----------
    state : ndarray, shape (len(layout.STATE), n)
    fixed : ndarray, shape (len(layout.FIXED), n)
    """
    at = {name: fixed[i] for i, name in enumerate(layout.FIXED)}
    row = {name: state[i] for i, name in enumerate(layout.STATE)}
    share = at["image_share"]
    psi = share * row["psi_image"] + (1.0 - share) * row["psi_core"]
    soft = np.exp(-at["soften"] * (psi - 0.5))
    md, cd = row["above_md"], row["above_cd"]
    slack = np.maximum(np.maximum(-md, -cd) - at["buckle"], 0.0)
    tension = np.minimum(
        at["ea_md"] * at["gain_md"] * np.maximum(md, 0.0),
        at["ea_cd"] * at["gain_cd"] * np.maximum(cd, 0.0),
    )
    up = [headroom_up(*axes) for axes in zip(md, cd, at["per_rh_md"], at["per_rh_cd"], strict=True)]
    return {
        "slack": slack,
        "slope_mrad": 2000.0 * np.sqrt(slack),
        "print_rh_pct": 100.0 * psi * shift_from(psi, row["temp_c"], at["heat_scale"]),
        "tension_n_m": tension * soft,
        "headroom_up_pct": np.array(up),
    }


def _stacked_probes(
    at: Sequence[int], found: Mapping[int, Mapping[str, Floats]], n: int
) -> dict[str, Floats]:
    nothing = np.full(n, np.nan)
    return {
        name: np.array([found[i][name] if i in found else nothing for i in at]).reshape(len(at), n)
        for name in PROBES
    }


def _part(stacked: Stacked, rows: Sequence[int]) -> Stacked:
    index = list(rows)
    parts = {name: stacked[name][index] for name in stacked.names}
    return Stacked(tuple(stacked.works[i] for i in index), parts, stacked.weight[index])


def _hour_rows(air: RoomAir) -> Floats:
    """Return temperature, outdoors, low and high RH (0-1), pressure ratio, by the hour."""
    ratio = saturation_pressure_pa(air.temp_c) / saturation_pressure_pa(20.0)
    columns = (air.temp_c, air.outdoor_temp_c, air.rh_low_pct / 100, air.rh_high_pct / 100, ratio)
    return np.ascontiguousarray(np.column_stack(columns))


def _history(
    work: Work, air: RoomAir, time: npt.NDArray[np.datetime64], sums: Singles, ranges: Singles
) -> History:
    """Return a work's history; no number where one is refused."""
    standing = standing_refusal(work, air.interval_s)
    refused = hourly_refusals(standing, sums, gaps_before(air, time))
    told = refused == ""
    p = np.where(told, sums[:4].astype(np.float64), np.nan)
    if work.frame in GLAZED and work.spacer_mm is None and "gap_mm" not in work.overrides:
        p[2] = np.nan
    by = {
        name: np.where(told[:, None], ranges[:, i, :].astype(np.float64), np.nan)
        for i, name in enumerate(layout.DETAIL)
    }
    return History(
        work_id=work.work_id,
        time_utc=time,
        p_slack=p[0],
        p_visible=p[1],
        p_clearance=p[2],
        p_hinges=p[3],
        refused=refused,
        **by,
    )


def gaps_before(air: RoomAir, time: npt.NDArray[np.datetime64]) -> npt.NDArray[np.bool_]:
    """Return for each hour whether an hour before it, or itself, was not measured."""
    seen = np.logical_or.accumulate(~air.measured)
    return np.asarray(seen[np.searchsorted(air.time_utc, time)], dtype=np.bool_)
