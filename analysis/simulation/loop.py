"""The compiled loop over works, shared out to the cores: it runs `work_through` of `step`.

It runs in single precision, which holds to the digits that are shown (tested; what looks teach may
be drawn otherwise, see DEVELOPERS.md) and takes less than half of the time of double. What it is
given and gives back stays in double precision.
"""

from collections.abc import Callable
from functools import cache

import numpy as np
import numpy.typing as npt
from numba import prange

from analysis.chain.compiled import compiled_parallel, sources_digest, threads_for
from analysis.chain.precision import in_single
from analysis.results import Floats
from analysis.simulation.step import work_through

# All files whose functions the loop contains.
SOURCES = (
    "chain.compiled",
    "chain.precision",
    "simulation.layout",
    "simulation.loop",
    "simulation.step",
    "chain.enclosure",
    "chain.isotherm",
    "chain.sheet",
    "chain.tension",
    "chain.cockle",
    "chain.headroom",
    "simulation.ranges",
    "simulation.weeks",
)


_through: Callable[..., None]


@cache
def _loop() -> Callable[..., int]:
    """Return the compiled loop over works, tied to the sources of all it contains."""
    global _through  # by this name, since what a closure holds would be part of the kept code's key
    _through = in_single(work_through)
    sources = sources_digest(SOURCES)

    @compiled_parallel
    def loop(
        hours: Floats,
        fixed: Floats,
        state: Floats,
        active: npt.NDArray[np.bool_],
        k: Floats,
        sums: Floats,
        detail: npt.NDArray[np.float32],
    ) -> int:
        for w in prange(fixed.shape[0]):
            if active[w]:
                _through(hours, fixed[w], state[w], k, sums[w], detail[w])
        return sources

    return loop


def single(values: Floats) -> npt.NDArray[np.float32]:
    """Return numbers in the precision in which the loop runs."""
    return values.astype(np.float32)


def all_works(
    hours: Floats,
    fixed: Floats,
    state: Floats,
    active: npt.NDArray[np.bool_],
    k: Floats,
    sums: Floats,
    detail: npt.NDArray[np.float32],
) -> None:
    """Carry all active works through the hours, sharing them out to the cores.

    Parameters
    ----------
    hours : ndarray, shape (h, len(layout.HOUR))
    fixed : ndarray, shape (works, len(layout.FIXED), n)
    state : ndarray, shape (works, len(layout.STATE), n)
        Changed to the state at the last hour.
    active : ndarray of bool, shape (works,)
    k : ndarray, shape (len(layout.CONSTANTS),)
    sums : ndarray, shape (works, h, len(layout.SUMS))
        Added to.
    detail : ndarray of float32, shape (works, h or 0, len(layout.DETAIL), 3)
        Written, where it has hours.
    """
    with threads_for(int(np.count_nonzero(active))):
        _loop()(single(hours), fixed, state, active, single(k), sums, detail)
