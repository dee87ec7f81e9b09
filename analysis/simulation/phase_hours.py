"""Phases laid on the hours of a run: the one it begins in, and those that begin on its way."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from analysis.errors import NotEnoughError
from analysis.results import Floats
from analysis.simulation.packing import Stacked, fixed_rows, stack, stacked_part
from analysis.simulation.phases import DrawnPhase, require_phases
from analysis.simulation.priors import Draws
from analysis.works import Work


@dataclass(frozen=True)
class Begun:
    """A work as it is from an hour of the air on."""

    hour: int
    work: Work
    draws: Draws


@dataclass(frozen=True)
class Turn:
    """What changes for the i-th work of a run as a phase begins: its facts, draws and rows."""

    i: int
    work: Work
    part: Stacked
    fixed: Floats


def on_hours(
    work: Work,
    draws: Draws,
    earlier: Sequence[DrawnPhase],
    hour_of: Callable[[datetime], int],
    span: tuple[int, int],
) -> list[Begun]:
    """Return the phases that hold after the first hour of a run, up to its last.

    A phase that ended by the first hour, or within the hour in which it began, is left out.

    Raises
    ------
    OutOfRangeError
        If the phases are not those of one print, in order of time.
    NotEnoughError
        If a phase has not as many draws as the work has now.
    """
    require_phases(work, earlier)
    begins, found = span[0], []
    for one in earlier:
        ends = hour_of(one.until_utc)
        if ends > begins:
            found.append(Begun(begins, one.work, one.draws))
            begins = ends
    found.append(Begun(begins, work, draws))
    if len({one.draws.n for one in found}) > 1:
        raise NotEnoughError(
            read="draws",
            where=f"earlier phases of {work.work_id}",
            found=", ".join(str(one.draws.n) for one in found),
            expected="the same number of draws in every phase",
            action="Draw all phases at the same levels: see phases.drawn_before, drawn_at.",
        )
    return [one for one in found if one.hour <= span[1]]


def turns_of(
    phases: Mapping[int, Sequence[Begun]], weights: Mapping[str, Floats] | None, step_h: float
) -> dict[int, list[Turn]]:
    """Return what changes at each hour of a run at which phases begin; works by their place."""
    turns: dict[int, list[Turn]] = {}
    for k in range(1, max((len(phases_of_work) for phases_of_work in phases.values()), default=0)):
        begun = {
            i: phases_of_work[k] for i, phases_of_work in phases.items() if len(phases_of_work) > k
        }
        works = [one.work for one in begun.values()]
        part = stack(works, {one.work.work_id: one.draws for one in begun.values()}, weights)
        fixed = fixed_rows(part, step_h)
        for at, (i, one) in enumerate(begun.items()):
            turn = Turn(i, one.work, stacked_part(part, [at]), fixed[at])
            turns.setdefault(one.hour, []).append(turn)
    return turns


def with_row(stacked: Stacked, i: int, part: Stacked) -> Stacked:
    """Return the draws of several works with those of the i-th replaced, in the same arrays."""
    works = (*stacked.works[:i], *part.works, *stacked.works[i + 1 :])
    values = {name: stacked[name] for name in stacked.names}
    for name in part.names:
        values[name][i] = part[name][0]
    return Stacked(works, values, stacked.weight)
