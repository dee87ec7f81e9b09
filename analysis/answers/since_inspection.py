"""What was so since somebody last looked, or since the last read-out: whichever is longer ago.

Each draw carries how many hours ago it last showed a sign (`analysis.simulation.weeks`), so that
the chance over any span up to an hour is the weight of the draws that showed it within the span.
"""

from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from analysis.results import Floats, SinceLook
from analysis.simulation import layout
from analysis.simulation.checkpoints import instant
from analysis.simulation.refusals import RefusalLimits

HOUR = timedelta(hours=1)
HALF = 0.5
HYSTERESIS = 0.05  # about a limit, within which the state word stays as it was
PART = 0.2  # of the draws: the lowest and the highest fifth of a parameter


def shares_within(state: Floats, weight: Floats, hours: float) -> tuple[float, float, float]:
    """Return the weight of the draws that were seen, near, giving way less than some hours ago.

    Parameters
    ----------
    state : ndarray, shape (len(layout.STATE), n)
        Of a `analysis.simulation.checkpoints.Checkpoint`.
    weight : ndarray, shape (n,)
    """
    row = layout.indices(layout.STATE)
    share = weight / weight.sum()
    seen, near, giving = (float(share[state[row[name]] < hours].sum()) for name in layout.PAST)
    return seen, near, giving


def ends_of_chance(
    state: Floats, weight: Floats, hours: float, unknown: dict[str, Floats]
) -> tuple[float, float]:
    """Return the chance of waves in the lowest and highest fifth of the unknown that counts most.

    Parameters
    ----------
    unknown : dict of str to ndarray, shape (n,)
        Draws of the facts that nobody knows. Without any, both ends are the chance itself.
    """
    seen = state[layout.indices(layout.STATE)[layout.PAST[0]]] < hours
    share = weight / weight.sum()
    ends = [_in_fifths(seen, share, drawn) for drawn in unknown.values()]
    own = float(share[seen].sum())
    return max(ends, key=lambda pair: pair[1] - pair[0], default=(own, own))


def _in_fifths(seen: npt.NDArray[np.bool_], share: Floats, drawn: Floats) -> tuple[float, float]:
    """Return the chance in the lowest and the highest fifth of a parameter, in rising order."""
    order = np.argsort(drawn, kind="stable")
    reached = np.cumsum(share[order])
    lowest, highest = order[reached <= PART + 1e-9], order[reached >= 1.0 - PART - 1e-9]
    chances = [
        float(share[at][seen[at]].sum() / share[at].sum()) if len(at) else float("nan")
        for at in (lowest, highest)
    ]
    return min(chances), max(chances)


def shown_between(
    time_utc: npt.NDArray[np.datetime64], sums: npt.NDArray[np.float32], since_utc: datetime
) -> tuple[datetime, datetime] | None:
    """Return the first and last hour since an instant in which waves were more likely than not."""
    row = layout.indices(layout.SUMS)["visible"]
    hours = np.flatnonzero((sums[row] > HALF) & (time_utc > _second(since_utc)))
    if not len(hours):
        return None
    return instant(time_utc[hours[0]]), instant(time_utc[hours[-1]])


def beyond_the_model(
    time_utc: npt.NDArray[np.datetime64], sums: npt.NDArray[np.float32], since_utc: datetime
) -> datetime | None:
    """Return the last hour since an instant that was too damp for any estimate, or None."""
    row, most = layout.indices(layout.SUMS), RefusalLimits().probability
    wet = (sums[row["above_85"]] > most) | (sums[row["condensing"]] > most)
    hours = np.flatnonzero(wet & (time_utc > _second(since_utc)))
    return instant(time_utc[hours[-1]]) if len(hours) else None


def _second(when: datetime) -> np.datetime64:
    return np.datetime64(int(when.timestamp()), "s")


# Between these a chance says nothing.
SAYS_NOTHING = (0.1, 0.9)
WIDE = 0.3  # where the unknown fact moves the chance by less, the answer is as good as told


def says_nothing(since: SinceLook | None) -> bool:
    """Return whether what nobody knows leaves a chance of waves that says nothing either way."""
    if since is None or not since.p_high - since.p_low >= WIDE:
        return False
    return SAYS_NOTHING[0] <= since.p_low and since.p_high <= SAYS_NOTHING[1]


def gone_slack(p_slack: Floats, limit: float) -> bool:
    """Return whether a print counts as slack at the last of some hours.

    It goes slack above the limit by `HYSTERESIS` and taut again below it by as much, so that a
    chance about the limit does not turn the word over from hour to hour. It begins with the side
    on which the first hour lies.

    Examples
    --------
    >>> gone_slack(np.array([0.6, 0.52, 0.47]), 0.5), gone_slack(np.array([0.4, 0.53]), 0.5)
    (True, False)
    """
    known = p_slack[np.isfinite(p_slack)]
    if not len(known):
        return False
    sure = np.flatnonzero(np.abs(known - limit) > HYSTERESIS)
    decides = known[sure[-1]] if len(sure) else known[0]
    return bool(decides > limit)
