"""What each room's readings reach to, and whether that is as recent as its rhythm promises."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np
import pandas as pd

from analysis.answers.rhythm import due_utc, is_current, proposed_rhythm
from analysis.records.room_records import Place, Rhythm, Room
from analysis.series import usable
from service.storage import loggers, uploads
from service.storage.register import Register
from service.storage.uploads import UploadState

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
    brought = read_outs(register, room.room, now_utc)
    stated = rhythm_stated(room)
    rhythm = stated or rhythm_shown(brought) or USUAL
    return Presence(
        room=room.room,
        known_until_utc=last,
        rhythm=rhythm,
        rhythm_stated=stated is not None,
        current=last is not None and is_current(last, rhythm, now_utc),
        read_out_utc=brought[-1].new_from_utc if brought else None,
    )


def last_usable_utc(frame: pd.DataFrame, now_utc: datetime) -> datetime | None:
    """Return the time of the last reading of humidity up to a time that may be used, or None."""
    times = pd.DatetimeIndex(frame.index)
    known = int(times.searchsorted(pd.Timestamp(now_utc).floor(times.unit), "right"))
    fit = np.flatnonzero(usable(frame.iloc[:known], "rh_pct").notna().to_numpy())
    return frame.index[fit[-1]].to_pydatetime() if len(fit) else None


def rhythm_of(register: Register, room: Room, now_utc: datetime) -> Rhythm | None:
    """Return a room's rhythm as its record says, else as its files show; None: neither does."""
    return rhythm_stated(room) or rhythm_shown(read_outs(register, room.room, now_utc))


def rhythm_stated(room: Room) -> Rhythm | None:
    """Return the rhythm that a room's record says, or None."""
    return next((one for one in Rhythm if one.value == room.rhythm), None)


def rhythm_shown(brought: Sequence[ReadOut]) -> Rhythm | None:
    """Return the rhythm that the gaps between read-outs show, or None."""
    ends = sorted({one.until_utc for one in brought})
    return proposed_rhythm([b - a for a, b in pairwise(ends) if b - a > HOUR])


def read_outs(register: Register, room_id: str, now_utc: datetime) -> list[ReadOut]:
    """Return what each file brought of a room up to a time, in the order in which they came."""
    names = {
        one.logger
        for one in loggers.placements(register)
        if one.room == room_id and one.place == Place.ROOM_AIR
    }
    found: list[ReadOut] = []
    covered: list[tuple[datetime, datetime]] = []
    for first, last in _spans(register, names):
        if first > now_utc:
            continue
        last = min(last, now_utc)
        found.append(ReadOut(_first_new(first, last, covered), last))
        covered.append((first, last))
    return found


def _spans(register: Register, names: Iterable[str]) -> list[tuple[datetime, datetime]]:
    """Return the spans of the stored files of some loggers, in the order in which they came."""
    wanted, spans = set(names), []
    for upload in uploads.uploads(register, states=(UploadState.STORED,)):
        for sensor in upload.report.get("sensors", ()):
            if sensor["logger"] in wanted and sensor["first_utc"] and sensor["last_utc"]:
                ends = (sensor["first_utc"], sensor["last_utc"])
                spans.append((datetime.fromisoformat(ends[0]), datetime.fromisoformat(ends[1])))
    return spans


def _first_new(
    first: datetime, last: datetime, covered: Sequence[tuple[datetime, datetime]]
) -> datetime:
    """Return the first instant of a span that earlier spans do not cover; its end where all do."""
    at = first
    for begin, end in sorted(covered):
        if begin <= at < end:
            at = end
    return min(at, last)
