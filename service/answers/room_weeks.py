"""One room's week put together: readings, band, events, works, and the line on data quality."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime

import numpy as np
import pandas as pd

from analysis.air.coverage import coverage
from analysis.air.moist_air import dew_point_c
from analysis.records.room_records import AgreedBand, Room, Site
from analysis.results import HISTORY_ARRAYS, Event, History, Planned, RoomWeek
from analysis.series import usable
from dashboards.text import wording
from dashboards.text.messages import _
from service.climate.room_events import agreed
from service.climate.room_instruments import checked_words
from service.climate.room_readings import RoomReadings
from service.climate.weeks import shifted, week_span
from service.estimates.assessments import Assessed
from service.storage.loggers import logger_named, loggers
from service.storage.places import calendar
from service.storage.stores import Stores


def build_room_week(
    *,
    room: Room,
    site: Site,
    iso_week: str,
    span: tuple[datetime, datetime],
    readings: RoomReadings,
    band: AgreedBand | None,
    events: Sequence[Event],
    assessed: Sequence[Assessed],
    stores: Stores,
) -> RoomWeek:
    """Return one gallery's week for its chart, its sheet and its page."""
    start, end = span
    inside = readings.frame.loc[pd.Timestamp(start) : pd.Timestamp(end)]
    inside = inside[inside.index < pd.Timestamp(end)]
    names = [n for n, f in readings.by_logger.items() if _touches(f, start, end)]
    return RoomWeek(
        room_id=room.room,
        room_name=room.name,
        zone=site.zone,
        iso_week=iso_week,
        start_utc=start,
        end_utc=end,
        readings=with_dew_point(inside),
        band=agreed(band),
        events=events,
        works={one.work.work_id: one.work for one in assessed},
        histories={
            one.work.work_id: within(one.history, start, end)
            for one in assessed
            if one.history is not None
        },
        judgements=[one.judgement for one in assessed],
        coverage=coverage(inside, start, end),
        loggers=_logger_words(stores, names, readings.stood_in_h(start, end)),
        calibration=checked_words(stores, names, end, site.zone),
        clock=_clock_words(stores, names),
        planned=[
            Planned(one.title, one.from_utc, one.to_utc)
            for one in calendar(stores.register, room.room, start, end)
        ],
        before=_week_before(readings.frame, iso_week, start, site.zone),
    )


def _week_before(
    frame: pd.DataFrame, iso_week: str, start_utc: datetime, zone: str
) -> pd.DataFrame | None:
    """Return the readings of the week before, moved on by a week; None where there are none."""
    earlier = pd.Timestamp(week_span(shifted(iso_week, -1), zone)[0])
    found = frame[(frame.index >= earlier) & (frame.index < pd.Timestamp(start_utc))]
    return None if found.empty else found.set_axis(found.index + (start_utc - earlier))


def cut_to(one: Assessed, start_utc: datetime, end_utc: datetime) -> Assessed:
    """Return what was found of a work, with its hours within a span alone."""
    history = None if one.history is None else within(one.history, start_utc, end_utc)
    return replace(one, history=history)


def within(history: History, start_utc: datetime, end_utc: datetime) -> History:
    """Return a history cut to a span of time."""
    first, last = (np.datetime64(int(t.timestamp()), "s") for t in (start_utc, end_utc))
    times = history.time_utc.astype("datetime64[s]")
    keep = (times >= first) & (times <= last)
    arrays = {name: getattr(history, name)[keep] for name in HISTORY_ARRAYS}
    return replace(history, **arrays)


def with_dew_point(frame: pd.DataFrame) -> pd.DataFrame:
    """Return readings with their dew point beside them [°C]."""
    rh = usable(frame, "rh_pct").clip(upper=100.0)
    return frame.assign(dew_point_c=dew_point_c(usable(frame, "temp_c"), rh))


def _touches(frame: pd.DataFrame, start_utc: datetime, end_utc: datetime) -> bool:
    return not frame.loc[pd.Timestamp(start_utc) : pd.Timestamp(end_utc)].empty


def _logger_words(
    stores: Stores, names: Sequence[str], stood_in_h: Mapping[str, float]
) -> list[str]:
    """Return the loggers of a week, one that stood in with the time for which it did."""
    shown = {one.logger: one.shown for one in loggers(stores.register)}
    stood_in = {
        n: _(" (stood in for {hours})", hours=wording.duration(hours))
        for n, hours in stood_in_h.items()
    }
    return [f"{shown.get(name, name)}{stood_in.get(name, '')}" for name in names]


def _clock_words(stores: Stores, names: Sequence[str]) -> str:
    known = [logger_named(stores.register, name) for name in names]
    zones = sorted({logger.zone for logger in known if logger is not None and logger.zone})
    return _("clock: {zones}", zones=wording.listed(zones)) if zones else _("clock not declared")
