"""From a room's events to causes: what belongs together is told together.

A spike that two sensors saw, and the excursion from the band that it made, are one cause. A spike
in the midst of three damp weeks is a cause of its own; so is a fall after a rise. An excursion
from the band that is at the same time sustained damp is told as sustained damp.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum

from analysis.learning.grades import CALL
from analysis.records.house_records import NoticeSettings
from analysis.records.inspection_records import Inspection
from analysis.records.work_records import Hanging
from analysis.results import Event
from dashboards.text.messages import _

HALF = 0.5


SUDDEN = ("spike", "step")


LASTING = ("above band", "below band")


SILENT = "no data"


class Kind(StrEnum):
    """What a notice is about."""

    HUMIDITY = "humidity"
    DAMP = "sustained damp"
    DRY = "sustained dry"
    WORKS = "works"
    SEEN = "seen on a round"
    NO_DATA = "no data"
    HOUSE = "silent house"


AIR = (Kind.HUMIDITY, Kind.DAMP, Kind.DRY)


SUSTAINED = (Kind.DAMP, Kind.DRY)


@dataclass(frozen=True)
class NoticeLimits:
    """When a notice begins, is told again and ends. A site may set its own.

    The values are common-sense first settings without a source; 75 %RH is the usual line for damp
    in guidance on collections (common practice).

    Parameters
    ----------
    open_p, keep_p : float
        Probability at which a work joins a notice, and below which it leaves it again.
    long_excursion_h : float
        An excursion from the band that no spike made is told of once it has lasted this long [h].
    quiet_h : float
        The air must have been back for this long before its notice ends; two events closer than
        this are one cause [h].
    back_rh_pct, back_share : float
        After a sudden change the air is back within this much of where it came from, or within
        this share of the change, whichever is more [%RH, 0–1].
    settled_days : float
        Air that did not come back, but has stayed inside the band (without one: between the dry
        and the damp level) for this long, has settled: its notice ends and says so [days].
    hysteresis_rh_pct : float
        Below a damp level, or above a dry one, by this much before it counts as back [%RH].
    mould_rh_pct, mould_h : float
        Air at this level for this long is told with what damp does [%RH, h].
    news_days : float
        What ended longer ago than this is told as past [days].
    silence_days : float
        A logger is silent when nothing came from it for this long; a little more than the time
        between two rounds of downloading [days].
    again_h, again_rh_pct : float
        A letter about the same cause follows the last one no sooner than this [h], and only for
        a work that has joined or a change of humidity larger by this much [%RH].
    """

    open_p: float = NoticeSettings.open_p
    keep_p: float = NoticeSettings.keep_p
    long_excursion_h: float = NoticeSettings.long_excursion_h
    quiet_h: float = NoticeSettings.quiet_h
    back_rh_pct: float = 3.0
    back_share: float = 1.0 / 3.0
    settled_days: float = 14.0
    hysteresis_rh_pct: float = 2.0
    mould_rh_pct: float = 75.0
    mould_h: float = 24.0
    news_days: float = 7.0
    silence_days: float = NoticeSettings.silence_days
    again_h: float = NoticeSettings.again_h
    again_rh_pct: float = NoticeSettings.again_rh_pct


@dataclass(frozen=True)
class Cause:
    """What is going on in a room, in one piece.

    Parameters
    ----------
    room : str or None
        None: the whole house, or a work that hangs nowhere.
    until_utc : datetime or None
        None while it goes on.
    shape : str
        Tells causes of one kind apart: "sudden rise", or the work that was seen.
    event : Event or None
        The one that tells it best.
    over_half : tuple of str
        Works that passed one half because of it and have not come back.
    level_rh_pct : float
        The air is not back while it is beyond this level [%RH]; NaN where no level decides.
    settled : bool
        The air did not come back, but has settled where it may be.
    past : bool
        It was over, longer ago than news, before anybody could be told.
    also : int
        Past causes told together with this one.
    span : tuple of datetime or None
        What a past notice covers, from the first to the last of what it tells.
    words : str
        What a person wrote, for what was seen on a round.
    after_utc : datetime or None
        For works: when the rise of humidity began after which they have not come back.
    withdrawn : bool
        The readings that told of it were taken back or corrected; those that remain do not.
    """

    kind: Kind
    room: str | None
    since_utc: datetime
    until_utc: datetime | None
    shape: str = ""
    sensors: tuple[str, ...] = ()
    event: Event | None = None
    over_half: tuple[str, ...] = ()
    level_rh_pct: float = math.nan
    settled: bool = False
    past: bool = False
    also: int = 0
    span: tuple[datetime, datetime] | None = None
    words: str = ""
    after_utc: datetime | None = None
    withdrawn: bool = False

    @property
    def key(self) -> str:
        """Name of the cause, unique in the register."""
        name = f"{self.kind} {self.shape}".strip().replace(" ", "-")
        past = "past-" if self.past else ""
        return f"{past}{name}/{self.room or 'house'}/{self.since_utc:%Y-%m-%dT%H:%M:%SZ}"

    @property
    def size(self) -> float:
        """Size of the change, or 0 where nothing changed."""
        return size(self.event) if self.event is not None else 0.0

    @property
    def sudden(self) -> bool:
        """Whether it is a spike or a step."""
        return self.event is not None and self.event.kind in SUDDEN

    @property
    def rising(self) -> bool:
        """Whether the humidity rose."""
        return self.event is not None and is_rise(self.event)


def size(event: Event) -> float:
    """Return how large an event is, 0 for a silence."""
    return 0.0 if math.isnan(event.size) else abs(event.size)


def is_rise(event: Event) -> bool:
    """Tell a rise from a fall."""
    return event.peak_value > event.from_value


@dataclass
class _Group:
    """Events that are one cause, while they are gathered."""

    events: list[Event] = field(default_factory=list)

    @property
    def start(self) -> datetime:
        return min(event.start_utc for event in self.events)

    @property
    def end(self) -> datetime:
        return max(event.end_utc for event in self.events)


def air_causes(room: str, events: Iterable[Event], limits: NoticeLimits) -> list[Cause]:
    """Return the causes that lie in the air, in order of their beginning."""
    found = sorted(events, key=lambda event: event.start_utc)
    long = timedelta(hours=limits.long_excursion_h)
    quiet = timedelta(hours=limits.quiet_h)
    causes = []
    for rise in (True, False):
        mine = [event for event in found if is_rise(event) is rise]
        sudden = _gathered((e for e in mine if e.kind in SUDDEN), quiet)
        kind = Kind.DAMP if rise else Kind.DRY
        sustained = _gathered((e for e in mine if e.kind == kind), quiet)
        lasting = [e for e in mine if e.kind in LASTING and e.end_utc - e.start_utc >= long]
        left = [e for e in lasting if not _joins(e, sudden, quiet) and not _within(e, sustained)]
        word = "rise" if rise else "fall"
        causes += [_cause(room, f"sudden {word}", group.events, limits) for group in sudden]
        causes += [_cause(room, "", group.events, limits, kind) for group in sustained]
        causes += [_cause(room, f"long {word}", g.events, limits) for g in _gathered(left, quiet)]
    return sorted(causes, key=lambda cause: cause.since_utc)


def silence_causes(room: str, events: Iterable[Event], limits: NoticeLimits) -> list[Cause]:
    """Return the silences that go on; loggers that fell silent together are one cause."""
    together = timedelta(hours=limits.quiet_h)
    groups: list[_Group] = []
    going_on = (event for event in events if event.kind == SILENT and not event.over)
    for event in sorted(going_on, key=lambda e: e.start_utc):
        if groups and event.start_utc - groups[-1].start < together:
            groups[-1].events.append(event)
        else:
            groups.append(_Group([event]))
    return [_cause(room, "", group.events, limits, Kind.NO_DATA) for group in groups]


def silence(logger: str, last_utc: datetime, now_utc: datetime) -> Event:
    """Return the event of a logger from which nothing has come since ``last_utc``."""
    none = math.nan
    return Event(
        kind=SILENT,
        channel=logger,
        start_utc=last_utc,
        peak_utc=last_utc,
        end_utc=now_utc,
        from_value=none,
        peak_value=none,
        size=none,
        rate_per_h=none,
        area=none,
        cause="",
        coverage_pct=0.0,
        over=False,
    )


def _gathered(events: Iterable[Event], quiet: timedelta) -> list[_Group]:
    """Join events that overlap, or follow one another within the quiet time."""
    groups: list[_Group] = []
    for event in events:
        if groups and event.start_utc - groups[-1].end < quiet:
            groups[-1].events.append(event)
        else:
            groups.append(_Group([event]))
    return groups


def _joins(excursion: Event, sudden: Iterable[_Group], quiet: timedelta) -> bool:
    """Put an excursion to the spike that made it, if there is one."""
    for group in sudden:
        if group.start - quiet <= excursion.start_utc <= group.end + quiet:
            group.events.append(excursion)
            return True
    return False


def _within(excursion: Event, sustained: Iterable[_Group]) -> bool:
    """Tell whether an excursion from the band is told already as sustained damp or dry."""
    return any(g.start <= excursion.end_utc and excursion.start_utc <= g.end for g in sustained)


def _cause(
    room: str,
    shape: str,
    events: Sequence[Event],
    limits: NoticeLimits,
    kind: Kind = Kind.HUMIDITY,
) -> Cause:
    telling = [event for event in events if event.kind in SUDDEN] or list(events)
    by_size = sorted(telling, key=size, reverse=True)
    over = all(event.over for event in events)
    return Cause(
        kind=kind,
        room=room,
        since_utc=min(event.start_utc for event in events),
        until_utc=max(event.end_utc for event in events) if over else None,
        shape=shape,
        sensors=tuple(dict.fromkeys(event.channel for event in [*by_size, *events])),
        event=by_size[0],
        level_rh_pct=math.nan if kind is Kind.NO_DATA else _level(by_size[0], limits),
    )


def _level(event: Event, limits: NoticeLimits) -> float:
    """Return the level beyond which the air is not back, by the measure that found the event."""
    away = 1.0 if is_rise(event) else -1.0
    if event.kind in SUDDEN:
        within = max(limits.back_rh_pct, limits.back_share * size(event))
        return event.from_value + away * within
    return event.from_value - away * limits.hysteresis_rh_pct


# What somebody saw on a round that cannot wait: a loose hinge, contact, release, a crack.
#
# Such a notice ends when a later look says otherwise, never by the estimate.


def seen_causes(
    inspections: Sequence[Inspection], hangings: Sequence[Hanging], title: str
) -> list[Cause]:
    """Return what was seen at one work that calls for somebody.

    Parameters
    ----------
    inspections : sequence of Inspection
        All that count, oldest first.
    hangings : sequence of Hanging
        Where the work hung; the notice belongs to the room of the first look.
    title : str
        The work's title.

    Returns
    -------
    list of Cause
        One for a hinge found loose and one for a grade that calls for a conservator, each from
        the first such look until a later one that found otherwise.
    """
    found = []
    for what, is_so, clears in (
        ("hinge", _loose, _holds),
        ("surface", _calls, _does_not_call),
    ):
        first: Inspection | None = None
        last: Inspection | None = None
        for inspection in inspections:
            if is_so(inspection):
                first, last = first or inspection, inspection
            elif first is not None and clears(inspection):
                found.append(
                    _seen_cause(first, last or first, inspection.at_utc, what, hangings, title)
                )
                first = last = None
        if first is not None:
            found.append(_seen_cause(first, last or first, None, what, hangings, title))
    return found


def calls(inspection: Inspection) -> bool:
    """Return whether a look found something that cannot wait."""
    return _loose(inspection) or _calls(inspection)


def _loose(inspection: Inspection) -> bool:
    return inspection.released is True


def _holds(inspection: Inspection) -> bool:
    return inspection.released is False


def _calls(inspection: Inspection) -> bool:
    return inspection.grade >= CALL


def _does_not_call(inspection: Inspection) -> bool:
    return inspection.grade < CALL


def _seen_cause(
    first: Inspection,
    last: Inspection,
    until_utc: datetime | None,
    what: str,
    hangings: Sequence[Hanging],
    title: str,
) -> Cause:
    seen = _("a hinge is loose") if what == "hinge" else _("contact, release, a crack or a stain")
    words = f"{title}: {seen}"
    if last.note:
        words = f"{words} (“{last.note}”)"
    return Cause(
        Kind.SEEN,
        _room_at(hangings, first.at_utc),
        first.at_utc,
        until_utc,
        shape=f"{what} {first.work_id}",
        over_half=(),
        words=_("{words}, seen by {by}", words=words, by=last.by) if last.by else words,
    )


def _room_at(hangings: Sequence[Hanging], at_utc: datetime) -> str | None:
    """Return the room in which a work hung at a time, or None."""
    for hanging in hangings:
        begun = hanging.from_utc is None or hanging.from_utc <= at_utc
        if begun and (hanging.to_utc is None or at_utc < hanging.to_utc):
            return hanging.room
    return None
