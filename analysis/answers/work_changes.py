"""What changed of a work, and on which step of the chain it bears; `dashboards.text` words it."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import pairwise

from analysis.results import Change, ChangeAt
from analysis.simulation.drawer import OF_A_FRAMING
from analysis.simulation.phases import DrawnPhase, Phase, framed_anew, mounted_anew
from analysis.works import Work

LATELY = timedelta(days=7)


def work_changes(
    work: Work, earlier: Sequence[Phase | DrawnPhase], at_utc: datetime | None = None
) -> list[ChangeAt]:
    """Return what changed of a work ever, or in the week before a time.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from datetime import UTC
    >>> from analysis.works import Finish, FrameBuild, Paper
    >>> then, now = datetime(2026, 3, 12, tzinfo=UTC), datetime(2026, 3, 15, tzinfo=UTC)
    >>> work = Work("W1", "Quay", 1500, 1000, Paper.FIBRE_BASE, Finish.GLOSSY, closed_utc=then)
    >>> before = Phase(replace(work, closed_utc=None, frame=FrameBuild.D), then)
    >>> [one.change.value for one in work_changes(work, [before], now)]
    ['framed anew']
    """
    works = pairwise([*(one.work for one in earlier), work])
    return [
        found
        for (before, after), one in zip(works, earlier, strict=True)
        if at_utc is None or lately(one.until_utc, at_utc)
        for found in _changes(before, after, one.until_utc)
    ]


def lately(when: datetime, at_utc: datetime) -> bool:
    """Whether something happened within the week before an instant."""
    return at_utc - LATELY < when <= at_utc


def _changes(before: Work, after: Work, on: datetime) -> list[ChangeAt]:
    """Return all that changed from one phase to the next."""
    found = []
    if before.wall != after.wall:
        found.append(ChangeAt(Change.WALL, "room", on, after.wall.value))
    if before.sun_or_spot and not after.sun_or_spot:
        found.append(ChangeAt(Change.SUN_GONE, "room", on))
    if mounted_anew(before, after):
        found.append(ChangeAt(Change.MOUNTED, "print", on))
    elif framed_anew(before, after):
        found.append(ChangeAt(Change.FRAMED, "frame", on))
    else:
        found += _measured(before, after, on)
    return found


def _measured(before: Work, after: Work, on: datetime) -> list[ChangeAt]:
    names = [n for n in after.overrides if after.overrides[n] != before.overrides.get(n)]
    return [
        ChangeAt(Change.MEASURED, "frame" if n.startswith(OF_A_FRAMING) else "print", on, n)
        for n in names
    ]
