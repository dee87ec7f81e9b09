"""What to tell and when: one notice a cause, updated while it goes on, ended when it is over.

Pure: the room's events, the judgements of its works and the notices already known go in; what to
open, to change and to end comes out. `service.notices.causes` says what belongs together,
`service.notices.state` writes down what is decided here.

A **cause** is one of three: the room's *humidity* (a spike, or a long excursion from the agreed
band, whichever sensors saw it), its *works* (prints whose probability of visible waves or of lost
clearance passes one half, where no rise of humidity explains it) and *no data* (silence is not
safety). Works that pass one half while a rise is told of belong to that notice.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from analysis.results import Event, Judgement, Listing
from service.notices.causes import (
    HALF,
    Cause,
    Kind,
    NoticeLimits,
    humidity_causes,
    silence_causes,
)


@dataclass(frozen=True)
class Known:
    """A notice in the register, open or ended lately, as far as the rules need it."""

    notice_id: int
    kind: Kind
    room: str
    since_utc: datetime
    until_utc: datetime | None
    shape: str = ""
    ended_utc: datetime | None = None
    over_half: tuple[str, ...] = ()
    told_utc: datetime | None = None
    told_size: float = 0.0
    told_works: tuple[str, ...] = ()


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


def decide(
    room: str,
    events: Iterable[Event],
    judgements: Sequence[Judgement],
    known: Iterable[Known],
    now_utc: datetime,
    limits: NoticeLimits | None = None,
) -> list[Action]:
    """Return what to open, to change and to end in one room.

    Parameters
    ----------
    room : str
        The room; ``known`` notices of other rooms are left alone.
    events : iterable of Event
        The room's events of at least the last `NoticeLimits.news_days`.
    judgements : sequence of Judgement
        The present judgement of each work that hangs there.
    known : iterable of Known
        The open notices, and those that ended within the time the events cover.
    now_utc : datetime
        The present, or the time of the newest reading for a record of the past.
    limits : NoticeLimits, optional
        The site's own limits.

    Returns
    -------
    list of Open, Update or End
        At most one for each notice; doing them and asking again gives only updates without
        ``tell``.
    """
    limits = limits or NoticeLimits()
    mine = [notice for notice in known if notice.room == room]
    told = list(events)
    causes = [*humidity_causes(room, told, limits), *silence_causes(room, told, limits)]
    pairs = _paired(causes, mine, limits, now_utc)
    carried = _carry(pairs, judgements, limits)
    actions = [_act(known_one, cause, now_utc, limits) for known_one, cause in carried]
    return [
        *(action for action in actions if action is not None),
        *_works_actions(room, mine, carried, judgements, now_utc, limits),
    ]


def passes_half(judgement: Judgement) -> float:
    """Return the probability that decides: of visible waves now, or of lost clearance.

    NaN where waves cannot be told; a clearance that cannot be told (no glazing) does not count.
    """
    visible, clearance = judgement.p_visible_now, judgement.p_clearance
    if math.isnan(visible):
        return clearance if clearance >= HALF else math.nan
    return visible if math.isnan(clearance) else max(visible, clearance)


def in_order(judgements: Iterable[Judgement]) -> list[Judgement]:
    """Return the works worth looking at, the most pressing first."""
    rank = {Listing.LOOK_FIRST: 0, Listing.WATCH: 1}
    worth = [j for j in judgements if j.listing in rank]
    return sorted(worth, key=lambda j: (rank[j.listing], j.order_key, -_or_zero(passes_half(j))))


def _or_zero(value: float) -> float:
    return 0.0 if math.isnan(value) else value


Pair = tuple[Known | None, Cause | None]


def _paired(
    causes: Iterable[Cause], known: Iterable[Known], limits: NoticeLimits, now_utc: datetime
) -> list[Pair]:
    """Match each cause with the notice that tells of it; drop what is history."""
    news = now_utc - timedelta(days=limits.news_days)
    left = [notice for notice in known if notice.kind is not Kind.WORKS]
    pairs: list[Pair] = []
    for cause in causes:
        match = _match(cause, left, limits)
        if match is not None:
            left.remove(match)
            pairs.append((match, replace(cause, since_utc=min(cause.since_utc, match.since_utc))))
        elif cause.until_utc is None or (cause.sudden and cause.until_utc >= news):
            pairs.append((None, cause))
    return pairs + [(notice, None) for notice in left if notice.ended_utc is None]


def _match(cause: Cause, known: Iterable[Known], limits: NoticeLimits) -> Known | None:
    """Return the notice of the same cause: the nearest in its beginning, if any."""
    same = [notice for notice in known if _same(notice, cause, limits)]
    return min(same, key=lambda notice: abs(notice.since_utc - cause.since_utc), default=None)


def _same(notice: Known, cause: Cause, limits: NoticeLimits) -> bool:
    """Tell whether a notice and a cause are one: alike, and overlapping in time."""
    quiet = timedelta(hours=limits.quiet_h)
    if notice.kind is not cause.kind or notice.shape != cause.shape:
        return False
    if cause.kind is Kind.NO_DATA:
        return abs(notice.since_utc - cause.since_utc) < quiet
    begins_in_time = notice.until_utc is None or cause.since_utc - notice.until_utc < quiet
    ends_in_time = cause.until_utc is None or notice.since_utc - cause.until_utc < quiet
    return begins_in_time and ends_in_time


def _carry(
    pairs: Sequence[Pair], judgements: Sequence[Judgement], limits: NoticeLimits
) -> list[Pair]:
    """Give each pair the works it carries: those it had, and new ones to the newest rise."""
    p = {judgement.work_id: passes_half(judgement) for judgement in judgements}
    kept = [
        _still_over(known.over_half, p, limits) if known is not None else () for known, _ in pairs
    ]
    taken = {work for works in kept for work in works}
    newest = max(
        (i for i, (_, cause) in enumerate(pairs) if cause is not None and cause.rising),
        key=lambda i: _since(pairs[i]),
        default=None,
    )
    if newest is not None:
        known = pairs[newest][0]
        if known is None or known.ended_utc is None:
            joined = [w for w, value in p.items() if value >= limits.open_p and w not in taken]
            kept[newest] = (*kept[newest], *joined)
    return [
        (known, cause if cause is None else replace(cause, over_half=works))
        for (known, cause), works in zip(pairs, kept, strict=True)
    ]


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


def _act(
    known: Known | None, cause: Cause | None, now_utc: datetime, limits: NoticeLimits
) -> Action | None:
    if cause is None:
        return _gone(known, now_utc)
    over = _over(cause, now_utc, limits)
    if known is None:
        return Open(cause, cause.until_utc if over else None)
    if over:
        return None if known.ended_utc is not None else End(known.notice_id, cause, now_utc)
    return Update(known.notice_id, cause, _tell_again(known, cause, now_utc, limits))


def _gone(known: Known | None, now_utc: datetime) -> Action | None:
    """End a notice whose cause is no longer found in the readings."""
    if known is None:
        return None
    until = known.until_utc or now_utc
    gone = Cause(known.kind, known.room, known.since_utc, until, known.shape)
    return End(known.notice_id, gone, now_utc)


def _over(cause: Cause, now_utc: datetime, limits: NoticeLimits) -> bool:
    if cause.until_utc is None or cause.over_half:
        return False
    return now_utc - cause.until_utc >= timedelta(hours=limits.quiet_h)


def _tell_again(known: Known, cause: Cause, now_utc: datetime, limits: NoticeLimits) -> bool:
    joined = set(cause.over_half) - set(known.told_works)
    grown = cause.kind is Kind.HUMIDITY and cause.size >= known.told_size + limits.again_rh_pct
    if not (joined or grown):
        return False
    return known.told_utc is None or now_utc - known.told_utc >= timedelta(hours=limits.again_h)


def _works_actions(
    room: str,
    known: Iterable[Known],
    carried: Iterable[Pair],
    judgements: Sequence[Judgement],
    now_utc: datetime,
    limits: NoticeLimits,
) -> list[Action]:
    """Open, change or end the notice of works that no rise of humidity explains."""
    elsewhere = {work for _, cause in carried if cause is not None for work in cause.over_half}
    p = {j.work_id: passes_half(j) for j in judgements if j.work_id not in elsewhere}
    notice = next((n for n in known if n.kind is Kind.WORKS and n.ended_utc is None), None)
    kept = _still_over(notice.over_half, p, limits) if notice is not None else ()
    joined = tuple(w for w, value in p.items() if value >= limits.open_p and w not in kept)
    over = (*kept, *joined)
    if notice is None:
        return [Open(Cause(Kind.WORKS, room, now_utc, None, over_half=over))] if over else []
    cause = Cause(Kind.WORKS, room, notice.since_utc, None if over else now_utc, over_half=over)
    if not over:
        return [End(notice.notice_id, cause, now_utc)]
    return [Update(notice.notice_id, cause, _tell_again(notice, cause, now_utc, limits))]
