"""Simulation-based calibration of learning: how often the 90 % ranges hold the truth.

    python -m bench.calibration [WORKS] [DRAWS]

Works are invented, each with true parameters drawn from the same tables as the estimator's draws
but with other random numbers. A year of room air is run with the true parameters. Once a month an
observer with the stated spread grades the slope, at every third look measures the waves as well,
and notices hinges that let go, or misses them; the last month is kept back. Learning sees what the
observer wrote down, no more.
"""

import sys
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd
from scipy.signal import lfilter

from analysis.air.room_air import RoomAir, hourly_air
from analysis.learning.grades import grade_probabilities
from analysis.learning.inspections import Inspection
from analysis.learning.posterior import Learned, learn
from analysis.learning.weighted import weighted_range
from analysis.parameters import parameter, table
from analysis.results import Floats
from analysis.series import readings_frame
from analysis.simulation.drawer import log_moments
from analysis.simulation.estimator import run
from analysis.simulation.pasts import pasts_of
from analysis.simulation.priors import Draws, draw
from analysis.simulation.redraw import draws_from, levels_of
from analysis.works import Finish, FrameBuild, Panel, Paper, Work

START = datetime(2025, 1, 1, tzinfo=UTC)
MOUNTED = datetime(2024, 10, 1, tzinfo=UTC)
INSPECTED = tuple(START + timedelta(days=30 * i, hours=10) for i in range(1, 12))
LATER = START + timedelta(days=362)
EVERY_THIRD = 3  # looks at which the waves are measured
PARAMETERS = (
    "beta_cd",
    "prestrain",
    "half_time_h",
    "mounted_rh_pct",
    "hinge_capacity_n_m",
    "wavelength_m",
    "visible_slope_mrad",
)
STATES = ("headroom_up_pct", "print_rh_pct")
PAPERS = (Paper.FIBRE_BASE, Paper.INKJET_COTTON, Paper.RESIN_COATED, Paper.PLAIN)
BUILDS = (FrameBuild.B, FrameBuild.C, FrameBuild.D)
SHARE = 0.90


@dataclass(frozen=True)
class Checked:
    """One quantity over all works: how often the range held the truth, and how wide it was.

    ``narrower`` is the median over works of the width after learning over that before.
    """

    name: str
    held_before: float
    held_after: float
    narrower: float


def room_year(seed: int = 7, days: int = 365) -> RoomAir:
    """Return a year of invented room air: seasons, weather of days, a little noise."""
    hours = days * 24
    rng = np.random.default_rng(seed)
    index = pd.date_range(START, periods=hours, freq="h")
    season = np.cos(2.0 * np.pi * (np.arange(hours) / 8766.0 - 0.05))
    weather = np.asarray(lfilter([1.0], [1.0, -0.99], rng.normal(0.0, 0.7, hours)))
    temp = 20.5 - 1.5 * season + rng.normal(0.0, 0.1, hours)
    rh = np.clip(49.0 - 7.0 * season + weather, 20.0, 80.0)
    frame = readings_frame(index, temp_c=temp, rh_pct=rh)
    return hourly_air(frame, start_utc=START, end_utc=index[-1].to_pydatetime())


def invented_works(count: int) -> list[Work]:
    """Return works that differ in paper, build, finish and humidity at mounting."""
    finishes = list(Finish)
    return [
        Work(
            work_id=f"C{i:03d}",
            title=f"Sheet {i}",
            width_mm=1000.0 + 50.0 * (i % 9),
            height_mm=800.0 + 40.0 * (i % 7),
            paper=PAPERS[i % 4],
            finish=finishes[i % 3],
            panel=list(Panel)[i % 2],
            frame=BUILDS[i % 3],
            mounted_utc=MOUNTED,
            mounted_rh_pct=44.0 + float(i % 5) * 1.5,
        )
        for i in range(count)
    ]


def truths(works: Sequence[Work], seed: int = 11, left_out: Sequence[str] = ()) -> dict[str, Draws]:
    """Return one true set of parameters a work, independent of the estimator's draws.

    Doubts that are left out are drawn as well, and put at the far end of their range.
    """
    rng = np.random.default_rng(seed)
    found = {}
    for work in works:
        names = levels_of(work, 2)
        levels = {name: rng.random(1) for name in names}
        levels |= {name: np.ones(1) for name in left_out if name in levels}
        found[work.work_id] = draws_from(work, levels)
    return found


def observed(
    works: Sequence[Work], true: Mapping[str, Draws], air: RoomAir, seed: int = 13
) -> tuple[dict[str, list[Inspection]], dict[str, dict[str, float]]]:
    """Return what an observer writes down, and the true states at the hour kept back."""
    rng = np.random.default_rng(seed)
    instants = [*INSPECTED, LATER]
    asked = {work.work_id: instants for work in works}
    probes = run(works, true, air, detail_from=LATER, probe=asked, pasts=pasts_of(air)).probes
    seen, later = {}, {}
    for work in works:
        key = work.work_id
        shown = {name: values[: len(INSPECTED), 0] for name, values in probes[key].items()}
        p = grade_probabilities(shown["slope_mrad"], work.finish, true[key]["visible_slope_mrad"])
        grades = [int(rng.choice(4, p=row / row.sum())) for row in p]
        heights = measured_heights(shown["wave_mm"], rng)
        released = noticed(shown["overload"], rng)
        found = zip(INSPECTED, grades, heights, released, strict=True)
        seen[key] = [
            Inspection(at, grade, wave_mm=height, released=gone)
            for at, grade, height, gone in found
        ]
        later[key] = {name: float(probes[key][name][-1, 0]) for name in STATES}
    return seen, later


def measured_heights(wave_mm: Floats, rng: np.random.Generator) -> list[float | None]:
    """Return the heights written down: at every third look, 0 where too low to be measured."""
    rows, slip = table("grades")["wave"], parameter("grades", "observer", "slip").value
    middle, width = log_moments(rows["any_mm"])
    found: list[float | None] = []
    for look, true in enumerate(wave_mm):
        factor = np.exp(np.log(rows["spread_factor"].value) * rng.normal())
        any_height = np.exp(middle + width * rng.normal())
        height = float(any_height if rng.random() < slip else true * factor)
        told = height if height >= rows["least_mm"].value else 0.0
        found.append(told if look % EVERY_THIRD == 0 else None)
    return found


def noticed(overload: Floats, rng: np.random.Generator) -> list[bool | None]:
    """Return at which look a release is noticed, if at any: each one is as well hidden as it is."""
    rows, slip = table("grades")["release"], parameter("grades", "observer", "slip").value
    holds = np.exp(np.log(rows["spread_factor"].value) * rng.normal())
    both = 1.0 / rows["alike"].value - 1.0
    missed = rng.beta(rows["missed"].value * both, (1.0 - rows["missed"].value) * both)
    said: list[bool | None] = [None] * len(overload)
    looks = [i for i, load in enumerate(overload) if load > holds and rng.random() > missed]
    if rng.random() < slip:
        looks = [len(overload) // 2] if rng.random() < 0.5 else []
    if looks:
        said[looks[0]] = True
    return said


def calibrate(count: int = 200, draws: int = 200) -> tuple[list[Checked], dict[str, Learned]]:
    """Return how often ranges held the truth before and after learning, over ``count`` works."""
    air, works = room_year(), invented_works(count)
    true = truths(works)
    seen, later = observed(works, true, air)
    learned = learn(works, seen, air, draws)
    prior = {work.work_id: draw(work, draws) for work in works}
    values = {key: {n: float(true[key][n][0]) for n in PARAMETERS} | later[key] for key in later}
    before = _ranges(works, prior, {}, air)
    after = _ranges(
        works,
        {key: one.draws for key, one in learned.items()},
        {key: one.weights for key, one in learned.items()},
        air,
    )
    return [_checked(name, values, before, after) for name in (*PARAMETERS, *STATES)], learned


Ranges = dict[str, dict[str, tuple[float, float]]]


def _ranges(
    works: Sequence[Work], draws: Mapping[str, Draws], weights: Mapping[str, Floats], air: RoomAir
) -> Ranges:
    asked = {work.work_id: [LATER] for work in works}
    probes = run(
        works, draws, air, weights=weights, detail_from=LATER, probe=asked, pasts=pasts_of(air)
    ).probes
    found: Ranges = {}
    for work in works:
        key, share = work.work_id, weights.get(work.work_id)
        values = {n: draws[key][n] for n in PARAMETERS} | {n: probes[key][n][0] for n in STATES}
        spans = {n: weighted_range(v, share) for n, v in values.items()}
        found[key] = {n: (span.low, span.high) for n, span in spans.items()}
    return found


def _checked(
    name: str, true: Mapping[str, Mapping[str, float]], before: Ranges, after: Ranges
) -> Checked:
    def held(ranges: Ranges) -> float:
        inside = [ranges[k][name][0] <= true[k][name] <= ranges[k][name][1] for k in true]
        return float(np.mean(inside))

    width = [np.ptp(after[k][name]) / np.ptp(before[k][name]) for k in true]
    return Checked(name, held(before), held(after), float(np.median(width)))


def main(count: int, draws: int) -> list[Checked]:
    """Print the calibration and return it."""
    began = time.perf_counter()
    checked, learned = calibrate(count, draws)
    redrawn = sum(one.redrawn > 0 for one in learned.values())
    print(f"{count} works, {draws} draws, {len(INSPECTED)} inspections each; redrawn: {redrawn}")
    for one in checked:
        print(
            f"  {one.name:20} held before {100 * one.held_before:5.1f} %  "
            f"after {100 * one.held_after:5.1f} %  width after/before {one.narrower:.2f}"
        )
    distinct = np.median([one.effective for one in learned.values()])
    print(f"  median of effective draws {distinct:.0f}; {time.perf_counter() - began:.0f} s")
    return checked


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:3]]
    main(*(given if len(given) == 2 else (200, 200)))
