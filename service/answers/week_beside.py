"""A room's week beside the same week of last year, or beside the air outdoors."""

from dataclasses import replace

import pandas as pd

from analysis.results import Beside, RoomWeek
from service.answers.museum import Museum
from service.answers.room_weeks import with_dew_point
from service.climate.weeks import week_span, year_before


def week_beside(museum: Museum, room_id: str, iso_week: str, beside: Beside) -> RoomWeek:
    """Return a room's week with the readings it is to be drawn beside, or without any."""
    week = museum.room_week(room_id, iso_week)
    if beside is Beside.WEEK:
        return week
    found = _year_before(museum, week) if beside is Beside.YEAR else _outdoors(museum, week)
    return replace(week, beside=beside, before=None if found is None or found.empty else found)


def _year_before(museum: Museum, week: RoomWeek) -> pd.DataFrame:
    start, end = week_span(year_before(week.iso_week), museum.zone)
    frame = museum.readings_around(week.room_id, start, end).frame
    found = frame[(frame.index >= pd.Timestamp(start)) & (frame.index < pd.Timestamp(end))]
    return found.set_axis(found.index + (week.start_utc - start))


def _outdoors(museum: Museum, week: RoomWeek) -> pd.DataFrame | None:
    frame = museum.outdoor()
    if frame is None:
        return None
    first, last = pd.Timestamp(week.start_utc), pd.Timestamp(week.end_utc)
    return with_dew_point(frame[(frame.index >= first) & (frame.index < last)])
