"""One work in several guises, run together on the same draws, so that only the guise differs."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from analysis.errors import OutOfRangeError
from analysis.estimator import run
from analysis.learning import Learned
from analysis.planning.draw_years import DrawYear, by_draw, draw_years, sample_times
from analysis.planning.year import ListLimits, YearSummary, year_summary
from analysis.priors import Draws, draw
from analysis.redraw import draws_from
from analysis.results import History
from analysis.room_air import RoomAir
from analysis.works import Mount, Work


def start_utc(air: RoomAir) -> datetime:
    """Return the first hour of a room's air."""
    return datetime.fromtimestamp(int(air.time_utc[0].astype("datetime64[s]").astype(int)), UTC)


def require_tension_held(work: Work) -> None:
    """Raise unless a work is held by tension.

    Raises
    ------
    OutOfRangeError
        If it is bonded, hung by corners or in a window mount: it cannot go slack.
    """
    if work.mount is not Mount.TENSION_HELD:
        raise OutOfRangeError(
            read=f"work {work.work_id}",
            where="mount",
            found=work.mount.value,
            expected=Mount.TENSION_HELD.value,
            action="Plan only for prints held by tension; correct the register if it is one.",
        )


def draws_of(work: Work, n: int, learned: Learned | None = None) -> Draws:
    """Return the draws of a work as it would be, with what was learned of it as it is."""
    return draw(work, n) if learned is None else draws_from(work, learned.levels)


@dataclass(frozen=True)
class VariantYear:
    """One guise of a work through a room's year."""

    history: History
    draws: DrawYear

    def summary(self, limits: ListLimits | None = None) -> YearSummary:
        """Return the year in a few numbers, with ranges over the draws.

        Raises
        ------
        NotEnoughError
            If no hour can be told.
        """
        return by_draw(year_summary(self.history, limits), self.history, self.draws)


def years_of(
    variants: Mapping[str, Work], air: RoomAir, n: int, learned: Learned | None = None
) -> dict[str, VariantYear]:
    """Return a room's year for each variant of one work.

    Parameters
    ----------
    variants : mapping of str to Work
        Name → the work as it would be; all with the same ``work_id``, so that they share draws.
    air : RoomAir
        The room's year.
    n : int
        Draws, where nothing was learned.
    learned : Learned, optional
        What inspections taught of the work.
    """
    for work in variants.values():
        require_tension_held(work)
    works = [replace(work, work_id=name) for name, work in variants.items()]
    draws = {
        name: replace(draws_of(work, n, learned), work_id=name) for name, work in variants.items()
    }
    weights = None if learned is None else dict.fromkeys(variants, learned.weights)
    found = run(
        works,
        draws,
        air,
        weights=weights,
        detail_from=start_utc(air),
        week_starts=sample_times(air),
    )
    years = draw_years(works, draws, found.checkpoints, weights)
    return {name: VariantYear(found.histories[name], years[name]) for name in variants}
