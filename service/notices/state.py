"""Writes down what the rules decide: notices and their letters, each room in one transaction."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from analysis.events.planned import PLANNED_AFTER, PLANNED_BEFORE, planned_around
from analysis.records.house_records import CalendarEvent
from analysis.results import Event, Judgement
from dashboards.text.messages import _
from service.answers.as_json import as_plain
from service.notices import texts
from service.notices.arrangements import Arrangement, arrangement
from service.notices.causes import AIR, Cause, Kind
from service.notices.corrections import corrections
from service.notices.incident import lessons
from service.notices.lines import notice_line
from service.notices.mail import Post, Stage, notice_message, post_of
from service.notices.rules import Action, Air, End, Known, Open, Update, decide
from service.notices.silence import HungLogger, house_silence, hung_loggers, silences
from service.settings import Settings
from service.storage import loggers, places
from service.storage.incidents import incidents
from service.storage.notices import Notice, note_judged, notices, raise_notice
from service.storage.outbox import Letter, queue_letter
from service.storage.places import calendar
from service.storage.register import Register
from service.storage.stores import Stores


@dataclass
class NoticeChanges:
    """What changed in the register: notices by what happened to them, and letters queued."""

    opened: list[Notice] = field(default_factory=list)
    updated: list[Notice] = field(default_factory=list)
    ended: list[Notice] = field(default_factory=list)
    letters: int = 0

    def add(self, more: "NoticeChanges") -> None:
        """Add what else changed."""
        self.opened += more.opened
        self.updated += more.updated
        self.ended += more.ended
        self.letters += more.letters


@dataclass(frozen=True)
class Facts:
    """What is known of one room (None: the house) when its notices are judged.

    Parameters
    ----------
    events : sequence of Event or None
        Of at least the time that has not been judged yet; None where nothing was looked at: the
        room's notices of the air and of works stay as they are.
    judgements : sequence of Judgement or None
        The present judgement of every work that hangs there; None as for ``events``.
    air : Air or None
        Its readings.
    others : sequence of Cause
        What was seen on a round, a silent house.
    """

    events: Sequence[Event] | None = None
    judgements: Sequence[Judgement] | None = None
    air: Air | None = None
    others: Sequence[Cause] = ()


def settle_rooms(
    stores: Stores,
    now_utc: datetime,
    facts: Mapping[str | None, Facts],
    *,
    settings: Settings | None = None,
    arranged: Arrangement | None = None,
    hung: Sequence[HungLogger] | None = None,
) -> NoticeChanges:
    """Bring the notices of the rooms up to date, and queue the letters they call for.

    Calling it again with the same facts changes nothing and queues nothing.

    Parameters
    ----------
    stores : Stores
        The museum's stores; only the register is written.
    now_utc : datetime
        The present, by the clock.
    facts : mapping of str or None to Facts
        By room; None is the house and the works that hang nowhere.
    settings : Settings, optional
        Mail server and recipients; without them no letter is queued.
    arranged : Arrangement, optional
        The site's own limits and people; those of the register when left out.
    hung : sequence of HungLogger, optional
        All loggers that hang now; those of the stores when left out.
    """
    arranged = arranged or arrangement(stores.register, now_utc)
    changes = NoticeChanges()
    post = post_of(settings) if settings is not None else None
    hung = hung_loggers(stores, now_utc, arranged.limits) if hung is None else hung
    house = house_silence(hung, now_utc)
    for room, known in facts.items():
        with stores.register.writing():
            others = (*known.others, *house) if room is None else known.others
            desk = _Desk(
                stores.register,
                room,
                replace(known, others=others),
                post,
                now_utc,
                arranged,
                changes,
                house_silent=bool(house),
            )
            desk.settle(silences(hung, room, now_utc))
            if room is not None and known.air is not None:
                until = known.air.record.known_until_utc
                if until is not None:
                    note_judged(stores.register, room, until)
    return changes


def raise_notices(
    stores: Stores,
    now_utc: datetime,
    rooms: Iterable[str] | None = None,
    *,
    room_events: Mapping[str, Sequence[Event]],
    judgements: Mapping[str, Sequence[Judgement]],
    settings: Settings | None = None,
    air: Mapping[str, Air] | None = None,
) -> NoticeChanges:
    """Bring the notices of some rooms up to date; see `settle_rooms`."""
    wanted = sorted(set(room_events) | set(judgements)) if rooms is None else list(rooms)
    facts: dict[str | None, Facts] = {
        room: Facts(room_events.get(room), judgements.get(room), (air or {}).get(room))
        for room in wanted
    }
    return settle_rooms(stores, now_utc, facts, settings=settings)


@dataclass
class _Desk:
    """One room's notices in one transaction."""

    register: Register
    room: str | None
    facts: Facts
    post: Post | None
    now_utc: datetime
    arranged: Arrangement
    changes: NoticeChanges
    house_silent: bool = False

    @property
    def judgements(self) -> Sequence[Judgement]:
        return self.facts.judgements or ()

    def settle(self, silent: Sequence[Event]) -> None:
        """Decide and write down, as far as it concerns what was looked at."""
        remembered = {n.id: n for n in notices(self.register) if n.room == self.room}
        known = [known_of(notice) for notice in remembered.values()]
        actions = decide(
            self.room,
            [*(self.facts.events or ()), *silent],
            self.judgements,
            known,
            self.now_utc,
            self.arranged.limits,
            air=self.facts.air,
            others=self.facts.others,
        )
        if self.facts.air is not None:
            actions += corrections(known, self.facts.air.record, self.now_utc)
        kinds = self._kinds()
        for action in actions:
            if action.cause.kind in kinds:
                self._do(action, remembered)

    def _kinds(self) -> tuple[Kind, ...]:
        if self.facts.events is not None and self.facts.judgements is not None:
            return tuple(Kind)
        return (Kind.NO_DATA, Kind.SEEN, Kind.HOUSE)

    def _do(self, action: Action, remembered: Mapping[int, Notice]) -> None:
        if isinstance(action, Open):
            self._open(action)
            return
        before = remembered[action.notice_id]
        never_reported = not before.details.get("letters") and bool(before.details.get("planned"))
        if isinstance(action, End):
            # An opening that overran and is over: nobody has been told of it yet.
            reported = not never_reported or not self._planned(action.cause)
            notice = self._write(action.cause, before, action.at_utc, reported=reported)
            self.changes.ended.append(notice)
            if reported:
                stage = Stage.CORRECTED if action.cause.withdrawn else Stage.ENDED
                self._letters(notice, stage, action.cause)
            return
        self._go_on(action, before, never_reported=never_reported)

    def _open(self, action: Open) -> None:
        if self.house_silent and action.cause.kind is Kind.NO_DATA:
            return  # one notice for the house says it
        reported = not self._planned(action.cause)
        stage = Stage.RAISED if action.ended_utc is None else Stage.ENDED
        stage = Stage.PAST if action.cause.past else stage
        notice = self._write(action.cause, None, action.ended_utc, reported=reported)
        self.changes.opened.append(notice)
        if reported:
            self._letters(notice, stage, action.cause)

    def _go_on(self, action: Update, before: Notice, *, never_reported: bool) -> None:
        late = never_reported and not self._planned(action.cause)
        reported = late or (action.tell and not never_reported)
        notice = self._write(action.cause, before, None, reported=reported)
        if notice.changed_utc != before.changed_utc:
            self.changes.updated.append(notice)
        if reported:
            anew = late or before.ended_utc is not None
            self._letters(notice, Stage.RAISED if anew else Stage.CHANGED, action.cause)

    def _planned(self, cause: Cause) -> str:
        """Return what was entered beforehand that quietens the air, or an empty text."""
        if cause.kind not in AIR or cause.over_half:
            return ""
        until = cause.until_utc or self.now_utc
        found = planned_around(self._entered(cause), cause.since_utc, until)
        return "" if found is None else found.title

    def _entered(self, cause: Cause) -> tuple[CalendarEvent, ...]:
        until = cause.until_utc or self.now_utc
        around = (cause.since_utc - PLANNED_AFTER, until + PLANNED_BEFORE)
        return () if self.room is None else calendar(self.register, self.room, *around)

    def _write(
        self, cause: Cause, before: Notice | None, ended_utc: datetime | None, *, reported: bool
    ) -> Notice:
        place = self._place(cause)
        details = self._details(cause, place) | _telling(cause, before, self.now_utc, reported)
        if before is not None and _out_of_sight(cause):
            details = self._ongoing_details(cause, before, details, place)
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

    def _ongoing_details(
        self,
        cause: Cause,
        before: Notice,
        details: Mapping[str, Any],
        place: texts.Place,
    ) -> dict[str, Any]:
        """Return a notice's details where its cause is out of sight: its words, its end anew."""
        ongoing = {**before.details, **_span(cause), **_letter_count(details)}
        ongoing["level_rh_pct"] = before.details.get("level_rh_pct")
        ongoing |= {"withdrawn": cause.withdrawn, "past": before.details.get("past", False)}
        if cause.kind is Kind.WORKS or (cause.kind in AIR and self.facts.air is not None):
            reported = str(before.details.get("what_happened", before.details.get("what", "")))
            ongoing["what"] = " ".join(filter(None, (reported, texts.until(cause, place))))
            ongoing["works"] = details["works"] or before.details.get("works", [])
        return ongoing

    def _details(self, cause: Cause, place: texts.Place) -> dict[str, Any]:
        works = texts.works_in_order(cause, self.judgements)
        happened = texts.what_happened(cause, place, works)
        return _span(cause) | {
            "sensors": list(texts.seen_by(cause, place)),
            "confirmed_by": texts.confirmed_by(cause, place),
            "likely_cause": str(cause.event.cause) if cause.event is not None else "",
            "size": cause.size,
            "level_rh_pct": _number(cause.level_rh_pct),
            "past": cause.past,
            "after_utc": None if cause.after_utc is None else cause.after_utc.isoformat(),
            "planned": self._planned(cause),
            "what_happened": happened,
            "what": " ".join(filter(None, (happened, texts.until(cause, place)))),
            "felt": texts.felt(works),
            "lead": "" if cause.past else texts.lead(works),
            "do_now": list(texts.do_now(cause, self._mould_h(cause))),
            "works": [as_plain(work, place.zone) for work in works],
        }

    def _mould_h(self, cause: Cause) -> float:
        """Return for how long the air has stayed at the level where damp does harm [h]."""
        if cause.kind is not Kind.DAMP or self.facts.air is None:
            return 0.0
        limits = self.arranged.limits
        longest = self.facts.air.record.longest_h(cause.since_utc, limits.mould_rh_pct)
        return longest if longest >= limits.mould_h else 0.0

    def _place(self, cause: Cause) -> texts.Place:
        if self.room is None:
            site = next(iter(places.sites(self.register)), None)
            name, zone = (_("The museum"), "UTC") if site is None else (site.name, site.zone)
            return texts.Place(name, zone, cause.sensors)
        room = places.room_named(self.register, self.room)
        zone = places.site_of(self.register, self.room).zone
        titles = tuple(dict.fromkeys(event.title for event in self._entered(cause)))
        return texts.Place(room.name, zone, self._sensors(cause), titles)

    def _sensors(self, cause: Cause) -> tuple[str, ...]:
        """Return the loggers that saw it: those the events name, else those that hang there."""
        if self.room is None or cause.kind is Kind.SEEN:
            return ()
        hung = loggers.placements_in(self.register, self.room, cause.since_utc, cause.until_utc)
        names = tuple(dict.fromkeys(placement.logger for placement in hung))
        return tuple(filter(None, cause.sensors)) or names

    def _letters(self, notice: Notice, stage: Stage, cause: Cause) -> None:
        if self.post is None:
            return
        place = self._place(cause)
        called, learned = (
            self.arranged.on_call(self.room),
            lessons(incidents(self.register, notice.room), notice),
        )
        line = notice_line(notice, place.room_name, called, learned)
        due = self.arranged.due(
            notice.kind, self.now_utc, place.zone, pressing=bool(cause.over_half)
        )
        for recipient in self._recipients(notice):
            message = notice_message(
                line, notice.headline, stage, self.post, place.zone, self.now_utc
            )
            message["To"] = recipient
            letter = Letter(
                letter_key=f"{notice.cause_key}#{notice.details['letters']}/{recipient}",
                recipient=recipient,
                subject=str(message["Subject"]),
                body=message.as_string(),
                notice_id=notice.id,
                message_id=str(message["Message-ID"]),
                due_utc=due,
            )
            self.changes.letters += queue_letter(self.register, letter, self.now_utc)

    def _recipients(self, notice: Notice) -> list[str]:
        """Return who is written to: the addresses of the settings, and the people told of it."""
        reported = self.arranged.recipients_of(notice.kind, self.room)
        mine = self.post.recipients if self.post is not None else ()
        return list(dict.fromkeys([*mine, *(one.email for one in reported)]))


def _number(value: float) -> float | None:
    return None if value != value else value


def _span(cause: Cause) -> dict[str, Any]:
    until = cause.until_utc
    return {
        "until_utc": None if until is None else until.isoformat(),
        "over_half": list(cause.over_half),
        "shape": cause.shape,
        "span": None if cause.span is None else [one.isoformat() for one in cause.span],
    }


def _letter_count(details: Mapping[str, Any]) -> dict[str, Any]:
    had = {name: details[name] for name in ("letters", "told_utc", "told_size", "told_works")}
    return had | {"worse_utc": details.get("worse_utc")}


def _telling(
    cause: Cause, before: Notice | None, now_utc: datetime, reported: bool
) -> dict[str, Any]:
    """Return what people have been told, and how often."""
    had = before.details if before is not None else _NOTHING_TOLD
    if not reported:
        return _letter_count(had)
    seen_before = before is not None and bool(before.seen_by)
    return {
        "worse_utc": now_utc.isoformat() if seen_before else None,
        "letters": int(had["letters"]) + 1,
        "told_utc": now_utc.isoformat(),
        "told_size": cause.size,
        "told_works": list(cause.over_half),
    }


_NOTHING_TOLD: Mapping[str, Any] = {
    "letters": 0,
    "told_utc": None,
    "told_size": 0.0,
    "told_works": [],
}


def _headline(cause: Cause, place: texts.Place, before: Notice | None) -> str:
    if before is not None and _out_of_sight(cause):
        return before.headline
    return texts.headline(cause, place)


def _out_of_sight(cause: Cause) -> bool:
    """Tell whether a notice's cause is no longer there to be worded anew."""
    if cause.kind is Kind.WORKS:
        return not cause.over_half
    if cause.kind is Kind.SEEN:
        return not cause.words
    return cause.event is None


def known_of(notice: Notice) -> Known:
    """Return a notice of the register as the rules need it."""
    details = notice.details
    level, span = details.get("level_rh_pct"), details.get("span")
    return Known(
        notice_id=notice.id,
        kind=Kind(notice.kind),
        room=notice.room,
        since_utc=notice.since_utc,
        until_utc=_time(details.get("until_utc")),
        shape=str(details.get("shape", "")),
        ended_utc=notice.ended_utc,
        over_half=tuple(details.get("over_half", ())),
        reported_utc=_time(details.get("told_utc")),
        reported_size=float(details.get("told_size", 0.0)),
        reported_works=tuple(details.get("told_works", ())),
        level_rh_pct=float("nan") if level is None else float(level),
        past=bool(details.get("past", False)),
        withdrawn=bool(details.get("withdrawn", False)),
        after_utc=_time(details.get("after_utc")),
        span=None if span is None else (_instant(span[0]), _instant(span[1])),
    )


def _instant(text: str) -> datetime:
    return datetime.fromisoformat(text)


def _time(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)
