"""The truths of `bench.foreign_calibration`, told by weights over many draws: quicker, and a check.

    python -m bench.foreign_weights [WORKS] [DRAWS] [SEED] [TRUTHS]

Every work is carried once through its room with thousands of draws, whatever law its truths obey,
and however many sets of true numbers it has under each; what was seen weighs them. Nothing is drawn
again, so a work may be left with few draws that count: the sampler of the program does not have
that fault, and costs a hundred times more.
"""

import sys
import time
from collections import defaultdict
from collections.abc import Mapping, Sequence

import numpy as np

from analysis.air.room_air import RoomAir
from analysis.learning.likelihood import LOOKED_AT, log_likelihood
from analysis.learning.weighted import LEVELS, effective_sample_size, weights_of
from analysis.results import Floats
from analysis.simulation.estimator import run
from analysis.simulation.pasts import pasts_of
from analysis.simulation.priors import Draws, draw
from bench.foreign_calibration import (
    AFTER,
    JUDGED,
    LOOKED,
    PAST_YEARS,
    QUANTITIES,
    ROOMS,
    Calibration,
    Case,
    Stated,
    Told,
    cases,
    chances_of,
    found_of,
    lines,
    record_of,
    sheet_of,
    works_of_all_laws,
)
from bench.foreign_truths import LAWS, rooms_through_years

SELDOM = 0.1  # a work whose waves have a smaller chance is left be


def calibrate(count: int, n: int, seed: int, truths_each: int = 1) -> tuple[Calibration, list[str]]:
    """Return how ranges fare under every law, by weights over ``n`` draws, and what was missed."""
    air = rooms_through_years(ROOMS, PAST_YEARS, seed=seed)
    every = cases(works_of_all_laws(count, truths_each), air, seed)
    told: Told = {looks: {} for looks in AFTER}
    effective: dict[int, list[float]] = {looks: [] for looks in AFTER[1:]}
    for some in alike_of(every):  # they share the draws of the first
        draws = draw(some[0].work, n)
        _weigh(some, draws, _carried(some[0], draws, record_of(air, some[0].room)), told, effective)
    found = Calibration(
        [one for looks in AFTER for one in found_of(every, told[looks], looks)],
        [one for looks in AFTER for one in chances_of(every, told[looks], looks)],
        effective,
    )
    return found, _missed(every, told)


def alike_of(every: Sequence[Case]) -> list[list[Case]]:
    """Return the cases of each invented work, whatever their law and their true numbers."""
    alike = defaultdict(list)
    for one in every:
        alike[sheet_of(one.work)].append(one)
    return list(alike.values())


def _carried(one: Case, draws: Draws, record: RoomAir) -> Mapping[str, Floats]:
    key = one.work.work_id
    found = run([one.work], {key: draws}, record, detail_from=LOOKED[-1], keep_weeks=0,
                probe={key: (*JUDGED, *LOOKED)}, pasts=pasts_of(record))  # fmt: skip
    return found.probes[key]


class Sorted:
    """What draws show in the judged months, sorted once for all weights they are given."""

    def __init__(self, probes: Mapping[str, Floats], draws: Draws) -> None:
        load = np.maximum(probes["tension_md"], probes["tension_cd"])
        shown = {**probes, "load_n_m": load}
        judged = {name: shown[name][: len(JUDGED)] for name in QUANTITIES}
        self.order = {name: np.argsort(v, axis=1, kind="stable") for name, v in judged.items()}
        self.value = {n: np.take_along_axis(v, self.order[n], axis=1) for n, v in judged.items()}
        self.visible = judged["slope_mrad"] > draws["visible_slope_mrad"]

    def told(self, weights: Floats) -> tuple[Stated, Floats]:
        """Return the 90 % ranges in each month, and the chance of visible waves."""
        spans = {name: self._spans(name, weights) for name in QUANTITIES}
        return spans, self.visible @ weights

    def _spans(self, name: str, weights: Floats) -> Floats:
        share = weights[self.order[name]]
        middle = np.cumsum(share, axis=1) - share / 2.0
        ends = (LEVELS[0], LEVELS[-1])
        rows = zip(middle, self.value[name], strict=True)
        return np.array([np.interp(ends, at, values) for at, values in rows])


def _weigh(
    alike: Sequence[Case],
    draws: Draws,
    probes: Mapping[str, Floats],
    told: Told,
    effective: dict[int, list[float]],
) -> None:
    """Tell a work's ranges under each truth: ``probes`` of the judged months, then of the looks."""
    months, shown, visible = len(JUDGED), Sorted(probes, draws), draws["visible_slope_mrad"]
    for case in alike:
        for looks in AFTER:
            seen = {name: probes[name][months : months + looks] for name in LOOKED_AT}
            likely = np.zeros(draws.n)
            if looks:
                counted, finish = case.looks[:looks], case.work.finish
                likely = log_likelihood(counted, seen, finish, visible, [0] * looks)
            weights = weights_of(likely)
            if looks:
                effective[looks].append(effective_sample_size(weights))
            told[looks][case.work.work_id] = shown.told(weights)


def _missed(every: Sequence[Case], told: Told) -> list[str]:
    """Return how often waves were there in 1,000 months that gave them less than `SELDOM`."""
    out = [f"waves in 1,000 months that gave them less than {SELDOM:.0%}, after {AFTER} looks"]
    for law in (*LAWS, "every law"):
        some = [one for one in every if law in (one.law, "every law")]
        came = np.stack([one.visible for one in some])
        cells = []
        for looks in AFTER:
            seldom = np.stack([told[looks][one.work.work_id][1] for one in some]) < SELDOM
            share = 1000.0 * came[seldom].mean() if seldom.any() else np.nan
            cells.append(f"{share:4.0f} ({seldom.sum()})")
        out.append(f"  {law:28} " + "  ".join(cells))
    return out


def main(count: int, n: int, seed: int, truths_each: int) -> Calibration:
    """Print the tables and return them."""
    began = time.perf_counter()
    found, missed = calibrate(count, n, seed, truths_each)
    print(f"{count} works, {truths_each} truths each by {len(LAWS)} laws, {n} draws, seed {seed}")
    print("\n".join([*lines(found), *missed]))
    print(f"{time.perf_counter() - began:.0f} s")
    return found


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:5]]
    main(*[*given, *(24, 4000, 6, 1)[len(given) :]])
