"""Rooms against agreed and published limits, as the lines of a page."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import pandas as pd

from analysis.errors import StilltautError
from analysis.limits.comparison import room_and_spread
from analysis.limits.limit_rules import Judging
from analysis.limits.published_limits import Limit, band_limit, published_limits
from analysis.limits.verdict import Outcome, judge
from analysis.records.room_records import Room
from dashboards.lines import LimitGroup, LimitLine
from dashboards.text import wording
from dashboards.text.air_report import verdict_lines
from dashboards.text.error_words import error_words
from dashboards.text.limit_text import basis_words, edition_words, limit_name, verdict_words
from dashboards.text.messages import N_, _, translated
from service.answers.museum import Museum
from service.climate.room_events import agreed
from service.climate.room_instruments import uncertainty
from service.storage import places

# What a loan, a lender or a report asks for most often; the others stand by group.
COMMON = (
    "green_protocol_2023",
    "en15757_2010",
    "class_aa",
    "class_a1",
    "class_a2",
    "class_b",
)
GROUPS = {
    "loan protocol": N_("Loans"),
    "climate class": N_("Climate classes"),
    "storage standard": N_("Storage"),
    "historic climate": N_("The room’s own past"),
}
# Fourteen months: the longest record that a published limit asks for is of thirteen.
RECORD = timedelta(days=426)


@dataclass(frozen=True)
class JudgedAir:
    """A room's air as it is held against limits."""

    room: Room
    frame: pd.DataFrame
    how: Judging
    words: str
    uncertainty_rh_pct: float | None
    uncertainty_temp_c: float | None
    loggers: Sequence[str] = ()


def limit_lines(museum: Museum) -> list[LimitLine]:
    """Return one line a room and limit: its own band first, then the common published ones."""
    return [line for room in museum.rooms() for line in room_limit_lines(museum, room.room)]


def room_limit_lines(museum: Museum, room_id: str) -> list[LimitLine]:
    """Return one room's lines: its own band first, then the common published limits."""
    now = museum.now()
    band = agreed(places.band_at(museum.stores.register, room_id, now))
    own = [band_limit(band)] if band is not None else []
    known = published_limits()
    return _lines(museum, room_id, [*own, *(known[name] for name in COMMON)])


def more_limits(museum: Museum, room_id: str) -> list[LimitGroup]:
    """Return one room against every other published limit, by group."""
    rest = [limit for key, limit in published_limits().items() if key not in COMMON]
    named = {
        g: [one for one in rest if one.group == g] for g in dict.fromkeys(r.group for r in rest)
    }
    return [
        LimitGroup(_(GROUPS.get(group, wording.capital(group))), _lines(museum, room_id, limits))
        for group, limits in named.items()
    ]


def first_judged(museum: Museum) -> datetime | None:
    """Return where the record begins that is held against limits."""
    first = museum.first()
    return None if first is None else max(first, museum.now() - RECORD)


def _lines(museum: Museum, room_id: str, limits: Iterable[Limit]) -> list[LimitLine]:
    air = museum.cached(("judged air", room_id), lambda: _judged_air(museum, room_id))
    return [_line_or_why(museum, air, limit) for limit in limits]


def _line_or_why(museum: Museum, air: JudgedAir, limit: Limit) -> LimitLine:
    try:
        return _line(museum, air, limit)
    except StilltautError as problem:
        return _cannot_tell(air.room, limit, problem)


def _judged_air(museum: Museum, room_id: str) -> JudgedAir:
    """Return a room's last fourteen months."""
    now = museum.now()
    return judged_air(museum, room_id, first_judged(museum) or now, museum.clock())


def judged_air(museum: Museum, room_id: str, start_utc: datetime, end_utc: datetime) -> JudgedAir:
    """Return a room's air over a period; of several loggers their mean, with their spread."""
    readings = museum.readings(room_id)
    every = {n: _within(f, start_utc, end_utc) for n, f in readings.by_logger.items()}
    loggers = {n: f for n, f in every.items() if len(f)}
    frame, how, words = _within(readings.frame, start_utc, end_utc), Judging(), ""
    if len(loggers) > 1:
        frame, how = room_and_spread(loggers)
        words = _(
            " Hourly means of {loggers}; their spread counts.",
            loggers=wording.listed(list(loggers)),
        )
    last = min(end_utc, museum.now())
    rh, temp = (
        uncertainty(museum.stores, loggers, channel, last) for channel in ("rh_pct", "temp_c")
    )
    return JudgedAir(museum.room(room_id), frame, how, words, rh, temp, tuple(loggers))


def _within(frame: pd.DataFrame, start_utc: datetime, end_utc: datetime) -> pd.DataFrame:
    return frame[(frame.index >= start_utc) & (frame.index < end_utc)]


def _line(museum: Museum, air: JudgedAir, limit: Limit) -> LimitLine:
    verdict = judge(
        limit,
        air.frame,
        museum.zone,
        uncertainty_rh_pct=air.uncertainty_rh_pct,
        uncertainty_temp_c=air.uncertainty_temp_c,
        how=air.how,
    )
    said, basis = verdict_lines(verdict, museum.zone)[1:], basis_words(verdict)
    said = said[: said.index(basis)] + ([translated(limit.note)] if limit.note else [])
    return LimitLine(
        room_id=air.room.room,
        room_name=air.room.name,
        limit=limit_name(limit),
        edition=edition_words(limit),
        verdict=verdict_words(verdict),
        sentence=" ".join(said),
        basis=basis + air.words,
        verified=limit.verified,
        source=limit.source,
        outside_pct=verdict.shares.outside_pct,
        longest_outside_h=verdict.longest_run.hours,
        outcome=verdict.outcome,
    )


def _cannot_tell(room: Room, limit: Limit, problem: StilltautError) -> LimitLine:
    return LimitLine(
        room_id=room.room,
        room_name=room.name,
        limit=limit_name(limit),
        edition=edition_words(limit),
        verdict=_(Outcome.CANNOT_TELL.value),
        sentence=_(
            "Found {found}, needed {expected}. {action}",
            found=error_words(problem.found),
            expected=error_words(problem.expected),
            action=error_words(problem.action),
        ),
        basis="",
        verified=limit.verified,
        source=limit.source,
    )
