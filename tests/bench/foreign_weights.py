"""The truths of `bench.foreign_calibration`, told by weights over many draws: quicker, and a check.

    python -m bench.foreign_weights [WORKS] [DRAWS] [SEED] [FOLDER]

Every work is carried once through its room with thousands of draws, whatever law its truth obeys;
what was seen weighs them. Nothing is drawn again, so a work may be left with few draws that count:
the sampler of the program does not have that fault, and costs a hundred times more. With a FOLDER
the figure of the validation guide is drawn into it.
"""

import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
from matplotlib.figure import Figure

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
from dashboards.charts.style import SERIF, TALL_A4_MM, Sheet, drawn, svg
from dashboards.inks import GREY, INK, WASH

PANELS = (
    ("headroom_up_pct", "headroom up"),
    ("headroom_down_pct", "headroom down"),
    ("print_rh_pct", "print humidity"),
    ("slope_mrad", "slope"),
    ("load_n_m", "hinge load"),
)


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


@drawn
def held_figure(found: Calibration) -> Figure:
    """Return how often the 90 % ranges held each truth, before looks and after twelve."""
    by = {(one.law, one.looks, one.quantity): one.held_pct for one in found.found}
    page = Sheet.new(TALL_A4_MM, 26.0 + 5.5 * len(LAWS))
    page.write(4.0, 3.0, "Do the 90 % ranges hold truths of other laws?", family=SERIF, size=12)
    for column, (quantity, words) in enumerate(PANELS):
        axes = page.axes(46.0 + 25.0 * column, 16.0, 21.0, 5.5 * len(LAWS) - 2.0)
        axes.axvspan(85.0, 97.0, color=WASH, lw=0)
        for row, law in enumerate(LAWS):
            axes.plot([by[law, 0, quantity]], [row], "o", mfc="none", mec=GREY, ms=4)
            axes.plot([by[law, 12, quantity]], [row], "o", color=INK, ms=4)
        axes.set_yticks(range(len(LAWS)), list(LAWS) if column == 0 else [""] * len(LAWS))
        axes.set_xlim(65.0, 101.0)
        axes.set_xticks([70, 85, 97])
        axes.set_ylim(len(LAWS) - 0.5, -0.5)
        axes.set_title(words, size=7, loc="left")
    key = "per cent of works and months; open: no look, full: after twelve; shaded: 85 to 97 %"
    page.write(46.0, 20.0 + 5.5 * len(LAWS), key, size=7)
    return page.figure


def main(count: int, n: int, seed: int, folder: Path | None = None) -> Calibration:
    """Print the tables and return them; into a folder, the figure."""
    began = time.perf_counter()
    found = calibrate(count, n, seed)
    print(f"{count} works, {len(LAWS)} laws, {n} draws weighed, seed {seed}")
    print("\n".join(lines(found)))
    print(f"{time.perf_counter() - began:.0f} s")
    if folder is not None:
        (folder / "foreign-truths.svg").write_bytes(svg(held_figure(found)))
    return found


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:4]]
    place = Path(sys.argv[4]) if len(sys.argv) > 4 else None
    works, draws, chosen = given if len(given) == 3 else (24, 4000, 6)
    main(works, draws, chosen, place)
