"""Loggers from which nothing comes, by the clock: one, or all of a house."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from analysis.answers.rhythm import longest_silence
from analysis.records.room_records import Placement, Rhythm
from analysis.results import Event
from service.climate.presence import rhythms
from service.notices.causes import Cause, Kind, NoticeLimits, silence
from service.storage import loggers, places
from service.storage.spans import reach
from service.storage.stores import Stores

LONG_AGO = datetime.min.replace(tzinfo=UTC)


@dataclass(frozen=True)
class HungLogger:
    """A logger that hangs now and has told something: how long it may be silent is its room's."""

    logger: str
    room: str
    last_utc: datetime
    patience: timedelta
    behind: timedelta = timedelta(0)  # how much later another logger of its room has told
    longest_behind: timedelta = timedelta.max

    def is_silent(self, now_utc: datetime) -> bool:
        """Tell whether nothing has come from it for too long, by the clock or beside another."""
        return now_utc - self.last_utc > self.patience or self.behind > self.longest_behind


def silences(hung: Sequence[HungLogger], room: str | None, now_utc: datetime) -> list[Event]:
    """Return the loggers of a room from which nothing has come for too long.

    A logger from which nothing ever came is not missed.
    """
    return [
        silence(one.logger, one.last_utc, now_utc)
        for one in hung
        if one.room == room and one.is_silent(now_utc)
    ]


def house_silence(hung: Sequence[HungLogger], now_utc: datetime) -> tuple[Cause, ...]:
    """Return that a house has gone silent, as a cause, or nothing.

    It has when nothing came from any logger for too long by the room that is read most often, and
    most of its loggers are silent: one that sends by itself and stops is that logger's silence,
    not the house's, while the others are within the week in which a person reads them.
    """
    last = max((one.last_utc for one in hung), default=None)
    if len(hung) < 2 or last is None or now_utc - last <= min(one.patience for one in hung):
        return ()
    if 2 * sum(one.is_silent(now_utc) for one in hung) <= len(hung):
        return ()
    names = tuple(one.logger for one in hung)
    event = silence("", last, now_utc)
    return (Cause(Kind.HOUSE, None, last, None, sensors=names, event=event),)


def hung_loggers(stores: Stores, now_utc: datetime, limits: NoticeLimits) -> list[HungLogger]:
    """Return the loggers that hang now and are to tell something.

    One that travels, or hangs in another house, is read when it is back: it is not waited for.
    One from which nothing ever came is waited for where it hangs in another's place: its room was
    measured before, and nothing else that hangs there has told anything.
    """
    rooms, reached = places.rooms(stores.register), reach(stores.register)
    usual = rhythms(stores.register, rooms, now_utc)
    away = places.away_rooms(stores.register)
    every = [one for one in loggers.placements(stores.register) if one.room not in away]
    told = {one.logger: reached.get(one.logger) for one in every}
    here = [one for one in every if _hangs(one, now_utc)]
    measured = {one.room for one in every if told[one.logger] is not None}
    heard = {one.room for one in here if told[one.logger] is not None}
    found = []
    for one in here:
        span = told[one.logger]
        replaces = one.room in measured - heard and one.from_utc is not None
        if span is not None or replaces:
            last = LONG_AGO if span is None else span[1]
            last = min(max(last, one.from_utc or LONG_AGO), now_utc)
            found.append(HungLogger(one.logger, one.room, last, _patience(usual[one.room], limits)))
    newest = {one.room: max(x.last_utc for x in found if x.room == one.room) for one in found}
    return [_beside(one, newest[one.room], limits) for one in found]


def _hangs(one: Placement, now_utc: datetime) -> bool:
    begun = one.from_utc is None or one.from_utc <= now_utc
    return begun and (one.to_utc is None or one.to_utc > now_utc)


def _beside(one: HungLogger, newest_utc: datetime, limits: NoticeLimits) -> HungLogger:
    """Return a logger with how far it is behind the others of its room.

    Loggers that people read monthly or quarterly are not all read on one day.
    """
    longest = max(timedelta(days=limits.silence_days), one.patience / 3)
    return replace(one, behind=newest_utc - one.last_utc, longest_behind=longest)


def _patience(rhythm: Rhythm | None, limits: NoticeLimits) -> timedelta:
    """Return how long a room's loggers may be silent: by its rhythm, else by the site's limit."""
    return timedelta(days=limits.silence_days) if rhythm is None else longest_silence(rhythm)
