"""The whole chain for works × draws × hours: the only copy of the loop.

Each link is a plain function of one draw in `enclosure`, `sheet`, `tension`, `cockle`. In
`room_to_print`, `print_to_tension` and `tension_to_surface` they are strung together over draws
that lie side by side in memory; here over hours and works.
"""

from collections.abc import Callable
from functools import cache

import numpy as np
import numpy.typing as npt
from numba import prange

from analysis.chain.compiled import compiled_parallel, part, sources_digest, threads_for
from analysis.results import Floats
from analysis.simulation import layout
from analysis.simulation.layout import BLOCK, Hour, Row, Shared, Sum
from analysis.simulation.print_to_tension import (
    discrepancy_link,
    losses_link,
    moisture_link,
    tension_link,
)
from analysis.simulation.ranges import counted_weights, shares_of_levels, weighted_ranges
from analysis.simulation.room_to_print import frame_link, stages_link, temperature_link
from analysis.simulation.tension_to_surface import (
    detail_link,
    doubts_link,
    headroom_link,
    surface_link,
)
from analysis.simulation.weeks import Signs, carry_week, is_known, share_within_week

N_FIXED, N_CARRIED, N_ROWS = len(layout.FIXED), len(layout.CARRIED), len(layout.ROWS)
N_SUMS, N_DETAIL = len(layout.SUMS), len(layout.DETAIL)
# All files whose functions the loop contains.
SOURCES = (
    "chain.compiled",
    "simulation.layout",
    "simulation.step",
    "simulation.room_to_print",
    "simulation.print_to_tension",
    "simulation.tension_to_surface",
    "chain.enclosure",
    "chain.isotherm",
    "chain.sheet",
    "chain.tension",
    "chain.cockle",
    "chain.headroom",
    "simulation.ranges",
    "simulation.weeks",
)


@part
def hour_link(b: Floats, n: int, k: Floats, hour: Floats, layered: bool) -> None:
    """Take a block of draws through one hour, from the room to the tension."""
    temperature_link(b, n, k, hour[Hour.ROOM_C], hour[Hour.OUTDOOR_C])
    low, high, ratio = hour[Hour.RH_LOW], hour[Hour.RH_HIGH], hour[Hour.ROOM_RATIO]
    frame_link(b, n, k, low, high, ratio, hour[Hour.UNCHECKED_A])
    stages_link(b, n, k, layered)
    moisture_link(b, n, k)
    tension_link(b, n, k)
    losses_link(b, n, k)
    discrepancy_link(b, n, hour)


@part
def work_through(
    hours: Floats,
    fixed: Floats,
    state: Floats,
    k: Floats,
    sums: Floats,
    detail: npt.NDArray[np.float32],
) -> None:
    """Carry one work through the hours: shapes (h, HOUR), (FIXED, n), (STATE, n), (h, SUMS)."""
    n, length, wanted = fixed.shape[1], hours.shape[0], detail.shape[0] > 0
    values = np.empty((length if wanted else 0, N_DETAIL, n), dtype=np.int32)
    signs = np.empty((length, n), dtype=np.uint8)
    b = np.empty(N_ROWS * BLOCK)
    layered = np.max(fixed[Row.IMAGE_SHARE // BLOCK]) > 0.0
    for start in range(0, n, BLOCK):
        end = min(start + BLOCK, n)
        size = end - start
        for row in range(N_FIXED):
            b[row * BLOCK : row * BLOCK + size] = fixed[row, start:end]
        for row in range(N_CARRIED):
            at = (N_FIXED + row) * BLOCK
            b[at : at + size] = state[row, start:end]
        for h in range(length):
            hour_link(b, size, k, hours[h], layered)
            surface_link(b, size, sums[h], signs[h, start:end])
            doubts_link(b, size, sums[h])
            if wanted:
                detail_link(b, size, values[h, :, start:end])
                headroom_link(b, size, values[h, :, start:end])
        for row in range(N_CARRIED):
            at = (N_FIXED + row) * BLOCK
            state[row, start:end] = b[at : at + size]
    week_link(signs, fixed[Row.WEIGHT // BLOCK], state, k, sums)
    range_link(values, fixed[Row.WEIGHT // BLOCK], detail)


@part
def week_link(signs: Signs, weight: Floats, state: Floats, k: Floats, sums: Floats) -> None:
    """Carry how long ago each draw was seen, near the glazing, giving way; write the shares."""
    # the rows of `layout.PAST`
    since_h = (state[N_CARRIED], state[N_CARRIED + 1], state[N_CARRIED + 2])
    for h in range(signs.shape[0]):
        carry_week(since_h, signs[h], is_known(sums[h], k[Shared.WIDEST_PCT], k[Shared.MOST]))
        sums[h, Sum.VISIBLE_WEEK] = share_within_week(since_h[0], weight)
        sums[h, Sum.CLEARANCE_WEEK] = share_within_week(since_h[1], weight)
        sums[h, Sum.HINGES_WEEK] = share_within_week(since_h[2], weight)


@part
def range_link(
    values: npt.NDArray[np.int32], weight: Floats, detail: npt.NDArray[np.float32]
) -> None:
    """Write the ranges of the hours in ``values``, shape (h or 0, DETAIL, n)."""
    shares = counted_weights(weight)
    levels, cells = shares_of_levels(shares), np.zeros_like(shares)
    for h in range(values.shape[0]):
        for q in range(N_DETAIL):
            weighted_ranges(values[h, q], shares, levels, cells, detail[h, q])


@cache
def _loop() -> Callable[..., int]:
    """Return the compiled loop over works, tied to the sources of all it contains."""
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
                work_through(hours, fixed[w], state[w], k, sums[w], detail[w])
        return sources

    return loop


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
        _loop()(hours, fixed, state, active, k, sums, detail)
