"""The draws as levels: each parameter's place in its range, from which draws are made again.

Every draw of `analysis.simulation.priors` is a function of levels between 0 and 1, one for each
named source of doubt. Turned into standard normals, the levels are a space in which all doubts
weigh alike, none leaves the range of its table, and the priors are independent.
"""

from collections.abc import Mapping
from hashlib import sha256

import numpy as np
from scipy.special import ndtr, ndtri

from analysis.results import Floats
from analysis.simulation.drawer import LEVELS_OF, Drawer
from analysis.simulation.priors import Draws, drawn, surface, unmodelled
from analysis.works import Work

EDGE = 1e-9


class _Recorder(Drawer):
    """Draws as usual and keeps the levels that were asked for."""

    def __init__(self, work: Work, n: int) -> None:
        super().__init__(work, n)
        self.asked: dict[str, Floats] = {}

    def levels(self, name: str) -> Floats:
        self.asked[self.doubt(name)] = super().levels(name)
        return self.asked[self.doubt(name)]


class _Replay(Drawer):
    """Draws from levels that were given; a doubt that has none keeps its own."""

    def __init__(self, work: Work, given: Mapping[str, Floats]) -> None:
        super().__init__(work, len(next(iter(given.values()))))
        self.given = given

    def levels(self, name: str) -> Floats:
        given = self.given.get(self.doubt(name))
        return super().levels(name) if given is None else given


def levels_of(work: Work, n: int) -> dict[str, Floats]:
    """Return the levels behind `priors.draw(work, n)`, by name, each of shape (n,)."""
    recorder = _Recorder(work, n)
    drawn(recorder)
    return recorder.asked


def draws_from(work: Work, levels: Mapping[str, Floats]) -> Draws:
    """Return the draws that stand at these levels; the inverse of `levels_of`.

    The work may differ from the one the levels came from, in its frame or its mounting: what was
    learned of the sheet goes with it.
    """
    return drawn(_Replay(work, levels))


def surface_at(work: Work, levels: Mapping[str, Floats]) -> dict[str, Floats]:
    """Return what `draws_from` tells of how a surface is seen and read, at less cost."""
    replay = _Replay(work, levels)
    return surface(replay) | unmodelled(replay)


def jittered(
    levels: Mapping[str, Floats], step: float, rng: np.random.Generator
) -> dict[str, Floats]:
    """Return levels moved by a random step that leaves the priors as they are.

    In standard normals: z' = sqrt(1 - step²) z + step ξ, the autoregressive proposal under which
    draws from the prior stay draws from the prior (Neal 1998; Cotter et al. 2013), so that moves
    can be accepted on the likelihood alone.
    """
    moved = {}
    for name, level in levels.items():
        normal = ndtri(np.clip(level, EDGE, 1.0 - EDGE))
        normal = np.sqrt(1.0 - step**2) * normal + step * rng.standard_normal(len(level))
        moved[name] = np.clip(ndtr(normal), EDGE, 1.0 - EDGE)
    return moved


def generator(work_id: str, purpose: str) -> np.random.Generator:
    """Return a random generator seeded by the work and a purpose."""
    digest = sha256(f"{work_id}\n{LEVELS_OF}\n{purpose}".encode()).digest()
    return np.random.Generator(np.random.PCG64(int.from_bytes(digest[:16], "big")))
