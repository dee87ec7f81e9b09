"""Stretches in which humidity ranges too widely within 24 hours."""

from dataclasses import dataclass

import numpy as np

from analysis.air.swings import range24
from analysis.air.time_weights import DAY_S, HOUR_S
from analysis.events.air_record import AirRecord
from analysis.events.event_settings import EventSettings
from analysis.events.excursions import RunRule, runs


@dataclass(frozen=True)
class SwingRun:
    """A stretch with too wide a range24, as places in the record.

    ``earlier`` and ``later`` are the two extremes of its widest 24 hours; ``first`` is the earlier
    extreme of its first window, ``last`` the later extreme of its last.
    """

    first: int
    last: int
    earlier: int
    later: int
    over: bool


def swing_runs(record: AirRecord, settings: EventSettings) -> list[SwingRun]:
    """Return the stretches whose rolling 24-hour range exceeds ``settings.swing_rh_pct``.

    Only windows of which enough was measured are looked at.
    """
    if len(record) < 2:
        return []
    wide = range24(record.humidity).to_numpy()
    begins = np.searchsorted(record.at_s, record.at_s - DAY_S - 1e-6)
    measured = record.measured_s - record.measured_s[begins]
    enough = measured >= settings.swing_least_pct / 100.0 * DAY_S
    beyond = enough & (wide > settings.swing_rh_pct)
    rule = RunRule(merge_s=settings.swing_merge_gap_h * HOUR_S, break_s=record.gap_s)
    counted = np.where(beyond, wide, 0.0)
    found = []
    for run in runs(record.at_s, beyond, beyond, rule):
        widest = run.first + int(np.argmax(counted[run.first : run.last + 1]))
        earlier, later = _extremes(record, int(begins[widest]), widest)
        first, _ = _extremes(record, int(begins[run.first]), run.first)
        _, last = _extremes(record, int(begins[run.last]), run.last)
        over = record.at_s[-1] - record.at_s[run.last] > 0.0
        found.append(SwingRun(first, max(last, later), earlier, later, over))
    return found


def _extremes(record: AirRecord, begin: int, end: int) -> tuple[int, int]:
    """Return the places of the extremes of a window, the earlier one first."""
    window = record.rh_pct[begin : end + 1]
    low, high = begin + int(np.argmin(window)), begin + int(np.argmax(window))
    return min(low, high), max(low, high)
