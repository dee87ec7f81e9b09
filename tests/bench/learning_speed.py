"""How long a person waits after one more look: learning for one work, as a multiple of one run.

    python -m bench learning_speed

One invented work, fourteen months of hourly air, 200 draws; 3 and 12 looks with a wave height at
every third. One run of the same work over the same air is the measure, so that a busy machine
slows both.
"""

import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from functools import partial

from analysis.learning.inspections import Inspection
from analysis.learning.posterior import Learned, learn
from analysis.simulation import estimator
from analysis.simulation.priors import draw
from analysis.works import Finish, Paper, Work
from bench.calibration import EVERY_THIRD, MOUNTED, START, room_year

DAYS = 425
GRADES = (0, 0, 1, 2, 2, 1, 1, 0, 0, 1, 2, 2)
WORK = Work(
    "speed",
    "Pier",
    1500.0,
    1000.0,
    Paper.FIBRE_BASE,
    Finish.GLOSSY,
    mounted_utc=MOUNTED,
    mounted_rh_pct=48.0,
)


def looks(count: int) -> list[Inspection]:
    """Return looks spread evenly over the fourteen months."""
    return [
        Inspection(
            START + timedelta(days=DAYS * (i + 1) / (count + 1), hours=9),
            GRADES[i * len(GRADES) // count],
            wave_mm=float(GRADES[i * len(GRADES) // count]) if i % EVERY_THIRD == 0 else None,
        )
        for i in range(count)
    ]


def best_of(times: int, work: Callable[[], object]) -> float:
    """Return the shortest of several durations [s]."""
    found = []
    for _ in range(times):
        began = time.perf_counter()
        work()
        found.append(time.perf_counter() - began)
    return min(found)


def run() -> Iterator[str]:
    """Return seconds, and multiples of one run."""
    air = room_year(days=DAYS)
    end = START + timedelta(days=DAYS - 1)

    def once() -> object:
        draws = {WORK.work_id: draw(WORK)}
        return estimator.run([WORK], draws, air, detail_from=end, week_starts=[end])

    def learned(count: int) -> Learned:
        return learn([WORK], {WORK.work_id: looks(count)}, air)[WORK.work_id]

    once()
    one = best_of(5, once)
    yield f"learning: one run of {DAYS} days takes {one:.3f} s"
    for count in (3, 12):
        took, found = best_of(3, partial(learned, count)), learned(count)
        yield (
            f"  after {count} looks {took:.2f} s, {took / one:.0f} runs' worth; redrawn "
            f"{found.redrawn} times, {found.effective:.0f} of {found.draws.n} draws differ"
        )


if __name__ == "__main__":
    for line in run():
        print(line)
