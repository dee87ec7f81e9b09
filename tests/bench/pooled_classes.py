"""Does a work that nobody measured gain by what was measured of its kind, and does an odd one harm?

    python -m bench.pooled_classes [CLASSES]

In each invented class six works are measured and a seventh is not. How alike they are differs from
class to class. The seventh is lived through a year by its true numbers and estimated twice: from
the tables' ranges, and from what its class lends. Once more one of the six is far off.
"""

import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.learning.class_knowledge import pooled
from analysis.learning.stated_values import table_row
from analysis.learning.weighted import weighted_range
from analysis.results import Floats, Range
from analysis.simulation.estimator import run
from analysis.simulation.pasts import pasts_of
from analysis.simulation.priors import Draws, draw
from analysis.works import Borrowed, Override, Work
from bench.calibration import invented_works, room_year, truths
from bench.foreign_calibration import JUDGED, MISS

NAMES = ("beta_md", "beta_cd", "half_time_h", "hinge_free_length_mm")
MEASURED, ERROR, FAR = 6, 0.1, 4.0
QUANTITIES = ("headroom_up_pct", "slope_mrad", "print_rh_pct")


@dataclass(frozen=True)
class Gained:
    """One quantity of works that nobody measured: cover [%] and mean interval score."""

    quantity: str
    began_with: str
    held_pct: float
    score: float


def classes(count: int, seed: int = 3) -> list[tuple[Work, Draws, dict[str, dict[str, Range]]]]:
    """Return works not measured, their true numbers, and what their classes lend: usual, odd."""
    works = invented_works(count)
    true, rng = truths(works, seed=seed), np.random.default_rng(seed)
    out = []
    for work in works:
        lent: dict[str, dict[str, Range]] = {"class": {}, "class with an odd one": {}}
        own = {}
        for name in NAMES:
            row = table_row(work, name)
            assert row is not None
            prior = Range(row.low, row.value, row.high)
            mean, spread = np.log(row.value), np.log(row.high / row.low) / 4.0
            alike = rng.uniform(0.05, 1.0)
            centre = mean + spread * np.sqrt(1.0 - alike) * rng.standard_normal()
            every = centre + spread * np.sqrt(alike) * rng.standard_normal(MEASURED + 1)
            seen = every[:-1] + ERROR * rng.standard_normal(MEASURED)
            own[name] = np.exp(every[-1:])
            odd = np.append(seen[:-1], mean + FAR * spread * rng.choice([-1.0, 1.0]))
            lent["class"][name] = pooled(prior, _stated(seen))
            lent["class with an odd one"][name] = pooled(prior, _stated(odd))
        out.append((work, true[work.work_id].replace(**own), lent))
    return out


def _stated(logs: Floats) -> list[Override]:
    reach = np.exp(2.0 * ERROR)
    return [Override(v, v / reach, v * reach, "measured") for v in np.exp(logs)]


def _lent(work: Work, ranges: dict[str, Range]) -> Work:
    kind = (("paper", str(work.paper)),)
    return replace(work, borrowed={
        name: Borrowed(r.mid, r.low, r.high, kind, (), "a class") for name, r in ranges.items()
    })  # fmt: skip


def gained(count: int = 24, n: int = 200) -> list[Gained]:
    """Return how the ranges of works that nobody measured fare by what they began with."""
    air, made = room_year(), classes(count)
    true = _shown([work for work, _, _ in made], {w.work_id: d for w, d, _ in made}, air)
    out = []
    for begun in ("tables", "class", "class with an odd one"):
        works = [w if begun == "tables" else _lent(w, lent[begun]) for w, _, lent in made]
        shown = _shown(works, {w.work_id: draw(w, n) for w in works}, air)
        for name in QUANTITIES:
            out.append(_scored(name, begun, true, shown))
    return out


def _shown(works: Sequence[Work], draws: dict[str, Draws], air):  # type: ignore[no-untyped-def]
    asked = {work.work_id: JUDGED for work in works}
    found = run(works, draws, air, detail_from=JUDGED[-1], keep_weeks=0, probe=asked,
                pasts=pasts_of(air))  # fmt: skip
    return found.probes


def _scored(name: str, begun: str, true, shown) -> Gained:  # type: ignore[no-untyped-def]
    held, score = [], []
    for key, probes in shown.items():
        for month, values in enumerate(probes[name]):
            span, t = weighted_range(values), float(true[key][name][month, 0])
            missed = max(span.low - t, 0.0) + max(t - span.high, 0.0)
            held.append(missed <= 1e-9)
            score.append(span.high - span.low + MISS * missed)
    return Gained(name, begun, 100.0 * float(np.mean(held)), float(np.mean(score)))


def main(count: int) -> list[Gained]:
    """Print what works that nobody measured gain."""
    found = gained(count)
    print(f"{count} classes of {MEASURED} measured works and one that is not")
    for one in found:
        print(f"  {one.quantity:18} {one.began_with:22} held {one.held_pct:5.1f} %  "
              f"score {one.score:6.1f}")  # fmt: skip
    return found


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 24)
