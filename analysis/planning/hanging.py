"""Where to hang: works by rooms, the share of the last year in which to look first."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from analysis.errors import NotEnoughError
from analysis.estimator import run
from analysis.learning import Learned
from analysis.planning.variants import draws_of, start_utc
from analysis.planning.year import ListLimits, YearSummary, year_summary
from analysis.results import History
from analysis.room_air import RoomAir
from analysis.works import Mount, Wall, Work

HELD = (Mount.TENSION_HELD,)
ASSUMED = (
    "Every work on an inside wall, out of sun and spotlights.",
    "The coming year is like the last one.",
)
HARDLY = 0.02  # a smaller difference of shares of the year is not called one


@dataclass(frozen=True)
class HangingTable:
    """Works by rooms. A cell is None where it cannot be told; ``notes`` says why.

    ``works`` are those held by tension; ``left_out`` says of the others why they have no row.
    """

    works: Sequence[Work]
    room_names: Sequence[str]
    cells: Sequence[Sequence[YearSummary | None]]
    left_out: Sequence[str]
    notes: Sequence[str]
    answer: str
    assumed: Sequence[str]


def hanging_table(
    works: Sequence[Work],
    rooms: Mapping[str, RoomAir],
    *,
    n: int = 200,
    learned: Mapping[str, Learned] | None = None,
    limits: ListLimits | None = None,
) -> HangingTable:
    """Return, for each work in each room, what the room's last year would have been to it.

    Parameters
    ----------
    works : sequence of Work
        Any; those not held by tension are left out and named.
    rooms : mapping of str to RoomAir
        Room name → its last year.
    n : int
        Draws, where nothing was learned.
    learned : mapping of str to Learned, optional
        What inspections taught, by work.

    Raises
    ------
    NotEnoughError
        If there is no room or no work held by tension.
    """
    held = [_on_an_inside_wall(w) for w in works if w.mount in HELD]
    _require_some(held, rooms)
    taught = learned or {}
    draws = {w.work_id: draws_of(w, n, taught.get(w.work_id)) for w in held}
    weights = {key: one.weights for key, one in taught.items() if key in draws}
    columns, notes = [], []
    for name, air in rooms.items():
        found = run(held, draws, air, weights=weights, detail_from=start_utc(air))
        column = [_cell(found.histories[w.work_id], limits) for w in held]
        columns.append([cell for cell, _ in column])
        notes += [
            f"{w.title} in {name}: {why}" for w, (_, why) in zip(held, column, strict=True) if why
        ]
    return HangingTable(
        works=held,
        room_names=list(rooms),
        cells=[list(row) for row in zip(*columns, strict=True)],
        left_out=[f"{w.title}: {w.mount.value}" for w in works if w.mount not in HELD],
        notes=notes,
        answer=_answer(list(rooms), columns),
        assumed=ASSUMED,
    )


def _on_an_inside_wall(work: Work) -> Work:
    return replace(work, wall=Wall.INSIDE, sun_or_spot=False)


def _require_some(works: Sequence[Work], rooms: Mapping[str, RoomAir]) -> None:
    if not works or not rooms:
        raise NotEnoughError(
            read="hanging table",
            where="works and rooms",
            found=f"{len(works)} works held by tension, {len(rooms)} rooms",
            expected="one of each or more",
            action="Choose works held by tension and rooms that have readings.",
        )


def _cell(history: History, limits: ListLimits | None) -> tuple[YearSummary | None, str]:
    try:
        return year_summary(history, limits), ""
    except NotEnoughError as problem:
        return None, problem.found


def _answer(names: Sequence[str], columns: Sequence[Sequence[YearSummary | None]]) -> str:
    shares = []
    for name, column in zip(names, columns, strict=True):
        told = [cell.look_first_share for cell in column if cell is not None]
        if told:
            shares.append((sum(told) / len(told), name))
    if not shares:
        return "Cannot tell for any work: see the notes."
    low, high = min(shares), max(shares)
    if high[0] - low[0] < HARDLY:
        return f"The rooms hardly differ for these works: about {100 * low[0]:.0f} % of the year."
    return (
        f"Over these works, {low[1]} would have asked for a first look in {100 * low[0]:.0f} % of "
        f"the year, {high[1]} in {100 * high[0]:.0f} %. Curator and conservator decide."
    )
