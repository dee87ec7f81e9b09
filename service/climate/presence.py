"""What each room's readings reach to, and whether that is as recent as its rhythm promises."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np
import pandas as pd

from analysis.answers.rhythm import due_utc, is_current, proposed_rhythm
from analysis.records.room_records import Place, Rhythm, Room
from analysis.series import usable
from service.storage.loggers import placements
from service.storage.register import Register
from service.storage.uploads import Brought, brought

HOUR = timedelta(hours=1)
# Where neither a person nor the files have said how often a room is read.
USUAL = Rhythm.WEEKLY


@dataclass(frozen=True)
class ReadOut:
    """What one file brought of a room: from its first reading that was new to its last."""

    new_from_utc: datetime
    until_utc: datetime


@dataclass(frozen=True)
class Presence:
    """A room's readings at a time.

    Parameters
    ----------
    known_until_utc : datetime or None
        The last reading that may be used; None where there is none.
    rhythm : Rhythm
        As the room's record says, else as proposed from the files, else weekly.
    rhythm_stated : bool
        Whether the room's record says it.
    current : bool
        Whether the readings are within their rhythm and its grace.
    read_out_utc : datetime or None
        From when on the latest file told anything new.
    """

    room: str
    known_until_utc: datetime | None
    rhythm: Rhythm
    rhythm_stated: bool
    current: bool
    read_out_utc: datetime | None = None

    @property
    def due_utc(self) -> datetime | None:
        """When the next read-out is due; None where there is no reading yet."""
        last = self.known_until_utc
        return None if last is None else due_utc(last, self.rhythm)


def presence(register: Register, room: Room, frame: pd.DataFrame, now_utc: datetime) -> Presence:
    """Return what a room's readings reach to at a time.

    Parameters
    ----------
    frame : pandas.DataFrame
        The room's readings, `service.climate.room_readings.RoomReadings.frame`.
    """
    last = last_usable_utc(frame, now_utc)
    came = read_outs(register, room.room, now_utc)
    stated = rhythm_stated(room)
    rhythm = stated or rhythm_shown(came) or USUAL
    return Presence(
        room=room.room,
        known_until_utc=last,
        rhythm=rhythm,
        rhythm_stated=stated is not None,
        current=last is not None and is_current(last, rhythm, now_utc),
        read_out_utc=came[-1].new_from_utc if came else None,
    )


def last_usable_utc(frame: pd.DataFrame, now_utc: datetime) -> datetime | None:
    """Return the time of the last reading of humidity up to a time that may be used, or None."""
    times = pd.DatetimeIndex(frame.index)
    known = int(times.searchsorted(pd.Timestamp(now_utc).floor(times.unit), "right"))
    fit = np.flatnonzero(usable(frame.iloc[:known], "rh_pct").notna().to_numpy())
    return frame.index[fit[-1]].to_pydatetime() if len(fit) else None


def rhythms(
    register: Register, rooms: Sequence[Room], now_utc: datetime
) -> dict[str, Rhythm | None]:
    """Return by room its rhythm as its record says, else as its files show; None: neither does.

    All files are gone through once, however many rooms there are.
    """
    found = {one.room: rhythm_stated(one) for one in rooms}
    untold = {room for room, rhythm in found.items() if rhythm is None}
    holding: defaultdict[str, set[str]] = defaultdict(set)
    for one in placements(register):
        if one.room in untold and one.place == Place.ROOM_AIR:
            holding[one.logger].add(one.room)
    files: defaultdict[str, list[Brought]] = defaultdict(list)
    for file in brought(register) if holding else ():
        for room in holding.get(file.logger, ()):
            files[room].append(file)
    return found | {room: rhythm_shown(_read_outs(files[room], now_utc)) for room in untold}


def rhythm_stated(room: Room) -> Rhythm | None:
    """Return the rhythm that a room's record says, or None."""
    return next((one for one in Rhythm if one.value == room.rhythm), None)


def rhythm_shown(came: Sequence[ReadOut]) -> Rhythm | None:
    """Return the rhythm that the gaps between read-outs show, or None."""
    ends = sorted({one.until_utc for one in came})
    return proposed_rhythm([b - a for a, b in pairwise(ends) if b - a > HOUR])


def read_outs(register: Register, room_id: str, now_utc: datetime) -> list[ReadOut]:
    """Return what each file brought of a room up to a time, in the order in which they came."""
    names = {
        one.logger
        for one in placements(register)
        if one.room == room_id and one.place == Place.ROOM_AIR
    }
    return _read_outs(brought(register, names), now_utc)


def _read_outs(files: Iterable[Brought], now_utc: datetime) -> list[ReadOut]:
    found: list[ReadOut] = []
    covered: list[tuple[datetime, datetime]] = []
    for one in files:
        if one.first_utc > now_utc:
            continue
        last = min(one.last_utc, now_utc)
        found.append(ReadOut(_first_new(one.first_utc, last, covered), last))
        covered.append((one.first_utc, last))
    return found


def _first_new(
    first: datetime, last: datetime, covered: Sequence[tuple[datetime, datetime]]
) -> datetime:
    """Return the first instant of a span that earlier spans do not cover; its end where all do."""
    at = first
    for begin, end in sorted(covered):
        if begin <= at < end:
            at = end
    return min(at, last)
