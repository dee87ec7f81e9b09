"""Many works with few draws each, taken through hours side by side as if they were one work's.

What a draw lives through does not depend on those beside it, but the loop takes sixteen draws in
the time of four. Nothing is told of the hours on the way: no sums and no ranges.
"""

from collections.abc import Iterable, Sequence

import numpy as np
import numpy.typing as npt

from analysis.results import Floats
from analysis.simulation.layout import BLOCK, LANES, WIDTH, Row
from analysis.simulation.loop import all_works
from analysis.simulation.passage import Passage
from analysis.simulation.step import N_DETAIL, N_SUMS

IMAGE_SHARE = Row.IMAGE_SHARE // BLOCK


class Together:
    """The works of a passage, of each its first few draws.

    Parameters
    ----------
    passage : Passage
        Without phases; works begin, and frames are closed, on its way.
    counts : sequence of int
        How many draws of each work count; those after them are not looked at.
    """

    def __init__(self, passage: Passage, counts: Sequence[int]) -> None:
        self._passage = passage
        layered = passage.fixed[:, IMAGE_SHARE].max(axis=1) > 0.0
        counted = np.asarray(counts) > 0
        groups = (np.flatnonzero(counted & (layered == kind)) for kind in (False, True))
        self._groups = [_Group(passage, group, counts) for group in groups if len(group)]

    def advance(self, before: int, at: int) -> None:
        """Run the hours after ``before`` up to and including ``at``."""
        for group in self._groups:
            group.advance(before, at)

    def happen(self, at: int) -> None:
        """Begin works whose hour has come, and close frames that were closed now."""
        changing = self._passage.changing(at)
        if not changing:
            return
        for group in self._groups:
            group.give_back(changing)
        self._passage.happen(at)
        for group in self._groups:
            group.take(changing)

    def end(self) -> None:
        """Give the state of all works back to the passage."""
        for group in self._groups:
            group.give_back(range(len(self._passage.works)))


class _Group:
    """Draws of some works in blocks of one width; those that fill the last are copies."""

    def __init__(
        self, passage: Passage, works: npt.NDArray[np.intp], counts: Sequence[int]
    ) -> None:
        self._passage = passage
        works = works[np.argsort(passage.mounted[works], kind="stable")]
        owner = np.concatenate([np.full(counts[i], i) for i in works])
        draw = np.concatenate([np.arange(counts[i]) for i in works])
        ends = np.cumsum([counts[i] for i in works])
        self._columns = {
            int(i): np.arange(e - counts[i], e) for i, e in zip(works, ends, strict=True)
        }
        blocks = -(-len(owner) // WIDTH)
        self._width = -(-len(owner) // (blocks * LANES)) * LANES if blocks else 0
        fill = blocks * self._width - len(owner)
        self._owner = np.concatenate([owner, np.repeat(owner[-1:], fill)])
        self._draw = np.concatenate([draw, np.repeat(draw[-1:], fill)])
        self._fixed = self._in_blocks(passage.fixed)
        self._state = self._in_blocks(passage.state)
        self._active = self._begun()

    def advance(self, before: int, at: int) -> None:
        hours = self._passage.hours[before + 1 : at + 1]
        if not len(hours) or not self._active.any():
            return
        blocks = len(self._active)
        sums = np.zeros((blocks, len(hours), N_SUMS))
        ranges = np.empty((blocks, 0, N_DETAIL, 3), dtype=np.float32)
        constants = self._passage.constants
        all_works(hours, self._fixed, self._state, self._active, constants, sums, ranges)

    def give_back(self, works: Iterable[int]) -> None:
        at, block, place = self._where(works)
        self._passage.state[self._owner[at], :, self._draw[at]] = self._state[block, :, place]

    def take(self, works: Iterable[int]) -> None:
        at, block, place = self._where(works)
        if not len(at):
            return
        self._state[block, :, place] = self._passage.state[self._owner[at], :, self._draw[at]]
        self._active = self._begun()

    def _where(self, works: Iterable[int]) -> tuple[npt.NDArray[np.intp], ...]:
        """Return the columns of works, and in which block and where in it they stand."""
        found = [self._columns[i] for i in works if i in self._columns]
        at = np.concatenate(found) if found else np.empty(0, dtype=np.intp)
        return at, *np.divmod(at, self._width)

    def _in_blocks(self, rows: Floats) -> Floats:
        columns = rows[self._owner, :, self._draw].reshape(-1, self._width, rows.shape[1])
        return np.ascontiguousarray(columns.transpose(0, 2, 1))

    def _begun(self) -> npt.NDArray[np.bool_]:
        """Return in which blocks some work has begun."""
        begun = self._passage.active[self._owner].reshape(-1, self._width)
        return np.asarray(begun.any(axis=1))
