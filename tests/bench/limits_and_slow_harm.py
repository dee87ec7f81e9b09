"""Speed of verdicts and of slow harm over one, two, five and ten years at five minutes."""

import time
from collections.abc import Callable

import numpy as np
import pandas as pd

from analysis.harm.ageing import Reaction, ageing
from analysis.harm.condensation import BACK_OF_FRAME, wall_surface
from analysis.harm.gelatin import glazing_contact_hours, softening_hours
from analysis.harm.mould import mould_dose, mould_history
from analysis.limits.historic_climate import historic_climate, outside_band_pct
from analysis.limits.published_limits import published_limit
from analysis.limits.verdict import judge
from analysis.series import readings_frame
from analysis.works import Wall

READINGS_A_YEAR = 365 * 288
YEARS = (1, 2, 5, 10)
ZONE = "Europe/Amsterdam"


def run() -> list[str]:
    """Return the lines of the report."""
    lines, first = [], 0.0
    for years in YEARS:
        room, outdoor = damp_room(years)
        spent = {name: seconds_of(step) for name, step in steps(room, outdoor).items()}
        total = sum(spent.values())
        first = first or total
        parts = ", ".join(f"{name} {second:.2f} s" for name, second in spent.items())
        lines.append(
            f"limits and slow harm, {years} years ({len(room):,} readings): {total:.2f} s, "
            f"{total / first / years:.2f} of one year's cost a year ({parts})"
        )
    return lines


def seconds_of(step: Callable[[], object]) -> float:
    """Return the processor time of one call."""
    start = time.process_time()
    step()
    return time.process_time() - start


def steps(room: pd.DataFrame, outdoor: pd.Series) -> dict[str, Callable[[], object]]:
    """Return what is timed, by name."""
    return {
        "historic climate": lambda: outside_band_pct(historic_climate(room), room),
        "climate class": lambda: judge(published_limit("class_a1"), room, ZONE),
        "loan protocol": lambda: judge(published_limit("green_protocol_2023"), room, ZONE),
        "ageing": lambda: [ageing(room, reaction) for reaction in Reaction],
        "mould index": lambda: mould_history(room),
        "mould dose": lambda: mould_dose(room, ZONE),
        "gelatin": lambda: (softening_hours(room), glazing_contact_hours(room)),
        "back of a frame": lambda: wall_surface(room, outdoor, Wall.OUTSIDE_MASONRY, BACK_OF_FRAME),
    }


def damp_room(years: int) -> tuple[pd.DataFrame, pd.Series]:
    """Return an invented damp room, so that mould has something to do, and its outdoors."""
    n = years * READINGS_A_YEAR
    day = np.arange(n) / 288
    season, course = np.sin(2 * np.pi * day / 365), np.sin(2 * np.pi * day)
    noise = np.random.default_rng(1).normal(0.0, 1.0, n)
    times = pd.date_range("2020-01-01", periods=n, freq="5min", tz="UTC")
    room = readings_frame(times, temp_c=20 + course, rh_pct=65 + 17 * season + 3 * course + noise)
    return room, pd.Series(8 + 10 * season[::12], index=times[::12])


if __name__ == "__main__":
    print("\n".join(run()))
