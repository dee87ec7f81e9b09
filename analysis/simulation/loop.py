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
from analysis.simulation import layout
from analysis.simulation.layout import BLOCK, WIDTH, Row
from analysis.simulation.step import work_through, works_beside

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
_beside: Callable[..., None]


@cache
def _loop() -> Callable[..., int]:
    """Return the compiled loop over works, tied to the sources of all it contains."""
    global _through  # by this name, since what a closure holds would be part of the kept code's key
    _through = in_single(work_through)
    sources = sources_digest(SOURCES)

    @compiled_parallel(__name__)
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


@cache
def _loop_beside() -> Callable[..., int]:
    """Return the same over works of few draws, some of them side by side."""
    global _beside  # as above
    _beside = in_single(works_beside)
    sources = sources_digest(SOURCES)

    @compiled_parallel(__name__)
    def loop(
        hours: Floats,
        fixed: Floats,
        state: Floats,
        teams: npt.NDArray[np.int64],
        k: Floats,
        sums: Floats,
    ) -> int:
        for t in prange(teams.shape[0]):
            _beside(hours, fixed, state, k, sums, teams[t])
        return sources

    return loop


def _teams(fixed: Floats, active: npt.NDArray[np.bool_]) -> npt.NDArray[np.int64]:
    """Return works that go side by side, a team a row, by their places; -1 where a row has fewer.

    With an image layer the loop has a store of moisture more: those are teams of their own.
    """
    layered = fixed[:, Row.IMAGE_SHARE // BLOCK].max(axis=1) > 0.0
    many = WIDTH // fixed.shape[2]
    teams = []
    for kind in (False, True):
        works = np.flatnonzero(active & (layered == kind))
        rows = -(-len(works) // many)
        team = np.full(rows * many, -1, dtype=np.int64)
        team[: len(works)] = works
        teams.append(team.reshape(rows, many))
    return np.concatenate(teams)


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
    few = 2 * fixed.shape[2] <= WIDTH and not detail.shape[1]
    if few and np.count_nonzero(active) > 1:
        teams = _teams(fixed, active)
        with threads_for(len(teams)):
            _loop_beside()(single(hours), fixed, state, teams, single(k), sums)
        return
    with threads_for(int(np.count_nonzero(active))):
        _loop()(single(hours), fixed, state, active, single(k), sums, detail)


def compile_now() -> None:
    """Compile both loops for this machine, and keep them: see `compiled_parallel`."""
    for works, n in ((1, BLOCK), (2, WIDTH // 2)):
        all_works(
            np.zeros((1, len(layout.HOUR))),
            np.ones((works, len(layout.FIXED), n)),
            np.ones((works, len(layout.STATE), n)),
            np.ones(works, dtype=np.bool_),
            np.ones(len(layout.CONSTANTS)),
            np.zeros((works, 1, len(layout.SUMS))),
            np.empty((works, 0, len(layout.DETAIL), 3), dtype=np.float32),
        )
