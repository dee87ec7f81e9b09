"""The readings of a room's air: each logger corrected, flagged, and one standing in for another.

Stored readings are never changed here. Where the first logger of a room says nothing usable, the
next one's readings stand in, and the result says for how long.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.hour_means import RecordHours
from analysis.air.quality import flag_disagreeing, flag_readings
from analysis.air.time_weights import HOUR_S, cells
from analysis.instruments.calibration import apply_calibration
from analysis.records.room_records import Place, Placement
from analysis.series import readings_frame, usable
from service.climate.kept_months import flagged_record, record_hours
from service.storage import loggers, places
from service.storage.loggers import layers
from service.storage.spans import reach, spans
from service.storage.stores import Stores

# A hole longer than this is filled from another logger of the same room, if there is one.
STAND_IN_AFTER_S = 5400
# Of two that differ nobody can say which one is right.
FEWEST_TO_DISAGREE = 3
A_MOMENT = timedelta(milliseconds=1)


@dataclass(frozen=True)
class RoomReadings:
    """A room's air as it can be used, and where it came from.

    Parameters
    ----------
    frame : pandas.DataFrame
        Readings as `analysis.series.readings_frame`, corrected and flagged.
    by_logger : mapping of str to pandas.DataFrame
        Each logger of the room by itself, in the order in which they are trusted.
    stood_in : mapping of str to pandas.DatetimeIndex
        Logger → times of its readings that stand in for those of the loggers before it.
    checked_utc : tuple of datetime
        When its loggers' humidity was compared with a reference: their drift begins anew there.
    southern : bool
        Whether its house is south of the equator.
    elsewhere : bool
        Whether it is a crate, or a room of a house that borrows.
    hours : RecordHours, optional
        The hours of all of ``frame``, and perhaps of readings after it, where they are at hand.
    rests_on : sequence of mapping of str to str
        For each piece of the whole record, month → a name for all that its flags rest on; empty
        where the record was cut.
    """

    room_id: str
    frame: pd.DataFrame
    by_logger: Mapping[str, pd.DataFrame] = field(default_factory=dict)
    stood_in: Mapping[str, pd.DatetimeIndex] = field(default_factory=dict)
    checked_utc: tuple[datetime, ...] = ()
    southern: bool = False
    elsewhere: bool = False
    hours: RecordHours | None = None
    rests_on: Sequence[Mapping[str, str]] = ()

    def with_hours(self, stores: Stores) -> "RoomReadings":
        """Return the same with the hours of its record at hand.

        Where three loggers or more are held against each other, a month does not tell them alone.
        """
        if self.frame.empty:
            return self
        if self.rests_on and len(self.by_logger) < FEWEST_TO_DISAGREE:
            hours = record_hours(stores, self.room_id, self.frame, self.rests_on)
        else:
            hours = RecordHours.of(self.frame)
        return replace(self, hours=hours)

    def stood_in_h(
        self, start_utc: datetime | None = None, end_utc: datetime | None = None
    ) -> dict[str, float]:
        """Return for how many hours of a span each logger stood in; those that never did not."""
        hours = {}
        for name, times in self.stood_in.items():
            inside = np.ones(len(times), dtype=np.bool_)
            if start_utc is not None:
                inside &= np.asarray(times >= pd.Timestamp(start_utc))
            if end_utc is not None:
                inside &= np.asarray(times < pd.Timestamp(end_utc))
            if inside.any():
                hours[name] = float(cells(times).width_s[inside].sum()) / HOUR_S
        return hours

    def until(self, end_utc: datetime) -> "RoomReadings":
        """Return the readings up to a time; itself where there are none later."""
        end = pd.Timestamp(end_utc)
        frames = (self.frame, *self.by_logger.values())
        if all(frame.empty or frame.index[-1] <= end for frame in frames):
            return self
        return replace(
            self,
            frame=self.frame.loc[:end],
            by_logger={name: frame.loc[:end] for name, frame in self.by_logger.items()},
            stood_in={name: times[times <= end] for name, times in self.stood_in.items()},
            checked_utc=tuple(when for when in self.checked_utc if when <= end_utc),
        )


def empty_frame() -> pd.DataFrame:
    """Return readings without a single reading."""
    return readings_frame(pd.DatetimeIndex([], tz="UTC"))


def room_readings(
    stores: Stores,
    room_id: str,
    start_utc: datetime | None = None,
    end_utc: datetime | None = None,
) -> RoomReadings:
    """Return the readings of a room's air over a span of time.

    Raises
    ------
    UnknownNameError
        If the register knows no such room.
    """
    room = places.room_named(stores.register, room_id)
    hung = loggers.placements_in(stores.register, room_id, start_utc, end_utc)
    by_logger, rests_on = _flagged(stores, hung, start_utc, end_utc)
    frame, stood_in = _together(by_logger)
    heard = dict.fromkeys([*list(by_logger)[:1], *stood_in])
    return RoomReadings(
        room_id,
        frame,
        by_logger,
        stood_in,
        _checked(stores, heard),
        places.is_southern(stores.register, room.site),
        room_id in places.away_rooms(stores.register),
        rests_on=rests_on,
    )


def _checked(stores: Stores, names: Iterable[str]) -> tuple[datetime, ...]:
    """Return when the humidity of every one of some loggers was checked, in order.

    Where loggers stand in for one another, a check of one says nothing of the others.
    """
    dates = [
        {
            one.from_utc
            for one in loggers.calibrations(stores.register, name)
            if one.channel == "rh_pct" and one.from_utc is not None
        }
        for name in names
    ]
    return tuple(sorted(set.intersection(*dates))) if dates else ()


def outdoor_readings(
    stores: Stores,
    site: str,
    start_utc: datetime | None = None,
    end_utc: datetime | None = None,
) -> pd.DataFrame | None:
    """Return the readings of a site's outdoor logger, or None where there is none."""
    rooms = [room.room for room in places.rooms(stores.register) if room.site == site]
    hung = [
        placement
        for room in rooms
        for placement in loggers.placements_in(
            stores.register, room, start_utc, end_utc, Place.OUTDOORS
        )
    ]
    frame, _ = _together(_flagged(stores, hung, start_utc, end_utc)[0])
    return None if frame.empty else frame


def placed_readings(
    stores: Stores,
    placement: Placement,
    start_utc: datetime | None = None,
    end_utc: datetime | None = None,
) -> pd.DataFrame:
    """Return the readings of one logger where it was placed, corrected and flagged."""
    found, _ = _flagged(stores, [placement], start_utc, end_utc)
    return found.get(placement.logger, empty_frame())


def first_reading_utc(stores: Stores) -> datetime | None:
    """Return the time of the oldest reading of any logger, or None for an empty store."""
    return min((first for first, _ in reach(stores.register).values()), default=None)


def room_reach(stores: Stores, room_id: str) -> tuple[datetime, datetime] | None:
    """Return the first and the last reading of a room's own air, or None where there is none.

    It is told from the spans in the register; a month is opened only where a logger was hung or
    taken down within it.
    """
    found = [
        ends
        for hung in loggers.placements_in(stores.register, room_id)
        for ends in _placed_reach(stores, hung)
    ]
    return (min(found), max(found)) if found else None


def _placed_reach(stores: Stores, hung: Placement) -> list[datetime]:
    """Return the first and last reading of a logger where it hung; empty where there is none."""
    begin, end = hung.from_utc, hung.to_utc
    months = [
        span
        for span in spans(stores.register, hung.logger)
        if span.rows
        and (begin is None or span.last_utc >= begin)
        and (end is None or span.first_utc < end)
    ]
    ends: list[datetime] = []
    for span in [*months[:1], *months[1:][-1:]]:
        if (begin is None or span.first_utc >= begin) and (end is None or span.last_utc < end):
            ends += [span.first_utc, span.last_utc]
            continue
        first = span.first_utc if begin is None else max(begin, span.first_utc)
        last = span.last_utc + A_MOMENT if end is None else min(end, span.last_utc + A_MOMENT)
        times = stores.readings.load(hung.logger, first, last).index
        ends += [times[0].to_pydatetime(), times[-1].to_pydatetime()] if len(times) else []
    return ends


def _flagged(
    stores: Stores,
    hung: Sequence[Placement],
    start_utc: datetime | None,
    end_utc: datetime | None,
) -> tuple[dict[str, pd.DataFrame], list[dict[str, str]]]:
    """Return each logger's readings, and of whole pieces of record what their flags rest on."""
    pieces: dict[str, list[pd.DataFrame]] = {}
    rests_on: list[dict[str, str]] = []
    for placement in hung:
        begin = _later(placement.from_utc, start_utc)
        end = _earlier(placement.to_utc, end_utc)
        stored = stores.readings.load(placement.logger, begin, end)
        if stored.empty:
            continue
        stored = apply_calibration(stored, layers(stores.register, placement.logger))
        if start_utc is None and end_utc is None:
            flagged, names = flagged_record(stores, placement, stored)
            rests_on.append(names)
        else:
            flagged = flag_readings(stored, started_utc=placement.from_utc)
        pieces.setdefault(placement.logger, []).append(flagged)
    joined = {name for name, parts in pieces.items() if len(parts) > 1}
    alone = {name: _one_record(parts) for name, parts in pieces.items()}
    return _against_each_other(alone, joined), rests_on


def _one_record(parts: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Return the pieces of one logger's record as one, each instant once."""
    if len(parts) == 1:
        return parts[0]
    whole = pd.concat(parts).sort_index()
    return whole[~whole.index.duplicated()]


def _against_each_other(
    alone: Mapping[str, pd.DataFrame], joined: Collection[str]
) -> dict[str, pd.DataFrame]:
    """Mark the sensor that disagrees, where there are enough neighbours to say which one.

    A record ``joined`` of several pieces is looked at anew as a whole.
    """
    if len(alone) < FEWEST_TO_DISAGREE:
        return dict(alone)
    found = {}
    for name, frame in alone.items():
        others = {other: f for other, f in alone.items() if other != name}
        if name in joined:
            found[name] = flag_readings(frame, neighbours=others, started_utc=_long_ago(frame))
        else:
            found[name] = flag_disagreeing(frame, others)
    return found


def _long_ago(frame: pd.DataFrame) -> datetime:
    """Return a start far before the record: the warm-up was looked for already."""
    first: datetime = frame.index[0].to_pydatetime()
    return first - timedelta(days=3650)


def _together(
    by_logger: Mapping[str, pd.DataFrame],
) -> tuple[pd.DataFrame, dict[str, pd.DatetimeIndex]]:
    """Lay the loggers over each other: the first counts, others fill its silences."""
    result: pd.DataFrame | None = None
    stood_in: dict[str, pd.DatetimeIndex] = {}
    for name, frame in by_logger.items():
        if result is None:
            result = frame
            continue
        missing = frame[_far_from(frame, result)]
        fit = missing[usable(missing, "rh_pct").notna().to_numpy()]
        if fit.empty:
            continue
        stood_in[name] = pd.DatetimeIndex(fit.index)
        kept = result[~result.index.isin(fit.index)]
        result = pd.concat([kept, fit]).sort_index()
    return (empty_frame() if result is None else result), stood_in


def _far_from(frame: pd.DataFrame, other: pd.DataFrame) -> npt.NDArray[np.bool_]:
    """Return which rows of a frame lie in a silence of another."""
    there = _seconds(other.index[usable(other, "rh_pct").notna().to_numpy()])
    at = _seconds(frame.index)
    if len(there) == 0:
        return np.ones(len(at), dtype=np.bool_)
    after = np.minimum(np.searchsorted(there, at), len(there) - 1)
    before = np.maximum(after - 1, 0)
    nearest_s = np.minimum(np.abs(there[after] - at), np.abs(at - there[before]))
    return np.asarray(nearest_s > STAND_IN_AFTER_S, dtype=np.bool_)


def _seconds(index: pd.Index) -> npt.NDArray[np.int64]:
    return pd.DatetimeIndex(index).as_unit("s").asi8


def _later(a: datetime | None, b: datetime | None) -> datetime | None:
    given = [time for time in (a, b) if time is not None]
    return max(given) if given else None


def _earlier(a: datetime | None, b: datetime | None) -> datetime | None:
    given = [time for time in (a, b) if time is not None]
    return min(given) if given else None


def full_hour(time: datetime) -> datetime:
    """Return the last full hour at or before a time, in UTC."""
    return time.astimezone(UTC).replace(minute=0, second=0, microsecond=0)
