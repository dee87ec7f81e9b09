"""States at the week's start, from which a run goes on to the same bit."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
import pandas as pd

from analysis.air.room_air import RoomAir
from analysis.errors import OutOfRangeError
from analysis.results import Floats


@dataclass(frozen=True)
class Checkpoint:
    """The whole state of some works at one instant.

    Parameters
    ----------
    time_utc : datetime
        The hour the state belongs to.
    states : mapping of str to ndarray, shape (len(layout.STATE), n)
        Work → its state, float64. Works not yet mounted are absent.
    """

    time_utc: datetime
    states: Mapping[str, Floats]


def merged(checkpoints: Sequence[Checkpoint]) -> Checkpoint:
    """Return one checkpoint of works that come from several rooms at the same instant.

    Raises
    ------
    OutOfRangeError
        If the instants differ.
    """
    times = {c.time_utc for c in checkpoints}
    if len(times) != 1:
        raise OutOfRangeError(
            read="checkpoints",
            where="time_utc",
            found=", ".join(sorted(str(t) for t in times)) or "none",
            expected="one instant for all",
            action="Run each room to the same hour first.",
        )
    states = {key: state for c in checkpoints for key, state in c.states.items()}
    return Checkpoint(times.pop(), states)


def instant(time: np.datetime64) -> datetime:
    """Return a time of the hourly grid as a datetime in UTC."""
    seconds = int(time.astype("datetime64[s]").astype(np.int64))
    return datetime.fromtimestamp(seconds, tz=UTC)


def mondays(air: RoomAir) -> list[datetime]:
    """Return the Mondays 00:00 UTC within the air: the default week starts."""
    first, last = instant(air.time_utc[0]), instant(air.time_utc[-1])
    days = pd.date_range(first.date(), last.date(), freq="W-MON", tz="UTC")
    return [day.to_pydatetime() for day in days if first <= day <= last]
