"""What to tell and when: one notice a cause, updated while it goes on, ended when it is over.

Pure: the room's events, its readings, the judgements of its works and the notices already known go
in; what to open, to change and to end comes out. `service.notices.causes` says what belongs
together, `service.notices.state` writes down what is decided here.

A notice ends only when the air, or the work, **is back**, by the measure that opened it and held
for `NoticeLimits.quiet_h`: that an event is out of sight, or that readings have stopped, ends
nothing. Works that pass one half while a rise goes on belong to its notice; when the air is back
and they are not, the notice of the room's works takes them over and names the rise.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from analysis.results import Event, Judgement, Listing
from service.notices.air_back import RoomRecord
from service.notices.causes import (
    AIR,
    HALF,
    SUSTAINED,
    Cause,
    Kind,
    NoticeLimits,
    air_causes,
    silence_causes,
)


@dataclass(frozen=True)
class Known:
    """A notice in the register, open or ended, as far as the rules need it."""

    notice_id: int
    kind: Kind
    room: str | None
    since_utc: datetime
    until_utc: datetime | None
    shape: str = ""
    ended_utc: datetime | None = None
    over_half: tuple[str, ...] = ()
    reported_utc: datetime | None = None
    reported_size: float = 0.0
    reported_works: tuple[str, ...] = ()
    level_rh_pct: float = math.nan
    past: bool = False
    span: tuple[datetime, datetime] | None = None
    after_utc: datetime | None = None
    withdrawn: bool = False

    @property
    def rising(self) -> bool:
        """Whether the humidity rose, for a notice of the air."""
        return self.kind is Kind.DAMP or self.shape.endswith("rise")


@dataclass(frozen=True)
class Open:
    """A new notice; with ``ended_utc`` where it was over before anyone could be told."""

    cause: Cause
    ended_utc: datetime | None = None


@dataclass(frozen=True)
class Update:
    """A notice whose cause goes on; ``tell`` where people should hear of the change."""

    notice_id: int
    cause: Cause
    tell: bool = False


@dataclass(frozen=True)
class End:
    """A notice whose cause is over."""

    notice_id: int
    cause: Cause
    at_utc: datetime


Action = Open | Update | End


@dataclass(frozen=True)
class Air:
    """What is known of a room's air: its record, and where it may settle.

    Parameters
    ----------
    record : RoomRecord
        The readings, at least from the beginning of the oldest open notice.
    low_rh_pct, high_rh_pct : float
        The agreed band, or the dry and the damp level where there is none [%RH].
    unjudged_from_utc : datetime or None
        Causes that were over after this time, but longer ago than news, are told as past; None:
        nothing of the past is told.
    """

    record: RoomRecord
    low_rh_pct: float
    high_rh_pct: float
    unjudged_from_utc: datetime | None = None


@dataclass(frozen=True)
class Room:
    """A room at the time of judging: its notices and the works in it."""

    room: str | None
    known: Sequence[Known]
    judgements: Sequence[Judgement]
    now_utc: datetime
    limits: NoticeLimits
    air: Air | None = None


def decide(
    room: str | None,
    events: Iterable[Event],
    judgements: Sequence[Judgement],
    known: Iterable[Known],
    now_utc: datetime,
    limits: NoticeLimits | None = None,
    *,
    air: Air | None = None,
    others: Iterable[Cause] = (),
) -> list[Action]:
    """Return what to open, to change and to end in one room.

    Parameters
    ----------
    room : str or None
        The room; ``known`` notices of other rooms are left alone. None: the house.
    events : iterable of Event
        The room's events of at least the last `NoticeLimits.news_days`.
    judgements : sequence of Judgement
        The present judgement of each work that hangs there.
    known : iterable of Known
        The open notices, and the ended ones.
    now_utc : datetime
        The present, by the clock.
    limits : NoticeLimits, optional
        The site's own limits.
    air : Air, optional
        The room's readings, by which a notice ends. Without them an event's own end is taken.
    others : iterable of Cause
        Causes found elsewhere: what was seen on a round, a silent house.

    Returns
    -------
    list of Open, Update or End
        At most one for each notice; doing them and asking again gives only updates without
        ``tell``.
    """
    mine = [notice for notice in known if notice.room == room]
    here = Room(room, mine, judgements, now_utc, limits or NoticeLimits(), air)
    found = list(events)
    causes = [*_air(here, found), *others]
    if room is not None:
        causes += silence_causes(room, found, here.limits)
    pairs, past = _paired(causes, here)
    carried = _carry(pairs, here)
    acted = [_act(known_one, cause, here) for known_one, cause in carried]
    actions = [action for action in acted if action is not None]
    told_as_past = _past_actions(past)
    return [*actions, *told_as_past, *_works_actions(actions, here, _last_rise(told_as_past, here))]


def _air(here: Room, events: Sequence[Event]) -> list[Cause]:
    if here.room is None:
        return []
    causes = air_causes(here.room, events, here.limits)
    return [_by_readings(cause, here) for cause in causes if not _is_return(cause, here)]


def _is_return(cause: Cause, here: Room) -> bool:
    """Tell whether a sudden change is only the way back: into the limits, or to before a notice."""
    event = cause.event
    if event is None or not cause.sudden or here.air is None:
        return False
    low, high = here.air.low_rh_pct, here.air.high_rh_pct
    if not low <= event.from_value <= high and low <= event.peak_value <= high:
        return True
    return any(
        notice.rising is not cause.rising
        and (event.peak_value <= notice.level_rh_pct) is notice.rising
        and notice.since_utc < cause.since_utc
        for notice in here.known
        if notice.kind in AIR and notice.ended_utc is None and not math.isnan(notice.level_rh_pct)
    )


def _by_readings(cause: Cause, here: Room) -> Cause:
    """Return a cause of the air with its end as the readings show it, not as the event does."""
    air, limits = here.air, here.limits
    if air is None or cause.event is None:
        return cause
    peak = cause.event.peak_utc
    back = air.record.back_utc(peak, cause.level_rh_pct, rising=cause.rising, hold_h=limits.quiet_h)
    if back is not None:
        return replace(cause, until_utc=back)
    settled = _settled(air, peak, limits) if cause.sudden else None
    return replace(cause, until_utc=settled, settled=settled is not None)


def _settled(air: Air, after_utc: datetime, limits: NoticeLimits) -> datetime | None:
    return air.record.settled_utc(after_utc, air.low_rh_pct, air.high_rh_pct, limits.settled_days)


def passes_half(judgement: Judgement) -> float:
    """Return the probability that decides: of visible waves now, or of lost clearance.

    NaN where waves cannot be told; a clearance that cannot be told (no glazing) does not count.
    """
    visible, clearance = judgement.p_visible_now, judgement.p_clearance
    if math.isnan(visible):
        return clearance if clearance >= HALF else math.nan
    return visible if math.isnan(clearance) else max(visible, clearance)


LISTED = {Listing.LOOK_FIRST: 0, Listing.WATCH: 1, Listing.CANNOT_TELL: 2}


def in_order(judgements: Iterable[Judgement]) -> list[Judgement]:
    """Return the works worth looking at, the most pressing first, the untold ones last."""
    worth = [j for j in judgements if j.listing in LISTED]
    return sorted(worth, key=lambda j: (LISTED[j.listing], j.order_key, -_or_zero(passes_half(j))))


def _or_zero(value: float) -> float:
    return 0.0 if math.isnan(value) else value


Pair = tuple[Known | None, Cause | None]


def _paired(causes: Iterable[Cause], here: Room) -> tuple[list[Pair], list[Cause]]:
    """Match each cause with the notice that tells of it; set the past apart, drop what is told."""
    news = here.now_utc - timedelta(days=here.limits.news_days)
    left = [notice for notice in here.known if notice.kind is not Kind.WORKS]
    pairs: list[Pair] = []
    past: list[Cause] = []
    for cause in causes:
        match = _match(cause, left, here.limits)
        if match is not None:
            left.remove(match)
            pairs.append((match, replace(cause, since_utc=min(cause.since_utc, match.since_utc))))
        elif cause.until_utc is None or (cause.kind in AIR and cause.until_utc >= news):
            pairs.append((None, cause))
        elif _unjudged(cause, here) and not _reported_as_past(cause, here):
            past.append(cause)
    return pairs + [(notice, None) for notice in left if notice.ended_utc is None], past


def _unjudged(cause: Cause, here: Room) -> bool:
    """Tell whether a cause that is long over was never before the eyes of these rules."""
    since = here.air.unjudged_from_utc if here.air is not None else None
    until = cause.until_utc
    return cause.kind in AIR and until is not None and since is not None and until > since


def _reported_as_past(cause: Cause, here: Room) -> bool:
    quiet = timedelta(hours=here.limits.quiet_h)
    spans = [notice.span for notice in here.known if notice.span is not None]
    return any(
        first - quiet <= cause.since_utc and (cause.until_utc or cause.since_utc) <= last + quiet
        for first, last in spans
    )


def _match(cause: Cause, known: Iterable[Known], limits: NoticeLimits) -> Known | None:
    """Return the notice of the same cause: the nearest in its beginning, if any."""
    same = [notice for notice in known if not notice.past and _same(notice, cause, limits)]
    return min(same, key=lambda notice: abs(notice.since_utc - cause.since_utc), default=None)


def _same(notice: Known, cause: Cause, limits: NoticeLimits) -> bool:
    """Tell whether a notice and a cause are one: alike, and overlapping in time."""
    quiet = timedelta(hours=limits.quiet_h)
    if notice.kind is not cause.kind or notice.shape != cause.shape:
        return False
    if cause.kind is Kind.NO_DATA:
        return abs(notice.since_utc - cause.since_utc) < quiet
    if cause.kind is Kind.SEEN:
        return notice.since_utc == cause.since_utc
    begins_in_time = notice.until_utc is None or cause.since_utc - notice.until_utc < quiet
    ends_in_time = cause.until_utc is None or notice.since_utc - cause.until_utc < quiet
    return begins_in_time and ends_in_time


def _carry(pairs: Sequence[Pair], here: Room) -> list[Pair]:
    """Give each pair the works it carries: those it had, and new ones to the newest rise."""
    p, limits = _chances(here), here.limits
    carried = [
        _still_over(known.over_half, p, limits) if known is not None and not known.ended_utc else ()
        for known, _ in pairs
    ]
    told = {w for notice in _open_works(here) for w in _still_over(notice.over_half, p, limits)}
    taken = told.union(*carried)
    newest = max(
        (i for i, (_, cause) in enumerate(pairs) if cause is not None and cause.rising),
        key=lambda i: _since(pairs[i]),
        default=None,
    )
    if newest is not None:
        known = pairs[newest][0]
        if known is None or known.ended_utc is None:
            joined = [w for w, value in p.items() if value >= limits.open_p and w not in taken]
            carried[newest] = (*carried[newest], *joined)
    return [
        (known, cause if cause is None else replace(cause, over_half=works))
        for (known, cause), works in zip(pairs, carried, strict=True)
    ]


def _open_works(here: Room) -> list[Known]:
    return [one for one in here.known if one.kind is Kind.WORKS and one.ended_utc is None]


def _since(pair: Pair) -> datetime:
    known, cause = pair
    if cause is not None:
        return cause.since_utc
    if known is None:
        raise ValueError("a pair of nothing")
    return known.since_utc


def _still_over(
    works: Iterable[str], p: Mapping[str, float], limits: NoticeLimits
) -> tuple[str, ...]:
    """Keep the works that have not come back; one that cannot be told of stays."""
    return tuple(
        work for work in works if work in p and (math.isnan(p[work]) or p[work] >= limits.keep_p)
    )


def _act(known: Known | None, cause: Cause | None, here: Room) -> Action | None:
    if cause is None:
        return _unseen(known, here)
    over = _over(cause, here)
    if known is None:
        return Open(cause, cause.until_utc if over else None)
    if over:
        ended = known.ended_utc is not None
        return None if ended else End(known.notice_id, cause, here.now_utc)
    return Update(known.notice_id, cause, _tell_again(known, cause, here))


def _unseen(known: Known | None, here: Room) -> Action | None:
    """Judge an open notice whose cause is not among what was found: by the readings since then."""
    if known is None:
        return None
    gone = Cause(
        known.kind,
        known.room,
        known.since_utc,
        known.until_utc,
        known.shape,
        over_half=_still_over(known.over_half, _chances(here), here.limits),
        level_rh_pct=known.level_rh_pct,
    )
    if known.kind in AIR and here.air is not None and not math.isnan(known.level_rh_pct):
        return _by_the_record(known, gone, here, here.air)
    until = known.until_utc or here.now_utc
    return End(known.notice_id, replace(gone, until_utc=until), here.now_utc)


def _chances(here: Room) -> dict[str, float]:
    return {judgement.work_id: passes_half(judgement) for judgement in here.judgements}


def _by_the_record(known: Known, gone: Cause, here: Room, air: Air) -> Action:
    level, since, rising = known.level_rh_pct, known.since_utc, known.rising
    if not air.record.was_beyond(since, level, rising=rising):
        withdrawn = replace(gone, until_utc=since, withdrawn=True)
        return End(known.notice_id, withdrawn, here.now_utc)
    back = _last_back(known, here, air)
    settled = None
    if back is None and known.kind is Kind.HUMIDITY:
        settled = _settled(air, since, here.limits)
    until = back or settled
    if until is None:
        return Update(known.notice_id, replace(gone, until_utc=until))
    cause = replace(gone, until_utc=until, settled=settled is not None)
    return End(known.notice_id, cause, here.now_utc)


def _last_back(known: Known, here: Room, air: Air) -> datetime | None:
    """Return when the air was back for good enough, after it had been beyond the level."""
    tail = air.record.rh_pct.loc[known.since_utc :]
    level = known.level_rh_pct
    beyond = tail[tail > level] if known.rising else tail[tail < level]
    return air.record.back_utc(
        beyond.index[0].to_pydatetime(), level, rising=known.rising, hold_h=here.limits.quiet_h
    )


def _over(cause: Cause, here: Room) -> bool:
    if cause.until_utc is None:
        return False
    if cause.kind is Kind.SEEN or (here.air is not None and cause.kind in AIR):
        return True  # somebody looked; the readings have shown it for long enough
    return here.now_utc - cause.until_utc >= timedelta(hours=here.limits.quiet_h)


def _tell_again(known: Known, cause: Cause, here: Room) -> bool:
    if known.ended_utc is not None:
        return True  # it was told as over, and is not
    joined = set(cause.over_half) - set(known.reported_works)
    grown = cause.kind in AIR and cause.size >= known.reported_size + here.limits.again_rh_pct
    if not (joined or grown):
        return False
    again = timedelta(hours=here.limits.again_h)
    return known.reported_utc is None or here.now_utc - known.reported_utc >= again


def _past_actions(past: Sequence[Cause]) -> list[Action]:
    """Tell all that a late file brings as one notice: the most telling cause, and how many more."""
    if not past:
        return []
    main = max(past, key=lambda cause: (cause.kind in SUSTAINED, cause.size))
    first = min(cause.since_utc for cause in past)
    last = max(cause.until_utc for cause in past if cause.until_utc is not None)
    reported = replace(main, past=True, also=len(past) - 1, span=(first, last))
    return [Open(reported, main.until_utc)]


def _last_rise(told_as_past: Iterable[Action], here: Room) -> datetime | None:
    """Return when the last rise began that is told as past, now or by a notice of lately."""
    news = here.now_utc - timedelta(days=here.limits.news_days)
    known = [
        notice.since_utc
        for notice in here.known
        if notice.past and notice.rising and not notice.withdrawn
        if notice.reported_utc is not None and notice.reported_utc >= news
    ]
    found = [action.cause.since_utc for action in told_as_past if action.cause.rising]
    return max([*known, *found], default=None)


def _works_actions(
    actions: Iterable[Action], here: Room, last_rise: datetime | None
) -> list[Action]:
    """Open, change or end the notice of works that no rise still going on explains."""
    if here.room is None:
        return []
    room, limits, now_utc = here.room, here.limits, here.now_utc
    elsewhere, left = _by_rise(actions)
    p = {work: value for work, value in _chances(here).items() if work not in elsewhere}
    notice = next(iter(_open_works(here)), None)
    had = _still_over(notice.over_half, p, limits) if notice is not None else ()
    joined = (w for w, value in p.items() if (value >= limits.open_p or w in left) and w not in had)
    over = (*had, *joined)
    after = notice.after_utc if notice is not None else None
    after = after or max((left[work] for work in over if work in left), default=last_rise)
    if notice is None:
        opened = Cause(Kind.WORKS, room, now_utc, None, over_half=over, after_utc=after)
        return [Open(opened)] if over else []
    until = None if over else now_utc
    cause = Cause(Kind.WORKS, room, notice.since_utc, until, over_half=over, after_utc=after)
    if not over:
        return [End(notice.notice_id, cause, now_utc)]
    return [Update(notice.notice_id, cause, _tell_again(notice, cause, here))]


def _by_rise(actions: Iterable[Action]) -> tuple[set[str], dict[str, datetime]]:
    """Return the works that a rise still carries, and those left by one that is over, since when.

    A work that a rise now over had carried, and that has not come back, goes on being told of.
    """
    elsewhere: set[str] = set()
    left: dict[str, datetime] = {}
    for action in actions:
        over = isinstance(action, End) or (isinstance(action, Open) and action.ended_utc)
        for work in action.cause.over_half:
            if over:
                left[work] = action.cause.since_utc
            else:
                elsewhere.add(work)
    return elsewhere, left
