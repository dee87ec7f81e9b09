"""The truths of `bench.foreign_calibration` by what the program believed before: for comparison.

    python -m bench.foreign_before [WORKS] [DRAWS] [SEED]     works of one law each
    python -m bench.foreign_before WORKS DRAWS SEED TRUTHS    those of `bench.foreign_weights`

Nothing is lived before the record, the frame's air is its logger's, nothing stands for what the
chain may be off by, and looks are believed wholly. Told by weights over draws, so that after many
looks few of them count: what stands before any look is the safer comparison.
"""

import sys

import numpy as np

from analysis.learning.grades import grade_log_likelihood
from analysis.learning.likelihood import hinges_log_likelihood, wave_log_likelihood
from analysis.learning.weighted import effective_sample_size, weights_of
from analysis.parameters import parameter
from analysis.results import Floats
from analysis.simulation.estimator import run
from analysis.simulation.priors import Draws, draw
from bench.foreign_calibration import (
    AFTER,
    JUDGED,
    LOOKED,
    PAST_YEARS,
    ROOMS,
    Calibration,
    Case,
    Told,
    cases,
    chances_of,
    found_of,
    lines,
    record_of,
    works_of_all_laws,
    works_of_one_law,
)
from bench.foreign_truths import rooms_through_years
from bench.foreign_weights import Sorted, alike_of

NOT_BELIEVED = (
    "season_cos_pct",
    "season_sin_pct",
    "path_share",
    "frame_minus_logger_k",
    "logger_drift_pct_a",
)


def drawn_before(case: Case, n: int) -> Draws:
    """Return a work's draws without what was not believed: no discrepancy, no slip at once."""
    draws = draw(case.work, n)
    days = draws["hinge_creep_days"].copy()
    at_once = days <= parameter("discrepancy", "slip", "days").value
    if at_once.any() and not at_once.all():
        rng = np.random.default_rng(1)
        days[at_once] = rng.choice(days[~at_once], int(at_once.sum()))
    return draws.replace(
        hinge_creep_days=days, **{name: np.zeros(draws.n) for name in NOT_BELIEVED}
    )


def likely(case: Case, shown: dict[str, Floats], looks: int, visible: Floats) -> Floats:
    """Return the log likelihood of the first looks, believed wholly; ``shown`` at the looks."""
    total = np.zeros(len(visible))
    for i, one in enumerate(case.looks[:looks]):
        if one.grade is not None:
            slope = shown["slope_mrad"][i]
            total += grade_log_likelihood(one.grade, slope, case.work.finish, visible)
        if one.wave_mm is not None:
            total += wave_log_likelihood(one.wave_mm, shown["wave_mm"][i])
    if looks:
        total += hinges_log_likelihood(case.looks[:looks], shown["overload"][:looks])
    return total


def calibrate(count: int, n: int, seed: int, truths_each: int = 0) -> Calibration:
    """Return how the ranges fared under every law."""
    air = rooms_through_years(ROOMS, PAST_YEARS, seed=seed)
    named = works_of_all_laws(count, truths_each) if truths_each else works_of_one_law(count)
    every = cases(named, air, seed)
    told: Told = {looks: {} for looks in AFTER}
    effective: dict[int, list[float]] = {looks: [] for looks in AFTER[1:]}
    for alike in alike_of(every):
        first = alike[0]
        key, draws = first.work.work_id, drawn_before(first, n)
        probes = run(
            [first.work],
            {key: draws},
            record_of(air, first.room),
            keep_weeks=0,
            detail_from=LOOKED[-1],
            probe={key: (*JUDGED, *LOOKED)},
        ).probes[key]
        judged, visible = Sorted(probes, draws), draws["visible_slope_mrad"]
        shown = {name: values[len(JUDGED) :] for name, values in probes.items()}
        for case in alike:
            for looks in AFTER:
                weights = weights_of(likely(case, shown, looks, visible))
                told[looks][case.work.work_id] = judged.told(weights)
                if looks:
                    effective[looks].append(effective_sample_size(weights))
    return Calibration(
        [found for looks in AFTER for found in found_of(every, told[looks], looks)],
        [chance for looks in AFTER for chance in chances_of(every, told[looks], looks)],
        effective,
    )


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:5]]
    print("\n".join(lines(calibrate(*(given if len(given) >= 3 else (200, 1000, 53))))))
