"""The truths of `bench.foreign_calibration`, told by weights over many draws: quicker, and a check.

    python -m bench.foreign_weights [WORKS] [DRAWS] [SEED]

Every work is carried once through its room with thousands of draws, whatever law its truth obeys;
what was seen weighs them. Nothing is drawn again, so a work may be left with few draws that count:
the sampler of the program does not have that fault, and costs a hundred times more.
"""

import sys
import time
from collections.abc import Mapping, Sequence

import numpy as np

from analysis.learning.likelihood import LOOKED_AT, log_likelihood
from analysis.learning.weighted import effective_sample_size, weights_of
from analysis.results import Floats
from analysis.simulation.estimator import run
from analysis.simulation.pasts import pasts_of
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
    plain_name,
    ranges_of,
    record_of,
    works_of_all_laws,
)
from bench.foreign_truths import LAWS, rooms_through_years


def calibrate(count: int, n: int, seed: int) -> Calibration:
    """Return how the ranges fare under every law, by weights over ``n`` draws of each work."""
    air = rooms_through_years(ROOMS, PAST_YEARS, seed=seed)
    every = cases(works_of_all_laws(count), air, seed)
    told: Told = {looks: {} for looks in AFTER}
    effective: dict[int, list[float]] = {looks: [] for looks in AFTER[1:]}
    for one in every[:count]:  # each work under the first law; the others share its draws
        draws, probes = _carried(one, draw(one.work, n), record_of(air, one.room))
        alike = [case for case in every if plain_name(case.work) == plain_name(one.work)]
        weigh(alike, draws, probes, told, effective)
    return Calibration(
        [found for looks in AFTER for found in found_of(every, told[looks], looks)],
        [chance for looks in AFTER for chance in chances_of(every, told[looks], looks)],
        effective,
    )


def _carried(one: Case, draws: Draws, record):  # type: ignore[no-untyped-def]
    key = one.work.work_id
    found = run([one.work], {key: draws}, record, detail_from=LOOKED[-1], keep_weeks=0,
                probe={key: (*JUDGED, *LOOKED)}, pasts=pasts_of(record))  # fmt: skip
    return draws, found.probes[key]


def weigh(
    alike: Sequence[Case],
    draws: Draws,
    probes: Mapping[str, Floats],
    told: Told,
    effective: dict[int, list[float]],
) -> None:
    """Tell a work's ranges under each law: ``probes`` of the judged months, then of the looks."""
    months = len(JUDGED)
    judged = {name: values[:months] for name, values in probes.items()}
    for case in alike:
        for looks in AFTER:
            seen = {name: probes[name][months : months + looks] for name in LOOKED_AT}
            visible = draws["visible_slope_mrad"]
            likely = np.zeros(draws.n)
            if looks:
                counted, finish = case.looks[:looks], case.work.finish
                likely = log_likelihood(counted, seen, finish, visible, [0] * looks)
            weights = weights_of(likely)
            if looks:
                effective[looks].append(effective_sample_size(weights))
            told[looks][case.work.work_id] = ranges_of(judged, draws, weights)


def main(count: int, n: int, seed: int) -> Calibration:
    """Print the tables and return them."""
    began = time.perf_counter()
    found = calibrate(count, n, seed)
    print(f"{count} works, {len(LAWS)} laws, {n} draws weighed, seed {seed}")
    print("\n".join(lines(found)))
    print(f"{time.perf_counter() - began:.0f} s")
    return found


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:4]]
    works, draws, chosen = given if len(given) == 3 else (24, 4000, 6)
    main(works, draws, chosen)
