"""Processor time and memory of a room's figures, over one to ten years at five minutes."""

import resource
import time

import numpy as np
import pandas as pd

from analysis.air.quality import flag_readings
from analysis.air.room_statistics import room_statistics
from analysis.events.event_finding import find_events
from analysis.results import Band
from analysis.series import readings_frame

READINGS_A_YEAR = 365 * 288
YEARS = (1, 2, 5, 10)
BAND = Band("agreed", 40.0, 60.0, low_temp_c=16.0, high_temp_c=25.0)
ZONE = "Europe/Amsterdam"


def run() -> list[str]:
    """Return the lines of the report."""
    lines: list[str] = []
    first = 0.0
    for years in YEARS:
        frame = room(years)
        start = time.process_time()
        flagged = flag_readings(frame)
        with_flags = time.process_time()
        room_statistics(flagged, ZONE, BAND)
        with_figures = time.process_time()
        found = find_events(flagged, band=BAND, zone=ZONE)
        figures, events = with_figures - with_flags, time.process_time() - with_figures
        first = first or figures
        memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        lines.append(
            f"room figures, {years} years ({len(frame):,} readings): {figures:.2f} s, "
            f"{figures / first / years:.2f} of one year's cost a year; "
            f"flags {with_flags - start:.2f} s; {len(found)} events {events:.2f} s; "
            f"peak memory of the process {memory_mb:.0f} MB"
        )
    return lines


def room(years: int) -> pd.DataFrame:
    """Return an invented room: seasons, days, weather of days, noise, a sensor's rounding."""
    n = years * READINGS_A_YEAR
    rng, day = np.random.default_rng(1), np.arange(n) / 288
    half_days = np.arange(0, day[-1] + 1, 0.5)
    weather = np.interp(day, half_days, rng.normal(0, 3, len(half_days)))
    season, course = 8 * np.sin(2 * np.pi * day / 365), np.sin(2 * np.pi * day)
    rh = 50 + season + 3 * course + weather + rng.normal(0, 0.3, n)
    temp = 20 + course + rng.normal(0, 0.1, n)
    times = pd.date_range("2020-01-01", periods=n, freq="5min", tz="UTC")
    return readings_frame(times, temp_c=temp.round(1), rh_pct=rh.round(1))


if __name__ == "__main__":
    print("\n".join(run()))
