"""Writes down what the rules decide: notices and their letters, each room in one transaction."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from analysis.results import Event, Judgement
from service.notices import texts
from service.notices.causes import Cause, Kind, NoticeLimits, silence
from service.notices.lines import notice_line
from service.notices.mail import Post, Stage, notice_message, post_of
from service.notices.rules import Action, End, Known, Open, decide
from service.notices.told_judgement import as_plain
from service.settings import Settings
from service.storage import loggers, places
from service.storage.events import calendar
from service.storage.notices import Notice, notices, raise_notice
from service.storage.outbox import Letter, queue_letter
from service.storage.register import Register
from service.storage.stores import Stores

REMEMBERED = timedelta(days=60)


@dataclass
class NoticeChanges:
    """What changed in the register: notices by what happened to them, and letters queued."""

    opened: list[Notice] = field(default_factory=list)
    updated: list[Notice] = field(default_factory=list)
    ended: list[Notice] = field(default_factory=list)
    letters: int = 0


def raise_notices(
    stores: Stores,
    now_utc: datetime,
    rooms: Iterable[str] | None = None,
    *,
    room_events: Mapping[str, Sequence[Event]],
    judgements: Mapping[str, Sequence[Judgement]],
    settings: Settings | None = None,
    limits: NoticeLimits | None = None,
) -> NoticeChanges:
    """Bring the notices of the rooms up to date, and queue the letters they call for.

    Calling it again with the same facts changes nothing and queues nothing.

    Parameters
    ----------
    stores : Stores
        The museum's stores; only the register is written.
    now_utc : datetime
        The present, or the time of the newest reading for a record of the past.
    rooms : iterable of str, optional
        The rooms to look at; every room of the two mappings when left out. A room that is not in
        both is looked at for silent loggers alone: its other notices stay as they are.
    room_events : mapping of str to sequence of Event
        By room: events of at least the last week. Loggers that are silent now are found here.
    judgements : mapping of str to sequence of Judgement
        By room: the present judgement of every work that hangs there.
    settings : Settings, optional
        Mail server and recipients; without them no letter is queued.
    limits : NoticeLimits, optional
        The site's own limits.
    """
    limits = limits or NoticeLimits()
    changes = NoticeChanges()
    post = post_of(settings) if settings is not None else None
    for room in sorted(set(room_events) | set(judgements)) if rooms is None else rooms:
        with stores.register.writing():
            desk = _Desk(stores.register, room, judgements.get(room, ()), post, now_utc, changes)
            silent = silences(stores, room, now_utc, limits)
            kinds = tuple(Kind) if room in room_events and room in judgements else (Kind.NO_DATA,)
            desk.settle([*room_events.get(room, ()), *silent], kinds, limits)
    return changes


def silences(stores: Stores, room: str, now_utc: datetime, limits: NoticeLimits) -> list[Event]:
    """Return the loggers hung in a room from which nothing has come for too long.

    A logger from which nothing ever came is not missed.
    """
    patience = timedelta(days=limits.silence_days)
    found = []
    for hung in loggers.placements(stores.register):
        gone = hung.to_utc is not None and hung.to_utc <= now_utc
        span = None if gone or hung.room != room else stores.readings.span(hung.logger)
        if span is not None and now_utc - span[1] > patience:
            found.append(silence(hung.logger, span[1], now_utc))
    return found


@dataclass
class _Desk:
    """One room's notices in one transaction."""

    register: Register
    room: str
    judgements: Sequence[Judgement]
    post: Post | None
    now_utc: datetime
    changes: NoticeChanges

    def settle(self, events: Sequence[Event], kinds: Sequence[Kind], limits: NoticeLimits) -> None:
        """Decide and write down, as far as it concerns these kinds of notices."""
        remembered = {
            notice.id: notice
            for notice in notices(self.register, self.room)
            if notice.ended_utc is None or notice.ended_utc > self.now_utc - REMEMBERED
        }
        known = [_known(notice) for notice in remembered.values()]
        actions = decide(self.room, events, self.judgements, known, self.now_utc, limits)
        for action in actions:
            if action.cause.kind in kinds:
                self._do(action, remembered)

    def _do(self, action: Action, remembered: Mapping[int, Notice]) -> None:
        if isinstance(action, Open):
            stage = Stage.ENDED if action.ended_utc is not None else Stage.RAISED
            notice = self._write(action.cause, None, action.ended_utc, told=True)
            self.changes.opened.append(notice)
            self._letters(notice, stage)
            return
        before = remembered[action.notice_id]
        if isinstance(action, End):
            notice = self._write(action.cause, before, action.at_utc, told=True)
            self.changes.ended.append(notice)
            self._letters(notice, Stage.ENDED)
            return
        notice = self._write(action.cause, before, None, told=action.tell)
        if notice.changed_utc != before.changed_utc:
            self.changes.updated.append(notice)
        if action.tell:
            self._letters(notice, Stage.CHANGED)

    def _write(
        self, cause: Cause, before: Notice | None, ended_utc: datetime | None, *, told: bool
    ) -> Notice:
        place = self._place(cause)
        details = self._details(cause, place) | _telling(cause, before, self.now_utc, told)
        if cause.event is None and before is not None and cause.kind is not Kind.WORKS:
            details = {**before.details, **_span(cause), **_letter_count(details)}
        notice = Notice(
            cause_key=before.cause_key if before is not None else cause.key,
            kind=str(cause.kind),
            room=self.room,
            headline=_headline(cause, place, before),
            since_utc=cause.since_utc,
            details=details,
            ended_utc=ended_utc,
        )
        return raise_notice(self.register, notice, self.now_utc)[0]

    def _details(self, cause: Cause, place: texts.Place) -> dict[str, Any]:
        works = texts.works_in_order(cause, self.judgements)
        return _span(cause) | {
            "sensors": list(texts.seen_by(cause, place)),
            "confirmed_by": texts.confirmed_by(cause, place),
            "likely_cause": str(cause.event.cause) if cause.event is not None else "",
            "size": cause.size,
            "what": texts.what(cause, place),
            "felt": texts.felt(works),
            "lead": texts.lead(works),
            "do_now": list(texts.do_now(cause)),
            "works": [as_plain(work, place.zone) for work in works],
        }

    def _place(self, cause: Cause) -> texts.Place:
        room = places.room_named(self.register, self.room)
        zone = places.site_of(self.register, self.room).zone
        until = cause.until_utc or self.now_utc
        entered = calendar(self.register, self.room, cause.since_utc, until)
        titles = tuple(dict.fromkeys(event.title for event in entered))
        return texts.Place(room.name, zone, self._sensors(cause), titles)

    def _sensors(self, cause: Cause) -> tuple[str, ...]:
        """Return the loggers that saw it: those the events name, else those that hang there."""
        hung = loggers.placements_in(self.register, self.room, cause.since_utc, cause.until_utc)
        names = tuple(dict.fromkeys(placement.logger for placement in hung))
        return tuple(filter(None, cause.sensors)) or names

    def _letters(self, notice: Notice, stage: Stage) -> None:
        if self.post is None:
            return
        place = places.room_named(self.register, self.room)
        zone = places.site_of(self.register, self.room).zone
        line = notice_line(notice, place.name)
        for recipient in self.post.recipients:
            message = notice_message(line, notice.headline, stage, self.post, zone, self.now_utc)
            message["To"] = recipient
            letter = Letter(
                letter_key=f"{notice.cause_key}#{notice.details['letters']}/{recipient}",
                recipient=recipient,
                subject=str(message["Subject"]),
                body=message.as_string(),
                notice_id=notice.id,
                message_id=str(message["Message-ID"]),
            )
            self.changes.letters += queue_letter(self.register, letter, self.now_utc)


def _span(cause: Cause) -> dict[str, Any]:
    until = cause.until_utc
    return {
        "until_utc": None if until is None else until.isoformat(),
        "over_half": list(cause.over_half),
        "shape": cause.shape,
    }


def _letter_count(details: Mapping[str, Any]) -> dict[str, Any]:
    return {name: details[name] for name in ("letters", "told_utc", "told_size", "told_works")}


def _telling(cause: Cause, before: Notice | None, now_utc: datetime, told: bool) -> dict[str, Any]:
    """Return what people have been told, and how often."""
    had = before.details if before is not None else {"letters": 0}
    if not told:
        return _letter_count(had)
    return {
        "letters": int(had["letters"]) + 1,
        "told_utc": now_utc.isoformat(),
        "told_size": cause.size,
        "told_works": list(cause.over_half),
    }


def _headline(cause: Cause, place: texts.Place, before: Notice | None) -> str:
    gone = cause.event is None and cause.kind is not Kind.WORKS
    emptied = cause.kind is Kind.WORKS and not cause.over_half
    if before is not None and (gone or emptied):
        return before.headline
    return texts.headline(cause, place)


def _known(notice: Notice) -> Known:
    details = notice.details
    return Known(
        notice_id=notice.id,
        kind=Kind(notice.kind),
        room=notice.room,
        since_utc=notice.since_utc,
        until_utc=_time(details.get("until_utc")),
        shape=str(details.get("shape", "")),
        ended_utc=notice.ended_utc,
        over_half=tuple(details.get("over_half", ())),
        told_utc=_time(details.get("told_utc")),
        told_size=float(details.get("told_size", 0.0)),
        told_works=tuple(details.get("told_works", ())),
    )


def _time(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)
