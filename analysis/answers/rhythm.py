"""How often a room's loggers are read: by themselves, or by hand each week, month or quarter.

A rhythm by hand is no fault: within it, and half an interval more, a room's readings are current.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta

from analysis.records.room_records import Rhythm

# Calendar lengths: the longest month, the longest quarter.
INTERVAL_DAYS = {
    Rhythm.BY_ITSELF: 0,
    Rhythm.WEEKLY: 7,
    Rhythm.MONTHLY: 31,
    Rhythm.QUARTERLY: 92,
}
GRACE_BY_ITSELF = timedelta(hours=3)  # half an interval where it is by hand
# A gap of at most so many days between read-outs belongs to a rhythm (between its neighbours).
LONGEST_GAP_DAYS = {Rhythm.BY_ITSELF: 2.0, Rhythm.WEEKLY: 15.0, Rhythm.MONTHLY: 60.0}


def proposed_rhythm(gaps: Sequence[timedelta]) -> Rhythm | None:
    """Return the rhythm that the gaps between read-outs show; None where there is none yet.

    Examples
    --------
    >>> proposed_rhythm([timedelta(days=7), timedelta(days=8), timedelta(days=30)])
    <Rhythm.WEEKLY: 'weekly'>
    """
    if not gaps:
        return None
    middle = sorted(gaps)[len(gaps) // 2]
    for rhythm, days in LONGEST_GAP_DAYS.items():
        if middle <= timedelta(days=days):
            return rhythm
    return Rhythm.QUARTERLY


def rhythm_of_first(span: timedelta) -> Rhythm | None:
    """Return the rhythm that a room's first file speaks for by its length; None: by none.

    A logger that is emptied each month brings a month. Longer than a quarter is a whole record.

    Examples
    --------
    >>> rhythm_of_first(timedelta(days=28)), rhythm_of_first(timedelta(days=400))
    (<Rhythm.MONTHLY: 'monthly'>, None)
    """
    if span > timedelta(days=1.5 * INTERVAL_DAYS[Rhythm.QUARTERLY]):
        return None
    for rhythm in (Rhythm.WEEKLY, Rhythm.MONTHLY):
        if span <= timedelta(days=LONGEST_GAP_DAYS[rhythm]):
            return rhythm
    return Rhythm.QUARTERLY


def due_utc(known_until: datetime, rhythm: Rhythm) -> datetime:
    """Return when the next read-out is due."""
    return known_until + timedelta(days=INTERVAL_DAYS[rhythm])


def is_current(known_until: datetime, rhythm: Rhythm, now_utc: datetime) -> bool:
    """Return whether readings up to an instant are still within rhythm and grace."""
    return now_utc - known_until <= longest_silence(rhythm)


def longest_silence(rhythm: Rhythm) -> timedelta:
    """Return how long a room may be silent: its rhythm and the grace.

    Examples
    --------
    >>> longest_silence(Rhythm.WEEKLY)
    datetime.timedelta(days=10, seconds=43200)
    """
    interval = timedelta(days=INTERVAL_DAYS[rhythm])
    return interval + (GRACE_BY_ITSELF if rhythm is Rhythm.BY_ITSELF else interval / 2)
