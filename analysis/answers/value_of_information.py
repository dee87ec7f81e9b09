"""What it would bring to know a parameter: each link's range with the one that decides it settled.

A rank correlation says what goes along with a number; this says what knowing it would narrow. The
work is run again with that one parameter at its middle in every draw, all others as they were.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from analysis.air.room_air import RoomAir
from analysis.answers.explain import (
    Chain,
    Link,
    air_until,
    as_it_was,
    quantities_of,
    range_of,
)
from analysis.results import Floats, Range
from analysis.simulation.estimator import run
from analysis.simulation.pasts import pasts_of
from analysis.simulation.phases import DrawnPhase
from analysis.simulation.priors import Draws
from analysis.works import Work

FIRST = 3  # parameters of a link that are settled


def with_what_knowing_brings(
    chain: Chain,
    work: Work,
    draws: Draws,
    air: RoomAir,
    weights: Floats | None = None,
    earlier: Sequence[DrawnPhase] = (),
) -> Chain:
    """Return a chain whose leading links say how much narrower knowing a parameter would make them.

    Settled are, one by one, the first three parameters of each leading link that one decides.

    Parameters
    ----------
    chain : Chain
        As `analysis.answers.explain.explain` gave it for the other arguments.
    work, draws, air, weights, earlier
        As there.
    """
    asked = [link for link in chain.leading if link.holds and link.named]
    named = dict.fromkeys(one.name for link in asked for one in link.influences[:FIRST])
    known = _known(chain, work, draws, air, weights, earlier, named)
    links = [
        replace(link, narrower=_narrower(link, known)) if link in asked else link
        for link in chain.links
    ]
    return replace(chain, links=links)


def _known(
    chain: Chain,
    work: Work,
    draws: Draws,
    air: RoomAir,
    weights: Floats | None,
    earlier: Sequence[DrawnPhase],
    named: Iterable[str],
) -> dict[str, dict[str, Range]]:
    """Return, for each parameter, the ranges of the leading links if it were known."""
    work, draws, before = as_it_was(work, draws, earlier, chain.at_utc)
    part = air_until(work, air, chain.at_utc)
    copies = {name: replace(work, work_id=f"{work.work_id}/{name}") for name in named}
    settled = {name: _settled(draws, name, weights) for name in copies}
    phases = {
        copy.work_id: [_phase(phase, copy.work_id, draws, name, weights) for phase in before]
        for name, copy in copies.items()
    }
    found = run(
        list(copies.values()),
        {copy.work_id: settled[name] for name, copy in copies.items()},
        part,
        detail_from=chain.at_utc,
        probe={copy.work_id: [chain.at_utc] for copy in copies.values()},
        week_starts=[chain.at_utc],
        keep_weeks=0,
        earlier=phases,
        pasts=pasts_of(air),
    )
    ranges = {}
    for name, copy in copies.items():
        probes = {key: values[0] for key, values in found.probes[copy.work_id].items()}
        every = quantities_of(copy, settled[name], part, probes)
        ranges[name] = {link.name: range_of(every[link.name], weights) for link in chain.leading}
    return ranges


def _settled(draws: Draws, name: str, weights: Floats | None) -> Draws:
    middle = range_of(draws[name], weights).mid
    return draws.replace(**{name: np.full(draws.n, middle)})


def _phase(
    phase: DrawnPhase, work_id: str, draws: Draws, name: str, weights: Floats | None
) -> DrawnPhase:
    """Return an earlier phase of a copy; what is of the sheet itself is settled there too."""
    known = phase.draws
    if np.array_equal(known[name], draws[name], equal_nan=True):
        known = _settled(known, name, weights)
    return replace(phase, work=replace(phase.work, work_id=work_id), draws=known)


def _narrower(link: Link, known: Mapping[str, Mapping[str, Range]]) -> dict[str, float]:
    """Return, for a link's first parameters, the share of its range that would go."""
    width = link.value.high - link.value.low
    left = {one.name: known[one.name][link.name] for one in link.influences[:FIRST]}
    return {
        name: 1.0 - (value.high - value.low) / width if width > 0.0 else 0.0
        for name, value in left.items()
    }
