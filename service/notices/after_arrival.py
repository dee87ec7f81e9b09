"""What happens when readings have arrived: events, judgements, notices, letters."""

from collections.abc import Iterable
from datetime import datetime, timedelta

from analysis.results import Event
from dashboards.text.event_words import is_silence
from service.answers.museum import Museum
from service.notices.causes import NoticeLimits
from service.notices.state import NoticeChanges, raise_notices

# Events of these days are looked at for notices; older ones are history.
NEWS = timedelta(days=8)


def after_arrival(museum: Museum, room_ids: Iterable[str] | None = None) -> NoticeChanges:
    """Bring the notices of the rooms up to date after readings, inspections or facts came in.

    Parameters
    ----------
    museum : Museum
        The museum, its stores already holding what came in.
    room_ids : iterable of str, optional
        The rooms it concerns; all rooms when left out.
    """
    now = museum.as_of()
    if now is None:
        return NoticeChanges()
    measured = [room.room for room in museum.rooms()]
    rooms = measured if room_ids is None else [r for r in room_ids if r in measured]
    return raise_notices(
        museum.stores,
        now,
        rooms,
        room_events={room: _worth_telling(museum, room, now) for room in rooms},
        judgements={room: museum.judgements(room, now) for room in rooms},
        settings=museum.settings,
    )


def _worth_telling(museum: Museum, room: str, now_utc: datetime) -> tuple[Event, ...]:
    """Return a room's events, without silences no longer than the time between two downloads."""
    patience = timedelta(days=NoticeLimits().silence_days)
    return tuple(
        event
        for event in museum.events(room, now_utc - NEWS, now_utc)
        if event.over or not is_silence(event) or now_utc - event.start_utc > patience
    )


def rooms_of(museum: Museum, logger_ids: Iterable[str]) -> tuple[str, ...]:
    """Return the rooms in which loggers have hung."""
    wanted = set(logger_ids)
    every = museum.placements()
    return tuple(dict.fromkeys(p.room for p in every if p.logger in wanted))
