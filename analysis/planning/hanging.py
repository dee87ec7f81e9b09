"""Where to hang: what a room's last year would have been to works on each wall of it.

The table of works by walls is sorted, with the sentence that answers and the reasons.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from analysis.air.room_air import RoomAir
from analysis.answers.judgement import JudgementLimits
from analysis.errors import NotEnoughError
from analysis.learning.posterior import Learned
from analysis.planning.year import LookFirst, chances_of, draws_of, look_first, start_utc
from analysis.simulation.checkpoints import instant
from analysis.simulation.estimator import run
from analysis.simulation.refusals import REFUSALS
from analysis.works import Mount, Wall, Work

HARDLY = 0.02  # a smaller difference of shares of the year is not called one
SAID_FROM = 0.1  # a larger share of the year that cannot be told is said
NAMED = 3  # works named in the answer
ASSUMED = (
    "Each work hangs there all year, out of sun and spotlights; one that was mounted or framed "
    "during the year is taken as mounted or framed at its beginning.",
    "The coming year is like the last one. Up to three months before it, where measured, are run "
    "and not counted, so that slow frames have forgotten how they began.",
    "Which walls of a room are outside walls stands in its record in words: see there.",
)


@dataclass(frozen=True)
class Place:
    """A wall of a room."""

    room: str
    wall: Wall = Wall.INSIDE


def look_first_at(
    works: Sequence[Work],
    air: RoomAir,
    wall: Wall = Wall.INSIDE,
    *,
    n: int = 200,
    learned: Mapping[str, Learned] | None = None,
    at_home: Collection[str] = (),
    counted_from: datetime | None = None,
    limits: JudgementLimits | None = None,
) -> dict[str, LookFirst]:
    """Return what a room's last year would have been to works on a wall of it, all in one run.

    Parameters
    ----------
    works : sequence of Work
        Held by tension; the others are left out.
    air : RoomAir
        The room's last year.
    n : int
        Draws, where nothing was learned.
    learned : mapping of str to Learned, optional
        What inspections taught, by work.
    at_home : collection of str
        Works that hang in this room now, so that what was learned of its logger holds too.
    counted_from : datetime, optional
        Hours before it only let slow frames forget how they began; default: the first.
    """
    hung = [_hung(work, wall, air) for work in works if work.mount is Mount.TENSION_HELD]
    taught = learned or {}
    recorded = {work.work_id: work.wall for work in works}
    draws = {
        work.work_id: draws_of(
            work,
            n,
            taught.get(work.work_id),
            elsewhere=work.work_id not in at_home or recorded[work.work_id] is not wall,
        )
        for work in hung
    }
    weights = {key: one.weights for key, one in taught.items() if key in draws}
    end = instant(air.time_utc[-1])
    found = run(hung, draws, air, weights=weights, detail_from=end, keep_weeks=0)
    since = counted_from or start_utc(air)
    return {
        work.work_id: look_first(chances_of(work, air, found).since(since), limits) for work in hung
    }


def _hung(work: Work, wall: Wall, air: RoomAir) -> Work:
    start = start_utc(air)
    overrides = {k: v for k, v in work.overrides.items() if k != "wall_factor"}
    return replace(
        work,
        wall=wall,
        sun_or_spot=False,
        overrides=overrides,
        mounted_utc=_at_latest(work.mounted_utc, start),
        closed_utc=_at_latest(work.closed_utc, start),
    )


def _at_latest(when: datetime | None, start: datetime) -> datetime | None:
    return None if when is None else min(when, start)


@dataclass(frozen=True)
class HangingRow:
    """One work in each place, in the order of the table's places, and where it hangs now."""

    work: Work
    cells: Sequence[LookFirst]
    now: Place | None = None

    @property
    def told(self) -> bool:
        """Whether something can be told in every place, so that places can be compared."""
        return all(cell.told for cell in self.cells)

    @property
    def spread(self) -> float:
        """Difference of the shares in the worst place and in the best; 0 where not told."""
        shares = [cell.share for cell in self.cells if cell.told]
        return max(shares) - min(shares) if shares else 0.0

    @property
    def mean(self) -> float:
        """Mean of the shares over the places; NaN where not told."""
        return float(np.mean([cell.share for cell in self.cells]))

    @property
    def depends(self) -> bool:
        """Whether the place matters to this work."""
        return self.spread >= HARDLY


@dataclass(frozen=True)
class HangingTable:
    """Works by places. Places run from the best to the worst, works from those it matters to most.

    ``left_out`` says of the works that are not held by tension why they have no row; ``notes`` what
    cannot be told, and why.
    """

    places: Sequence[Place]
    rows: Sequence[HangingRow]
    left_out: Sequence[str]
    notes: Sequence[str]
    answer: str
    assumed: Sequence[str]


def hanging_table(
    works: Sequence[Work],
    found: Mapping[Place, Mapping[str, LookFirst]],
    rooms_now: Mapping[str, str] | None = None,
) -> HangingTable:
    """Return works by places, sorted, with one sentence that answers.

    Parameters
    ----------
    works : sequence of Work
        Any; those not held by tension are left out and named.
    found : mapping of Place to mapping of str to LookFirst
        For each place, as from `look_first_at`.
    rooms_now : mapping of str to str, optional
        Work → name of the room in which it hangs now, on the wall that the work says.

    Raises
    ------
    NotEnoughError
        If there is no place or no work held by tension.
    """
    held = [work for work in works if work.mount is Mount.TENSION_HELD]
    _require_some(held, found)
    unsorted = [HangingRow(w, [cells[w.work_id] for cells in found.values()]) for w in held]
    means = {place: _mean(unsorted, j) for j, place in enumerate(found)}
    places = sorted(found, key=lambda place: (np.nan_to_num(means[place]), place.room))
    now = {w.work_id: Place((rooms_now or {}).get(w.work_id, ""), w.wall) for w in held}
    rows = [
        HangingRow(w, [found[place][w.work_id] for place in places], now[w.work_id]) for w in held
    ]
    rows.sort(key=lambda row: (not row.told, -round(row.spread, 2), -np.nan_to_num(row.mean)))
    return HangingTable(
        places=places,
        rows=rows,
        left_out=[
            f"{w.title}: {w.mount.value}" for w in works if w.mount is not Mount.TENSION_HELD
        ],
        notes=_notes(rows, places),
        answer=_answer(rows, [means[place] for place in places], places),
        assumed=ASSUMED,
    )


def _mean(rows: Sequence[HangingRow], j: int) -> float:
    """Return the mean share in one place, over the works that can be compared."""
    shares = [row.cells[j].share for row in rows if row.told]
    return float(np.mean(shares)) if shares else float("nan")


def _require_some(works: Sequence[Work], places: Mapping[Place, object]) -> None:
    if not works or not places:
        raise NotEnoughError(
            read="hanging table",
            where="works and rooms",
            found=f"{len(works)} works held by tension, {len(places)} walls of rooms",
            expected="one of each or more",
            action="Choose works held by tension and rooms that have readings.",
        )


def place_words(place: Place, places: Sequence[Place]) -> str:
    """Return a place's name: the room alone where all places are on the same kind of wall."""
    alike = len({one.wall for one in places}) == 1
    return place.room if alike else f"{place.room}, {place.wall.value}"


def _answer(rows: Sequence[HangingRow], means: Sequence[float], places: Sequence[Place]) -> str:
    told = [row for row in rows if row.told]
    if not told and len(rows) == 1:
        return _partly(rows[0], places)
    if not told:
        return "Cannot tell in every place for any work: see the reasons."
    who = f"“{told[0].work.title}”" if len(told) == 1 else f"These {len(told)} works"
    best, worst = (place_words(places[i], places) for i in (0, -1))
    if len(places) == 1:
        return f"{who} would have asked for a first look in {_pct(means[0])} of the year in {best}."
    if means[-1] - means[0] < HARDLY:
        return (
            f"{who} would have asked for a first look in about {_pct(means[0])} of the year: the "
            f"places hardly differ. {_matters(told)}"
        ).strip()
    return (
        f"{who} would have asked for a first look least in {best} ({_pct(means[0])} of the year) "
        f"and most in {worst} ({_pct(means[-1])}). {_by_wall(means, places)}{_matters(told)}"
        "Curator and conservator decide."
    )


def _partly(row: HangingRow, places: Sequence[Place]) -> str:
    """Return the answer for one work that cannot be told in every place."""
    known = [
        (cell.share, place_words(place, places))
        for cell, place in zip(row.cells, places, strict=True)
        if cell.told
    ]
    if not known:
        return f"Cannot tell for “{row.work.title}”: see the reasons."
    low, high = min(known), max(known)
    untold = f"In {len(places) - len(known)} of {len(places)} places it cannot be told."
    if high[0] - low[0] < HARDLY:
        return (
            f"“{row.work.title}” would have asked for a first look in about {_pct(low[0])} of the "
            f"year where it can be told: those places hardly differ. {untold}"
        )
    return (
        f"“{row.work.title}” would have asked for a first look least in {low[1]} ({_pct(low[0])} "
        f"of the year) and most in {high[1]} ({_pct(high[0])}). {untold}"
    )


def _pct(share: float) -> str:
    return f"{100.0 * share:.0f} %"


def _by_wall(means: Sequence[float], places: Sequence[Place]) -> str:
    """Return how walls compare over all rooms, where there is more than one kind."""
    walls = [wall for wall in Wall if any(place.wall is wall for place in places)]
    if len(walls) == 1:
        return ""
    parts = []
    for wall in walls:
        share = np.mean([m for m, place in zip(means, places, strict=True) if place.wall is wall])
        parts.append(f"{wall.value} {_pct(float(share))}")
    return f"Over all rooms: {', '.join(parts)}. "


def _matters(told: Sequence[HangingRow]) -> str:
    """Return to which works the place matters most, and to how many it hardly does."""
    if len(told) == 1:
        return ""
    most = [f"“{row.work.title}”" for row in told if row.depends][:NAMED]
    same = sum(not row.depends for row in told)
    matters = f"It matters most to {_listed(most)}. " if most else ""
    return matters + (f"To {same} of the {len(told)} it hardly matters. " if same else "")


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _notes(rows: Sequence[HangingRow], places: Sequence[Place]) -> list[str]:
    found = [note for row in rows if (note := _untold(row, places))]
    unknown = [
        row.work.title for row in rows if any(c.told and c.clearance is None for c in row.cells)
    ]
    if unknown:
        found.append(
            "The depth in front of the print is not recorded, so nearness to the glazing cannot be "
            f"told: {', '.join(unknown)}."
        )
    return found


def _untold(row: HangingRow, places: Sequence[Place]) -> str:
    """Return where a work cannot be told, or not for much of the year, and why."""
    by_reason: dict[str, list[tuple[str, float]]] = {}
    for cell, place in zip(row.cells, places, strict=True):
        for key, share in cell.refused.items():
            if share >= SAID_FROM:
                by_reason.setdefault(key, []).append((place_words(place, places), share))
    parts = []
    for key, where in by_reason.items():
        why, mend = REFUSALS[key]
        everywhere = len(where) == len(places) and all(share > 0.99 for _, share in where)
        rooms = ", ".join(f"{room} ({_pct(share)} of the year)" for room, share in where)
        parts.append(f"{'anywhere' if everywhere else 'in ' + rooms}: {why}. {mend}")
    return f"“{row.work.title}” cannot be told {' And '.join(parts)}" if parts else ""
