"""What happens when readings, looks or facts have arrived: events, judgements, notices, letters."""

from collections.abc import Iterable
from datetime import datetime, timedelta

from analysis.events.air_record import EventSettings
from analysis.records.inspection_records import Inspection
from analysis.results import Event
from dashboards.text.event_words import is_silence
from service.answers.museum import Museum
from service.climate.room_events import agreed
from service.climate.room_readings import full_hour
from service.notices.air_back import RoomRecord, outside_agreement
from service.notices.arrangements import Arrangement, arrangement
from service.notices.causes import Cause, NoticeLimits, calls, seen_causes
from service.notices.rules import Air
from service.notices.silence import HungLogger, hung_loggers
from service.notices.state import Facts, NoticeChanges, settle_rooms
from service.storage import places, works as work_store
from service.storage.inspections import inspections
from service.storage.notices import judged_until


def after_arrival(
    museum: Museum, room_ids: Iterable[str] | None = None, *, from_utc: datetime | None = None
) -> NoticeChanges:
    """Bring the notices of the rooms up to date after readings, inspections or facts came in.

    A room is judged over all the time since it was last judged, so that a late file is told of,
    as past where it is past; doing it again changes nothing.

    Parameters
    ----------
    museum : Museum
        The museum, its stores already holding what came in.
    room_ids : iterable of str, optional
        The rooms it concerns; all rooms when left out.
    from_utc : datetime, optional
        The first reading that came in, where it is earlier than what was judged already.
    """
    arranged = arrangement(museum.stores.register)
    seen = seen_by_room(museum)
    measured = [*(room.room for room in museum.rooms()), *sorted(museum.away())]
    wanted = measured if room_ids is None else [r for r in room_ids if r in measured]
    facts: dict[str | None, Facts] = {
        room: facts_of(museum, room, arranged, seen.get(room, ()), from_utc) for room in wanted
    }
    for room, causes in seen.items():
        facts.setdefault(room, Facts(others=causes))
    return settle_rooms(
        museum.stores,
        museum.clock(),
        facts,
        settings=museum.settings,
        arranged=arranged,
        hung=_hung_loggers(museum, arranged.limits),
    )


def _hung_loggers(museum: Museum, limits: NoticeLimits) -> list[HungLogger]:
    """Return the loggers that hang in this minute; rooms that are settled together ask once."""
    now = museum.clock()
    return museum.cached(
        ("hung loggers", now.replace(second=0, microsecond=0), limits),
        lambda: hung_loggers(museum.stores, now, limits),
    )


def facts_of(
    museum: Museum,
    room: str,
    arranged: Arrangement,
    seen: Iterable[Cause] = (),
    from_utc: datetime | None = None,
) -> Facts:
    """Return what is known of a measured room for its notices.

    The air of a crate or of another house is nobody's here to mend: of it the works alone are told.
    """
    record = RoomRecord.of(museum.readings(room).frame)
    known_until = record.known_until_utc
    if known_until is None:
        return Facts(others=tuple(seen))
    until = min(full_hour(known_until), full_hour(museum.clock()))
    judged = judged_until(museum.stores.register, room)
    news = until - timedelta(days=arranged.limits.news_days + 1)
    unjudged = None if judged is None else min(filter(None, (judged, from_utc)))
    start = news if unjudged is None else min(news, unjudged)
    low, high = _may_settle(museum, room, until)
    return Facts(
        events=()
        if room in museum.away()
        else _worth_telling(museum, room, (start, until), record, arranged),
        judgements=museum.judgements(room),
        air=Air(record, low, high, unjudged),
        others=tuple(seen),
    )


def seen_by_room(museum: Museum) -> dict[str | None, tuple[Cause, ...]]:
    """Return what rounds have found that calls for somebody, by the room of the first look."""
    register = museum.stores.register
    inspected: dict[str, list[Inspection]] = {}
    for look in inspections(register):
        inspected.setdefault(look.work_id, []).append(look)
    found: dict[str | None, tuple[Cause, ...]] = {None: ()}
    for work_id, mine in inspected.items():
        if not any(calls(look) for look in mine):
            continue
        record = work_store.work_record(register, work_id)
        for cause in seen_causes(mine, record.hangings, record.print.title):
            found[cause.room] = (*found.get(cause.room, ()), cause)
    return found


def _may_settle(museum: Museum, room: str, at_utc: datetime) -> tuple[float, float]:
    """Return between which levels a room's air may settle [%RH]."""
    band = places.band_at(museum.stores.register, room, at_utc)
    usual = EventSettings()
    low = usual.dry_rh_pct if band is None else band.rh_low_pct
    high = usual.damp_rh_pct if band is None else band.rh_high_pct
    return (
        usual.dry_rh_pct if low is None else low,
        usual.damp_rh_pct if high is None else high,
    )


def _worth_telling(
    museum: Museum,
    room: str,
    span: tuple[datetime, datetime],
    record: RoomRecord,
    arranged: Arrangement,
) -> tuple[Event, ...]:
    """Return a room's events against what is agreed, without silences (found by the clock)."""
    band = agreed(places.band_at(museum.stores.register, room, span[1]))
    found = outside_agreement(museum.events(room, *span), record, band, arranged.limits)
    return tuple(event for event in found if not is_silence(event))


def rooms_of(museum: Museum, logger_ids: Iterable[str]) -> tuple[str, ...]:
    """Return the rooms in which loggers have hung."""
    wanted = set(logger_ids)
    every = museum.placements()
    return tuple(dict.fromkeys(p.room for p in every if p.logger in wanted))
