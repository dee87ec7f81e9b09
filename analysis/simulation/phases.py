"""A work's life as dated phases: the same print, mounted, framed and hung otherwise than now.

The present is a `Work`; what came before it is a sequence of `Phase`, oldest first, each of which
holds until the next begins. One print has the same sheet, size and paper in all of them.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from analysis.errors import OutOfRangeError
from analysis.results import Floats
from analysis.simulation.priors import Draws, draw
from analysis.simulation.redraw import draws_from, levels_of
from analysis.works import Work


@dataclass(frozen=True)
class Phase:
    """A work as it was until an instant, in UTC."""

    work: Work
    until_utc: datetime


@dataclass(frozen=True)
class DrawnPhase:
    """An earlier phase with its draws, as `analysis.simulation.estimator.run` takes it.

    ``draws`` stand at the same levels as those of the present work: draw j is the same sheet.
    """

    work: Work
    until_utc: datetime
    draws: Draws


def drawn_before(earlier: Sequence[Phase], n: int) -> tuple[DrawnPhase, ...]:
    """Return earlier phases with their n draws before anything was learned."""
    return tuple(DrawnPhase(one.work, one.until_utc, draw(one.work, n)) for one in earlier)


def drawn_at(earlier: Sequence[Phase], levels: Mapping[str, Floats]) -> tuple[DrawnPhase, ...]:
    """Return earlier phases with the draws that stand at levels, as learned."""
    return tuple(
        DrawnPhase(one.work, one.until_utc, draws_from(one.work, levels)) for one in earlier
    )


def levels_of_phases(work: Work, earlier: Sequence[Phase], n: int) -> dict[str, Floats]:
    """Return the levels of all doubts about a work, now and earlier, each of shape (n,).

    Without earlier phases they are those of `analysis.simulation.redraw.levels_of`, in the same
    order.
    """
    levels = levels_of(work, n)
    for one in earlier:
        levels |= {
            name: level for name, level in levels_of(one.work, n).items() if name not in levels
        }
    return levels


def phases_at(
    work: Work, earlier: Sequence[Phase], when: datetime
) -> tuple[Work, tuple[Phase, ...]]:
    """Return the work as it was at an instant, and its phases before that.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from datetime import UTC
    >>> from analysis.works import Finish, FrameBuild, Paper
    >>> now = Work("W1", "Quay", 1500, 1000, Paper.FIBRE_BASE, Finish.GLOSSY)
    >>> taped = Phase(replace(now, frame=FrameBuild.D), datetime(2026, 3, 1, tzinfo=UTC))
    >>> phases_at(now, [taped], datetime(2026, 2, 1, tzinfo=UTC))[0].frame.value
    'D'
    """
    before = tuple(one for one in earlier if one.until_utc <= when)
    after = earlier[len(before) :]
    return (after[0].work if after else work), before


def lasting_after(earlier: Sequence[Phase], when: datetime) -> tuple[Phase, ...]:
    """Return the phases that had not ended by an instant."""
    return tuple(one for one in earlier if one.until_utc > when)


def mounted_anew(before: Work, after: Work) -> bool:
    """Whether a print was mounted anew between two phases: its estimate begins again there."""
    return (before.mounting_no, before.mounted_utc, before.mount) != (
        after.mounting_no,
        after.mounted_utc,
        after.mount,
    )


def mountings(
    work: Work, earlier: Sequence[Phase | DrawnPhase]
) -> tuple[tuple[datetime | None, Work], ...]:
    """Return each mounting of a print with when it began; the first, from always, has None."""
    works = [*(one.work for one in earlier), work]
    changes = zip(pairwise(works), earlier, strict=True)
    anew = [
        (one.until_utc, after) for (before, after), one in changes if mounted_anew(before, after)
    ]
    return ((None, works[0]), *anew)


def mounted_since(work: Work, earlier: Sequence[Phase | DrawnPhase]) -> datetime | None:
    """Return when a print was mounted anew as it is; None where it was always mounted so."""
    return mountings(work, earlier)[-1][0]


def framed_anew(before: Work, after: Work) -> bool:
    """Whether a frame was opened, changed or taped anew between two phases."""
    return (before.framing_no, before.closed_utc, before.frame) != (
        after.framing_no,
        after.closed_utc,
        after.frame,
    )


def require_phases(work: Work, earlier: Sequence[Phase | DrawnPhase]) -> None:
    """Raise if phases are not those of one print, in order of time.

    Raises
    ------
    OutOfRangeError
        If one is of another work, of another sheet, without a zone, or out of order.
    """
    for one in earlier:
        if _sheet(one.work) != _sheet(work):
            _refuse(work, f"the sheet {_sheet(one.work)} until {one.until_utc}", "the same sheet")
        if one.until_utc.tzinfo is None:
            _refuse(work, f"{one.until_utc} without a zone", "a time in UTC")
    for one, after in pairwise(earlier):
        if after.until_utc < one.until_utc:
            _refuse(work, f"{after.until_utc} after {one.until_utc}", "phases in order of time")


def _sheet(work: Work) -> tuple[object, ...]:
    return (work.work_id, work.width_mm, work.height_mm, work.paper, work.finish)


def _refuse(work: Work, found: str, expected: str) -> None:
    raise OutOfRangeError(
        read=f"work {work.work_id}",
        where="earlier phases",
        found=found,
        expected=expected,
        action="Correct the dates of its mountings, framings and hangings.",
    )
