"""Where works hung, and the air they have had since the record began."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import pandas as pd

from analysis.works import Work
from service.room_readings import RoomReadings, empty_frame
from service.storage.works import Hanging, WorkRecord, as_work


@dataclass(frozen=True)
class Stay:
    """A work hung in a room from an instant to another; an open end is None."""

    room: str
    from_utc: datetime | None
    to_utc: datetime | None


@dataclass(frozen=True)
class Companions:
    """Works that have always hung in the same rooms, and so have had the same air."""

    stays: tuple[Stay, ...]
    works: tuple[Work, ...]

    @property
    def room(self) -> str:
        """The room in which they hang now."""
        return self.stays[-1].room


def companions(records: Sequence[WorkRecord], at_utc: datetime) -> tuple[Companions, ...]:
    """Return the works that hang somewhere at a time, grouped by the rooms they have been in.

    The mount, the frame and the wall are those of the time asked for.
    """
    groups: dict[tuple[Stay, ...], list[Work]] = {}
    for record in records:
        stays = stays_until(record.hangings, at_utc)
        if stays:
            groups.setdefault(stays, []).append(as_work(record, at_utc))
    return tuple(Companions(stays, tuple(works)) for stays, works in groups.items())


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
