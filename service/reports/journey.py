"""A work's journeys: out of the house in a crate, to another house, and back, as one line.

Every hour is judged as all others are, with the air it really had: that of its room, then of the
logger in the crate, then of the room there. Hours that nobody measured are told as such.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.coverage import coverage, silences
from analysis.air.time_weights import cells, time_percentiles
from analysis.parameters import parameter
from analysis.records.room_records import Place, Room
from analysis.records.work_records import Hanging
from analysis.results import History, Judgement
from analysis.series import usable
from analysis.works import Work
from dashboards.text.reports import journey_text as text
from dashboards.text.reports.journey_text import StayWords
from service.answers.museum import Museum
from service.answers.room_weeks import within
from service.climate.room_readings import full_hour
from service.estimates.hanging_history import HOUR, Stay, air_of
from service.storage import places
from service.storage.loggers import placements_in
from service.storage.works import as_work, work_record

HALF = 0.5
LEAST_GAP_H = 2.0  # a shorter silence is not worth a line of its own
AT_HOME = timedelta(days=3)  # so much of the own room is shown before and after
UNTOLD = "no readings"
CHANCES = ("p_slack", "p_visible", "p_clearance", "p_hinges")


@dataclass(frozen=True)
class Journey:
    """One journey of a work.

    Parameters
    ----------
    stays : sequence of Hanging
        Those away, in order, with the one before and the one after cut to `AT_HOME`.
    said : sequence of StayWords
        What is said of each of them.
    until_utc : datetime
        Up to when it is told: some days after it was back, or now.
    over : bool
        Whether it is back.
    readings : pandas.DataFrame
        The air it had, as `analysis.series`.
    history : History or None
        Hour by hour; hours that nobody measured are refused. None: nothing can be told.
    judgement : Judgement
        At ``until_utc``.
    """

    work: Work
    stays: Sequence[Hanging]
    said: Sequence[StayWords]
    since_utc: datetime
    until_utc: datetime
    over: bool
    readings: pd.DataFrame
    history: History | None
    judgement: Judgement

    @property
    def away(self) -> list[StayWords]:
        """What is said of the stays away from home."""
        return [one for one in self.said if one.kind != "home"]


def journeys(museum: Museum, work_id: str) -> tuple[Journey, ...]:
    """Return the journeys of a work, newest first.

    Raises
    ------
    UnknownNameError
        If the register knows no such work.
    """
    name = ("journeys", work_id, museum.now())
    return museum.cached(name, lambda: _journeys(museum, work_id))


def _journeys(museum: Museum, work_id: str) -> tuple[Journey, ...]:
    record = work_record(museum.stores.register, work_id)
    now, away = museum.clock(), museum.away()
    hung = [one for one in record.hangings if one.from_utc is None or one.from_utc <= now]
    made = []
    for first, last in _runs([one.room in away for one in hung]):
        begun = hung[first].from_utc
        if begun is not None:
            before = hung[max(first - 1, 0) : first]
            parts = (before, hung[first : last + 1], hung[last + 1 :])
            made.append(_journey(museum, work_id, begun, parts))
    return tuple(reversed(made))


def _runs(away: Sequence[bool]) -> list[tuple[int, int]]:
    """Return first and last place of each run of stays away."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], np.asarray(away, dtype=int), [0]])))
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _journey(
    museum: Museum, work_id: str, begun_utc: datetime, parts: tuple[Sequence[Hanging], ...]
) -> Journey:
    """Return one journey from its stays: before it, away, after it."""
    before, away, after = parts
    ended = away[-1].to_utc
    since = begun_utc - AT_HOME
    until = min(museum.now(), full_hour((ended or museum.clock()) + AT_HOME))
    stays = [*(_cut(one, since, until) for one in before), *away]
    stays += [_cut(one, since, until) for one in after[:1]]
    found = next(iter(museum.assessed_over(until, since, [work_id])), None)
    frames = {one.room: museum.readings(one.room) for one in stays}
    spans = [Stay(one.room, one.from_utc, one.to_utc) for one in stays]
    readings = air_of(spans, frames).loc[pd.Timestamp(since) : pd.Timestamp(until)]
    gaps = {one.from_utc: _gaps(one, readings, since, until) for one in stays}
    every = [gap for some in gaps.values() for gap in some]
    history = None
    if found is not None and found.history is not None and found.known_until_utc is not None:
        history = _told(within(found.history, since, until), every, found.known_until_utc)
    kinds = _Kinds(museum)
    said = [kinds.said(one, readings, history, gaps[one.from_utc], since, until) for one in stays]
    record = work_record(museum.stores.register, work_id)
    judged = museum.judged(work_id, until).judgement if found is None else found.judgement
    return Journey(
        work=as_work(record, until),
        stays=stays,
        said=said,
        since_utc=since,
        until_utc=until,
        over=ended is not None and (bool(after) or ended <= museum.clock()),
        readings=readings,
        history=history,
        judgement=judged,
    )


def _cut(stay: Hanging, since_utc: datetime, until_utc: datetime) -> Hanging:
    """Return a stay at home cut to what is shown of it."""
    begin = since_utc if stay.from_utc is None else max(since_utc, stay.from_utc)
    end = until_utc if stay.to_utc is None else min(until_utc, stay.to_utc)
    return replace(stay, from_utc=begin, to_utc=end)


def _ends(stay: Hanging, since_utc: datetime, until_utc: datetime) -> tuple[datetime, datetime]:
    begin = max(since_utc, stay.from_utc or since_utc)
    return begin, max(begin, min(until_utc, stay.to_utc or until_utc))


def _gaps(
    stay: Hanging, readings: pd.DataFrame, since_utc: datetime, until_utc: datetime
) -> list[tuple[datetime, datetime]]:
    begin, end = _ends(stay, since_utc, until_utc)
    here = readings[(readings.index >= begin) & (readings.index < end)]
    return silences(here, begin, end, least_h=LEAST_GAP_H) if begin < end else []


def _told(
    history: History, gaps: Sequence[tuple[datetime, datetime]], known_until_utc: datetime
) -> History:
    """Return a history whose hours that nobody measured are refused."""
    times = history.time_utc.astype("datetime64[s]")
    untold = times > _second(known_until_utc)
    for first, last in gaps:
        untold |= (times > _second(first)) & (times <= _second(last))
    refused = np.where(untold & (history.refused == ""), UNTOLD, history.refused)
    chances: dict[str, Any] = {
        name: np.where(untold, np.nan, getattr(history, name)) for name in CHANCES
    }
    return replace(history, refused=refused, **chances)


def _second(at_utc: datetime) -> np.datetime64:
    return np.datetime64(int(at_utc.timestamp()), "s")


class _Kinds:
    """What each stay is: at home, in a crate, in another house; and what is said of it."""

    def __init__(self, museum: Museum) -> None:
        self._register = museum.stores.register
        self._away = museum.away()
        self._rooms = {room.room: room for room in museum.every_room()}

    def said(
        self,
        stay: Hanging,
        readings: pd.DataFrame,
        history: History | None,
        gaps: Sequence[tuple[datetime, datetime]],
        since_utc: datetime,
        until_utc: datetime,
    ) -> StayWords:
        """Return the figures of a stay."""
        begin, end = _ends(stay, since_utc, until_utc)
        room = self._rooms[stay.room]
        told, hours = _told_hours(history, begin, end)
        chances = np.empty(0) if history is None else history.p_visible[told]
        print_rh = np.empty((0, 3)) if history is None else history.print_rh_pct[told]
        return StayWords(
            name=room.name,
            kind=self._kind(room),
            from_utc=begin,
            to_utc=None if stay.to_utc is None else end,
            measured_pct=coverage(readings, begin, end).valid_pct if begin < end else 0.0,
            air_rh_pct=_points(readings, begin, end),
            print_rh_pct=_reach(print_rh),
            waves_h=int((chances > HALF).sum()),
            highest=float(chances.max()) if len(chances) else float("nan"),
            untold_h=hours - int(told.sum()),
            gaps=gaps,
            any_logger=bool(placements_in(self._register, stay.room, begin, end, Place.ROOM_AIR)),
        )

    def _kind(self, room: Room) -> str:
        if room.room not in self._away:
            return "home"
        return "crate" if room.crate else "away"


def _told_hours(
    history: History | None, begin: datetime, end: datetime
) -> tuple[npt.NDArray[np.bool_], int]:
    hours = max(0, int((end - begin) / HOUR))
    if history is None:
        return np.zeros(0, dtype=np.bool_), hours
    times = history.time_utc.astype("datetime64[s]")
    inside = (times > _second(begin)) & (times <= _second(end))
    told = inside & (history.refused == "") & np.isfinite(history.p_visible)
    return np.asarray(told), max(hours, int(inside.sum()))


def _points(readings: pd.DataFrame, begin: datetime, end: datetime) -> tuple[float, float]:
    """Return the 5 and 95 % points of the humidity of a span by time."""
    here = readings[(readings.index >= begin) & (readings.index < end)]
    rh = usable(here, "rh_pct").dropna()
    width_s = cells(pd.DatetimeIndex(rh.index)).width_s
    low, high = time_percentiles(rh.to_numpy(), width_s, (5.0, 95.0))
    return float(low), float(high)


def _reach(print_rh_pct: npt.NDArray[np.float64]) -> tuple[float, float]:
    """Return the lowest low and the highest high end of the humidity at the print."""
    if not np.isfinite(print_rh_pct).any():
        return float("nan"), float("nan")
    return float(np.nanmin(print_rh_pct[:, 0])), float(np.nanmax(print_rh_pct[:, 2]))


def journey_sentences(museum: Museum, found: Journey) -> list[str]:
    """Return what happened to its crates, and what nobody measured, a sentence each."""
    said = []
    usual_h = parameter("record_rules", "away", "rest").value
    for place, (stay, words) in enumerate(zip(found.stays, found.said, strict=True)):
        if words.kind != "crate":
            continue
        name = words.name
        times = [("packed", stay.from_utc), ("left", stay.left_utc),
                 ("arrived", stay.arrived_utc), ("opened", stay.opened_utc),
                 ("unpacked", stay.to_utc)]  # fmt: skip
        said.append(text.passage_words(name, times, museum.zone, _zone_after(museum, found, place)))
        if stay.arrived_utc is not None and stay.opened_utc is not None:
            rested_h = (stay.opened_utc - stay.arrived_utc) / HOUR
            said.append(text.rest_words(name, rested_h, usual_h))
    return said + [line for one in found.said for line in text.gap_sentences(one, museum.zone)]


def _zone_after(museum: Museum, found: Journey, place: int) -> str:
    """Return the zone of where a crate went, where it is not this house's."""
    after = found.stays[place + 1 : place + 2]
    if not after:
        return ""
    zone = places.site_of(museum.stores.register, after[0].room).zone
    return "" if zone == museum.zone else zone


def answer_of(found: Journey) -> str:
    """Return what a journey was for its work, in one sentence."""
    away = found.away
    known = [one.highest for one in away if one.highest == one.highest]
    return text.journey_answer(
        found.said,
        found.over,
        sum(one.untold_h for one in away),
        sum(one.waves_h for one in away),
        max(known, default=float("nan")),
    )
