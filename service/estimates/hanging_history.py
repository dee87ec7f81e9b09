"""Where works hung, and the air they have had since the record began."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.hour_means import RecordHours
from analysis.air.room_air import RoomAir, air_between
from analysis.answers.work_changes import lately
from analysis.errors import NotEnoughError
from analysis.parameters import parameter
from analysis.records.work_records import Hanging
from analysis.results import Change, ChangeAt
from analysis.series import usable
from analysis.simulation.phases import Phase
from analysis.simulation.refusals import mounting_known
from analysis.works import Work
from service.climate.presence import last_usable_utc
from service.climate.room_readings import RoomReadings, empty_frame, full_hour
from service.storage.works import Dated, WorkRecord, as_work, since

HOUR = timedelta(hours=1)


YEAR = timedelta(days=365)


TOGETHER = 16  # works that are judged as one question


ENOUGH_DAYS = 300  # with readings, before a year is taken for measured


@dataclass(frozen=True)
class Stay:
    """A work hung in a room from an instant to another; an open end is None."""

    room: str
    from_utc: datetime | None
    to_utc: datetime | None


@dataclass(frozen=True)
class Companions:
    """Works that have always hung in the same rooms, and so have had the same air.

    ``earlier`` holds the phases before the present one, of works that were mounted, framed or hung
    otherwise.
    """

    stays: tuple[Stay, ...]
    works: tuple[Work, ...]
    earlier: Mapping[str, tuple[Phase, ...]] = field(default_factory=dict)

    @property
    def room(self) -> str:
        """The room in which they hang now."""
        return self.stays[-1].room

    def each(self) -> "list[Companions]":
        """Return the works one by one."""
        return [
            Companions(
                self.stays,
                (work,),
                {key: phases for key, phases in self.earlier.items() if key == work.work_id},
            )
            for work in self.works
        ]


def companions(records: Sequence[WorkRecord], at_utc: datetime) -> tuple[Companions, ...]:
    """Return the works that hang somewhere at a time, grouped by the rooms they have been in.

    Each work is as it is mounted, framed and hung at that time, with its phases before.
    """
    groups: dict[tuple[Stay, ...], list[tuple[Work, tuple[Phase, ...]]]] = {}
    for record in records:
        stays = stays_until(record.hangings, at_utc)
        if stays:
            work, earlier = life_until(record, at_utc)
            groups.setdefault(stays, []).append((work, earlier))
    return tuple(
        Companions(
            stays,
            tuple(work for work, _ in phased),
            {work.work_id: earlier for work, earlier in phased if earlier},
        )
        for stays, phased in groups.items()
    )


def of_one_air(
    groups: Sequence[Companions],
    first_reading: Callable[[str], datetime | None],
    at_utc: datetime,
) -> list[Companions]:
    """Return the groups, those as one whose works all hung there before their room was measured.

    Their air begins with the same reading. No group has more than `TOGETHER` works: so many gain
    what there is to gain, and larger ones are hard to share out.

    Parameters
    ----------
    first_reading : callable
        Room → its first reading; None where there is none, or where dates matter beside it.
    """
    found: dict[tuple[Stay, ...], list[Companions]] = {}
    for group in groups:
        since, begun = group.stays[0].from_utc, first_reading(group.stays[0].room)
        before = since is not None and begun is not None and since <= begun
        if before and not arrival(group.stays, at_utc):
            always = (replace(group.stays[0], from_utc=None), *group.stays[1:])
            found.setdefault(always, []).append(group)
        else:
            found.setdefault(group.stays, []).append(group)
    return [part for stays, alike in found.items() for part in _parts(stays, alike)]


def _parts(stays: tuple[Stay, ...], alike: Sequence[Companions]) -> list[Companions]:
    works = [work for group in alike for work in group.works]
    earlier = {key: phases for group in alike for key, phases in group.earlier.items()}
    parts = -(-len(works) // TOGETHER)
    return [
        Companions(
            stays,
            tuple(works[part::parts]),
            {
                one.work_id: earlier[one.work_id]
                for one in works[part::parts]
                if one.work_id in earlier
            },
        )
        for part in range(parts)
    ]


def stays_until(hangings: Sequence[Hanging], at_utc: datetime) -> tuple[Stay, ...]:
    """Return a work's stays up to a time; nothing where it hangs nowhere then."""
    begun = [h for h in hangings if h.from_utc is None or h.from_utc <= at_utc]
    if not begun or (begun[-1].to_utc is not None and begun[-1].to_utc <= at_utc):
        return ()
    stays: list[Stay] = []
    for hanging in begun:
        stay = Stay(hanging.room, hanging.from_utc, hanging.to_utc)
        if stays and stays[-1].room == stay.room and stays[-1].to_utc == stay.from_utc:
            stay = Stay(stay.room, stays.pop().from_utc, stay.to_utc)
        stays.append(stay)
    return tuple(stays)


def arrival(stays: Sequence[Stay], at_utc: datetime) -> list[ChangeAt]:
    """Return that a work came into its room within the week, or nothing."""
    since = stays[-1].from_utc
    if since is None or not lately(since, at_utc):
        return []
    return [ChangeAt(Change.ARRIVED, "room", since)]


def air_of(stays: Sequence[Stay], readings: Mapping[str, RoomReadings]) -> pd.DataFrame:
    """Return the readings of the rooms a work was in, one after the other.

    Where it was in no room that is measured there are no readings: a gap, not a guess.
    """
    pieces = []
    for stay in stays:
        frame = readings[stay.room].frame
        inside = pd.Series(True, index=frame.index)
        if stay.from_utc is not None:
            inside &= frame.index >= stay.from_utc
        if stay.to_utc is not None:
            inside &= frame.index < stay.to_utc
        pieces.append(frame[inside])
    filled = [piece for piece in pieces if not piece.empty]
    if not filled:
        return empty_frame()
    together = pd.concat(filled).sort_index()
    return together[~together.index.duplicated()]


def checks_of(group: Companions, readings: Mapping[str, RoomReadings]) -> tuple[datetime, ...]:
    """Return when the loggers of a group's rooms were checked, each while it was there."""
    return tuple(
        when
        for stay in group.stays
        for when in readings[stay.room].checked_utc
        if (stay.from_utc is None or stay.from_utc <= when)
        and (stay.to_utc is None or when < stay.to_utc)
    )


def air_of_works(
    group: Companions,
    readings: Mapping[str, RoomReadings],
    at_utc: datetime,
    outdoor: pd.DataFrame | None = None,
) -> RoomAir | None:
    """Return the air of a group's stays by the hour, or None where there is too little.

    The hour at or before the last usable reading before ``at_utc`` is the last.
    """
    alone = readings[group.stays[0].room] if len(group.stays) == 1 else None
    if alone is None or alone.hours is None:
        frame = air_of(group.stays, readings).loc[: pd.Timestamp(at_utc)]
        record = RecordHours.of(frame)
    else:
        frame, record = _within_stay(alone.frame, group.stays[0], at_utc), alone.hours
    if frame.empty:
        return None
    last = last_usable_utc(frame, frame.index[-1].to_pydatetime())
    begun = frame.index[0].to_pydatetime()
    if last is None or full_hour(last) - begun < HOUR:
        return None
    try:
        air = air_between(
            record,
            frame.index[0],
            frame.index[-1],
            start_utc=begun,
            end_utc=last,
            outdoor_temp_c=_outdoors_here(group, readings, outdoor),
            checked_utc=checks_of(group, readings),
            southern=readings[group.room].southern,
        )
    except NotEnoughError:
        return None
    return _anything_where_nobody_measured(group, readings, air)


def _within_stay(frame: pd.DataFrame, stay: Stay, at_utc: datetime) -> pd.DataFrame:
    """Return the readings of one stay up to a time, as `air_of` has them; a view, not a copy."""
    first, last = 0, int(frame.index.searchsorted(pd.Timestamp(at_utc), "right"))
    if stay.from_utc is not None:
        first = int(frame.index.searchsorted(pd.Timestamp(stay.from_utc)))
    if stay.to_utc is not None:
        last = min(last, int(frame.index.searchsorted(pd.Timestamp(stay.to_utc))))
    return frame.iloc[first:last]


def _anything_where_nobody_measured(
    group: Companions, readings: Mapping[str, RoomReadings], air: RoomAir
) -> RoomAir:
    """Return the air, as dry and as damp as it may be in hours away that nobody measured.

    What a room did before says nothing of a lorry.
    """
    least, most = (
        parameter("record_rules", "away", n).value for n in ("least_rh_pct", "most_rh_pct")
    )
    away = np.zeros(len(air.time_utc), dtype=np.bool_)
    for stay in group.stays:
        if readings[stay.room].elsewhere:
            away |= _within(air, stay)
    away &= ~air.measured
    if not away.any():
        return air
    return replace(
        air,
        rh_low_pct=np.where(away, np.minimum(air.rh_low_pct, least), air.rh_low_pct),
        rh_high_pct=np.where(away, np.maximum(air.rh_high_pct, most), air.rh_high_pct),
    )


def _within(air: RoomAir, stay: Stay) -> npt.NDArray[np.bool_]:
    first, last = (
        None if at is None else np.datetime64(int(at.timestamp()), "s")
        for at in (stay.from_utc, stay.to_utc)
    )
    inside = np.ones(len(air.time_utc), dtype=np.bool_)
    if first is not None:
        inside &= air.time_utc >= first
    if last is not None:
        inside &= air.time_utc < last
    return inside


def _outdoors_here(
    group: Companions, readings: Mapping[str, RoomReadings], outdoor: pd.DataFrame | None
) -> pd.Series | None:
    """Return the temperature outdoors while works were in this house; elsewhere it is another."""
    if outdoor is None:
        return None
    temp_c: pd.Series = outdoor["temp_c"]
    for stay in group.stays:
        if readings[stay.room].elsewhere:
            since = outdoor.index[0] if stay.from_utc is None else pd.Timestamp(stay.from_utc)
            until = outdoor.index[-1] if stay.to_utc is None else pd.Timestamp(stay.to_utc)
            temp_c = temp_c.mask((outdoor.index >= since) & (outdoor.index <= until))
    return temp_c


def with_the_year_before(
    group: Companions, readings: Mapping[str, RoomReadings], at_utc: datetime
) -> Companions:
    """Return the group, each work that nobody measured at mounting with its room's year before.

    The room is the first in which the works hung. Where most of that year was not measured, the
    humidity at mounting may be anywhere.
    """
    frame = readings[group.stays[0].room].frame if group.stays else empty_frame()

    def told(work: Work) -> Work:
        mounted = work.mounted_utc
        if mounting_known(work) or mounted is None or mounted > at_utc:
            return work
        return replace(work, year_before_rh_pct=_year_before(frame, mounted))

    return replace(
        group,
        works=tuple(told(work) for work in group.works),
        earlier={
            key: tuple(replace(phase, work=told(phase.work)) for phase in phases)
            for key, phases in group.earlier.items()
        },
    )


def _year_before(frame: pd.DataFrame, mounted: datetime) -> tuple[float, float, float] | None:
    if frame.empty:
        return None
    year = frame.loc[pd.Timestamp(mounted - YEAR) : pd.Timestamp(mounted)]
    rh = usable(year, "rh_pct").dropna()
    days = pd.DatetimeIndex(rh.index).normalize().nunique()
    if days < ENOUGH_DAYS:
        return None
    apart = parameter("hinges", "mounting", "workshop_pct").value
    low, mid, high = (float(one) for one in rh.quantile([0.05, 0.5, 0.95]))
    return max(low - apart, 0.0), mid, min(high + apart, 100.0)


# The register's dated mountings, framings, hangings and measured values → a work's phases.

A_MOMENT = timedelta(seconds=1)


def life_until(record: WorkRecord, at_utc: datetime) -> tuple[Work, tuple[Phase, ...]]:
    """Return a work as it is at a time, and how it was before, oldest first.

    What the register dates after that time is left aside. Dates at which nothing changes that the
    calculations use, as when a work is hung on a wall of the same kind, begin no phase.
    """
    now = as_work(record, at_utc)
    dates = [] if _never_changed(record) else _dates(record, at_utc)
    if not dates:
        return now, ()
    works = [as_work(record, date) for date in [dates[0] - A_MOMENT, *dates[:-1]]]
    phases: list[Phase] = []
    for work, until, following in zip(works, dates, [*works[1:], now], strict=True):
        if work != following:
            phases.append(Phase(work, until))
    return now, tuple(phases)


def _never_changed(record: WorkRecord) -> bool:
    """Whether there is one mounting, framing and hanging at most: before it began it was so too."""
    parts = (record.mountings, record.framings, record.hangings)
    return not record.measured and all(len(items) <= 1 for items in parts)


def _dates(record: WorkRecord, at_utc: datetime) -> list[datetime]:
    """Return when anything about a work began, up to a time, in order."""
    parts: list[Dated] = [*record.mountings, *record.framings, *record.hangings, *record.measured]
    begun = {date for date in map(since, parts) if date is not None}
    return sorted(date for date in begun if date <= at_utc)
