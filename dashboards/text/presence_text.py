"""What readings reach to, how old that is, and what the clock is set to."""

import math
from datetime import datetime

from analysis.results import Judgement
from dashboards.text import wording
from dashboards.text.judgement_text import show_words
from dashboards.text.messages import _

HOUR_S = 3600.0


def clock_sentence(at_utc: datetime, zone: str) -> str:
    """Return that the clock is declared.

    Examples
    --------
    >>> from datetime import UTC
    >>> clock_sentence(datetime(2026, 3, 22, 9, tzinfo=UTC), "UTC")
    'The clock is set to 22 March 2026, 09:00: it stands still.'
    """
    return _("The clock is set to {at}: it stands still.", at=wording.date_time(at_utc, zone))


def readings_sentence(
    known_until: datetime | None, now_utc: datetime, zone: str, *, current: bool, due: bool
) -> str:
    """Return what a room's readings reach to, where they do not reach to the present; else "".

    Parameters
    ----------
    current : bool
        Whether they are within the room's rhythm and its grace.
    due : bool
        Whether the next read-out is due.
    """
    if known_until is None:
        return _("There are no readings of this room yet.")
    age = wording.duration((now_utc - known_until).total_seconds() / HOUR_S)
    until = wording.date_time(known_until, zone)
    if not current:
        return _(
            "No readings since {until}, {age} ago: what is said of now rests on what this room "
            "did before at this season.",
            until=until,
            age=age,
        )
    return _("Readings to {until}; the next read-out is due.", until=until) if due else ""


def left_sentence(
    room_name: str, left_utc: datetime, last: Judgement | None, now_utc: datetime, zone: str
) -> str:
    """Return since when a work is away, lent or stored, and what was last said of it before.

    Examples
    --------
    >>> from datetime import UTC
    >>> left = datetime(2026, 5, 4, tzinfo=UTC)
    >>> left_sentence("Tower Room", left, None, datetime(2026, 5, 11, tzinfo=UTC), "UTC")
    'Away from Tower Room since 4 May 2026; it was not judged there.'
    """
    since = wording.day_only(left_utc, zone)
    if last is None or math.isnan(last.p_visible_now):
        return _(
            "Away from {room} since {since}; it was not judged there.", room=room_name, since=since
        )
    age = wording.duration((now_utc - last.at_utc).total_seconds() / HOUR_S)
    return _(
        "Away from {room} since {since}. Last judged there from readings to {when}, {age} ago: "
        "waves {show}.",
        room=room_name,
        since=since,
        when=wording.date_time(last.at_utc, zone),
        age=age,
        show=show_words(last.p_visible_now),
    )


def last_answer_sentence(last: Judgement, now_utc: datetime, zone: str) -> str:
    """Return the last answer that readings gave, with its date and age; "" where it gave none."""
    if math.isnan(last.p_visible_now) or last.at_utc >= now_utc:
        return ""
    age = wording.duration((now_utc - last.at_utc).total_seconds() / HOUR_S)
    return _(
        "The last answer from readings is of {when}, {age} ago: waves {show}.",
        when=wording.date_time(last.at_utc, zone),
        age=age,
        show=show_words(last.p_visible_now),
    )
