"""Whether a room's air is back: by the readings themselves, since a notice began."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
import pandas as pd

from analysis.air.sampling import usual_step_s
from analysis.results import Band, Event
from analysis.series import usable
from service.notices.causes import SUSTAINED, Kind, NoticeLimits

# A hole in the readings longer than this many usual steps says nothing of the air in it.
LONGEST_STEPS = 4.0


@dataclass(frozen=True)
class RoomRecord:
    """A room's usable humidity, as far as it is known.

    Parameters
    ----------
    rh_pct : pandas.Series
        By time, UTC, without gaps in its values [%RH].
    """

    rh_pct: pd.Series

    @classmethod
    def of(cls, frame: pd.DataFrame) -> "RoomRecord":
        """Return the record of a room's readings (`analysis.series.readings_frame`)."""
        rh = usable(frame, "rh_pct")
        return cls(rh.dropna() if rh.hasnans else rh)

    @property
    def known_until_utc(self) -> datetime | None:
        """The last reading that may be used."""
        return None if self.rh_pct.empty else self.rh_pct.index[-1].to_pydatetime()

    def back_utc(
        self, after_utc: datetime, level_rh_pct: float, *, rising: bool, hold_h: float
    ) -> datetime | None:
        """Return since when the air has been back, or None while it is not, or nobody knows.

        Parameters
        ----------
        after_utc : datetime
            When it went beyond the level, or later.
        level_rh_pct : float
            The level [%RH]; at it the air is back.
        rising : bool
            Whether beyond means above.
        hold_h : float
            It must have been back for this long, by readings and not by silence [h].
        """
        tail = self.rh_pct.loc[pd.Timestamp(after_utc) :]
        if tail.empty or math.isnan(level_rh_pct):
            return None
        beyond = (tail > level_rh_pct) if rising else (tail < level_rh_pct)
        return _first_held(tail.index, ~beyond.to_numpy(), self._longest_hole, hold_h)

    def was_beyond(
        self,
        after_utc: datetime,
        level_rh_pct: float,
        *,
        rising: bool,
        until_utc: datetime | None = None,
    ) -> bool:
        """Tell whether any reading since then, up to a time, was beyond a level."""
        end = None if until_utc is None else pd.Timestamp(until_utc)
        tail = self.rh_pct.loc[pd.Timestamp(after_utc) : end]
        return bool(((tail > level_rh_pct) if rising else (tail < level_rh_pct)).any())

    def settled_utc(
        self, after_utc: datetime, low_rh_pct: float, high_rh_pct: float, days: float
    ) -> datetime | None:
        """Return since when the air has stayed between two levels for ``days``, or None."""
        tail = self.rh_pct.loc[pd.Timestamp(after_utc) :]
        if tail.empty:
            return None
        inside = ((tail >= low_rh_pct) & (tail <= high_rh_pct)).to_numpy()
        return _first_held(tail.index, inside, self._longest_hole, 24.0 * days)

    def longest_h(
        self,
        after_utc: datetime,
        level_rh_pct: float,
        *,
        rising: bool = True,
        until_utc: datetime | None = None,
    ) -> float:
        """Return the longest time that the air has stayed at a level, or beyond it [h]."""
        end = None if until_utc is None else pd.Timestamp(until_utc)
        tail = self.rh_pct.loc[pd.Timestamp(after_utc) : end]
        beyond = (tail >= level_rh_pct) if rising else (tail <= level_rh_pct)
        return _held_h(tail.index, beyond.to_numpy(), self._longest_hole)

    @property
    def _longest_hole(self) -> timedelta:
        step_s = usual_step_s(pd.DatetimeIndex(self.rh_pct.index)) if len(self.rh_pct) > 1 else 0.0
        return timedelta(seconds=max(LONGEST_STEPS * step_s, 3600.0))


def outside_agreement(
    events: Iterable[Event], record: RoomRecord, band: Band | None, limits: NoticeLimits
) -> list[Event]:
    """Return events, sustained damp and dry measured from the agreed band where there is one.

    A room agreed to run at 45 to 68 %RH is not damp at 66; but no agreement reaches beyond
    `NoticeLimits.mould_rh_pct`, from where damp does harm whoever has agreed to it.
    """
    return [found for event in events if (found := _outside(event, record, band, limits))]


def _outside(
    event: Event, record: RoomRecord, band: Band | None, limits: NoticeLimits
) -> Event | None:
    rising = event.kind == Kind.DAMP
    if band is None or event.kind not in SUSTAINED:
        return event
    usual = event.from_value
    level = max(usual, min(band.high_rh_pct, limits.mould_rh_pct)) if rising else band.low_rh_pct
    level = level if rising else min(usual, level)
    held_h = record.longest_h(event.start_utc, level, rising=rising, until_utc=event.end_utc)
    if held_h < limits.mould_h:
        return None
    return replace(event, from_value=level, size=abs(event.peak_value - level))


def _runs(times: pd.Index, good: np.ndarray, hole: timedelta) -> list[tuple[int, int]]:
    """Return first and last place of each run of good readings without a hole in between."""
    gaps = np.diff(times.to_numpy()) > np.timedelta64(hole)
    found, start = [], None
    for place, is_good in enumerate(good):
        broken = place > 0 and gaps[place - 1]
        if start is not None and (broken or not is_good):
            found.append((start, place - 1))
            start = None
        if is_good and start is None:
            start = place
    return found if start is None else [*found, (start, len(good) - 1)]


def _first_held(
    times: pd.Index, good: np.ndarray, hole: timedelta, hold_h: float
) -> datetime | None:
    for first, last in _runs(times, good, hole):
        if times[last] - times[first] >= timedelta(hours=hold_h):
            start: datetime = times[first].to_pydatetime()
            return start
    return None


def _held_h(times: pd.Index, good: np.ndarray, hole: timedelta) -> float:
    runs = _runs(times, good, hole)
    return max(((times[b] - times[a]).total_seconds() / 3600.0 for a, b in runs), default=0.0)
