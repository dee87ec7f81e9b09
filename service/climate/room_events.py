"""The events in a room's air over a span of time, each with the sensors that saw it."""

from datetime import datetime, timedelta

import pandas as pd

from analysis.events.event_finding import find_events
from analysis.records.room_records import AgreedBand
from analysis.results import Band, Event
from analysis.series import usable
from service.climate.room_readings import RoomReadings


def room_events(
    readings: RoomReadings,
    start_utc: datetime,
    end_utc: datetime,
    *,
    before: timedelta,
    zone: str,
    band: AgreedBand | None = None,
    outdoor: pd.DataFrame | None = None,
) -> tuple[Event, ...]:
    """Return the events that touch a span, found with ``before`` of air in front of it.

    A room from which nothing usable has come for a while at the end of the span has an event
    "no data" that is not over, however long ago its last reading was.
    """
    last = pd.Timestamp(end_utc)
    first = _first(readings.frame, pd.Timestamp(start_utc), last) - before
    frame = readings.frame.loc[first:last]
    if frame.empty:
        return ()
    names = list(readings.by_logger)
    found = find_events(
        frame,
        channel=names[0],
        band=agreed(band),
        zone=zone,
        outdoor=None if outdoor is None else outdoor.loc[first:last],
        neighbours={name: readings.by_logger[name].loc[first:last] for name in names[1:]},
        until_utc=end_utc,
    )
    return tuple(event for event in found if event.end_utc >= start_utc or not event.over)


def _first(frame: pd.DataFrame, start: pd.Timestamp, last: pd.Timestamp) -> pd.Timestamp:
    """Return the start of the span, or the last usable reading where that was earlier."""
    usable_rh = usable(frame.loc[:last], "rh_pct").dropna()
    return start if usable_rh.empty else min(start, usable_rh.index[-1])


def agreed(band: AgreedBand | None) -> Band | None:
    """Return the register's band as calculations take it; None where RH has no limits."""
    if band is None or band.rh_low_pct is None or band.rh_high_pct is None:
        return None
    return Band(
        name=band.band_name,
        low_rh_pct=band.rh_low_pct,
        high_rh_pct=band.rh_high_pct,
        owner=band.band_owner,
        since="" if band.band_since is None else f"{band.band_since:%Y-%m-%d}",
        review="" if band.band_review is None else f"{band.band_review:%Y-%m-%d}",
        low_temp_c=band.temp_low_c,
        high_temp_c=band.temp_high_c,
    )
