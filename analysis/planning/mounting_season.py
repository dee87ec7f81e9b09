"""The season in which a print is mounted and hung: the same year begun in each of its quarters."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from analysis.air.room_air import RoomAir
from analysis.learning.posterior import Learned
from analysis.planning.variants import months_slack
from analysis.simulation.checkpoints import instant
from analysis.words import day
from analysis.works import Work

WHOLE_YEAR_H = 360 * 24
QUARTERS = 4
HARDLY_MONTHS = 0.5


@dataclass(frozen=True)
class Beginning:
    """A year begun at a day of the record, what came before it following at its end."""

    from_utc: datetime
    months_slack: float


def begun_at(air: RoomAir, hours: int) -> RoomAir:
    """Return a room's year begun some hours later; its first hours follow at its end.

    The hours keep the names of the year as it was: only their order changes.
    """
    names = ("temp_c", "rh_low_pct", "rh_high_pct", "outdoor_temp_c", "measured")
    return replace(air, **{name: np.roll(getattr(air, name), -hours) for name in names})


def beginnings(
    work: Work, air: RoomAir, *, n: int, learned: Learned | None = None
) -> list[Beginning]:
    """Return the year of a work mounted at the first hour, for each quarter to begin in.

    Nothing is returned for a record that is no whole year.
    """
    if air.hours < WHOLE_YEAR_H:
        return []
    found = []
    for quarter in range(QUARTERS):
        hours = quarter * air.hours // QUARTERS
        begun = begun_at(air, hours)
        slack = months_slack(work, begun, n, learned)
        found.append(Beginning(instant(air.time_utc[hours]), slack))
    return found


def season_words(begun: Sequence[Beginning], rh_pct: float) -> str:
    """Return what the season of mounting does, in one sentence."""
    if not begun:
        return "What the season of mounting does cannot be told: the record is no whole year."
    slack = [one.months_slack for one in begun]
    months = ", ".join(f"{one.months_slack:.1f} from {day(one.from_utc)}" for one in begun)
    if max(slack) - min(slack) < HARDLY_MONTHS:
        return f"The season of mounting hardly matters at {rh_pct:g} %RH: months slack {months}."
    best = min(begun, key=lambda one: one.months_slack)
    return (
        f"The season matters: mounted at {rh_pct:g} %RH it would have been slack for the fewest "
        f"months when begun on {day(best.from_utc)} (months slack {months})."
    )
