"""What changed of a work lately, said in the step of the chain that it bears on."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise

from analysis.parameter_words import PARAMETER_WORDS
from analysis.results import Judgement
from analysis.simulation.drawer import OF_A_FRAMING
from analysis.simulation.phases import DrawnPhase, Phase, framed_anew, mounted_anew
from analysis.words import day
from analysis.works import Work

LATELY = timedelta(days=7)


def changes_told(
    work: Work, earlier: Sequence[Phase | DrawnPhase], at_utc: datetime | None = None
) -> list[tuple[str, str]]:
    """Return what changed, as (step of the chain, sentence): ever, or in the week before a time.

    Examples
    --------
    >>> from datetime import UTC
    >>> from analysis.works import Finish, FrameBuild, Paper
    >>> then, now = datetime(2026, 3, 12, tzinfo=UTC), datetime(2026, 3, 15, tzinfo=UTC)
    >>> work = Work("W1", "Quay", 1500, 1000, Paper.FIBRE_BASE, Finish.GLOSSY, closed_utc=then)
    >>> before = Phase(replace(work, closed_utc=None, frame=FrameBuild.D), then)
    >>> changes_told(work, [before], now)[0][1]
    'Framed anew on 12 March 2026: the estimate of its air starts again from there.'
    """
    works = pairwise([*(one.work for one in earlier), work])
    return [
        said
        for (before, after), one in zip(works, earlier, strict=True)
        if at_utc is None or lately(one.until_utc, at_utc)
        for said in _said(before, after, day(one.until_utc))
    ]


def lately(when: datetime, at_utc: datetime) -> bool:
    """Whether something happened within the week before an instant."""
    return at_utc - LATELY < when <= at_utc


def _said(before: Work, after: Work, on: str) -> list[tuple[str, str]]:
    """Return (step, sentence) of all that changed from one phase to the next."""
    said = []
    if before.wall != after.wall:
        said.append(("room", f"It has hung on an {after.wall.value} since {on}."))
    if before.sun_or_spot and not after.sun_or_spot:
        said.append(("room", f"No sun or spotlight has reached it since {on}."))
    if mounted_anew(before, after):
        said.append(("print", f"Mounted anew on {on}: the estimate starts again from there."))
    elif framed_anew(before, after):
        said.append(
            ("frame", f"Framed anew on {on}: the estimate of its air starts again from there.")
        )
    else:
        said += _measured(before, after, on)
    return said


def _measured(before: Work, after: Work, on: str) -> list[tuple[str, str]]:
    names = [n for n in after.overrides if after.overrides[n] != before.overrides.get(n)]
    steps = {n: "frame" if n.startswith(OF_A_FRAMING) else "print" for n in names}
    return [
        (step, f"Measured, and so counted since {on}: {PARAMETER_WORDS.get(name, name)}.")
        for name, step in steps.items()
    ]


def with_changes(judgement: Judgement, told: Sequence[tuple[str, str]]) -> Judgement:
    """Return a judgement whose chain says what changed; a step it lacks is said in its last."""
    if not told or not judgement.chain:
        return judgement
    steps = [step for step, _ in judgement.chain]
    at = [(step if step in steps else steps[-1], sentence) for step, sentence in told]
    chain = tuple(
        (step, " ".join([sentence, *(more for where, more in at if where == step)]))
        for step, sentence in judgement.chain
    )
    return replace(judgement, chain=chain)
