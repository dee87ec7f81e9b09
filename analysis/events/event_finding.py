"""Events in a room's air: what happened, from when to when, how far, how fast, and likely why.

Kinds: spike, step, above band, below band, warmer than band, colder than band, sustained damp,
sustained dry, 24-hour swing, day–night cycling, no data. Limits are those of
`analysis.events.air_record.EventSettings` and of the band; nothing here says what an event does
to an object.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.time_weights import DAY_S, HOUR_S
from analysis.events.air_record import SUDDEN, USELESS, AirRecord, EventSettings, air_record
from analysis.events.event_cause import AirState, Found, RoomRecord, event_of, mean_state
from analysis.events.excursions import (
    Cycling,
    Run,
    RunRule,
    SwingRun,
    daily_cycling,
    runs,
    swing_runs,
)
from analysis.events.spikes import UPPER_QUARTILE, SuddenChange, sudden_changes
from analysis.results import Band, Cause, Event
from analysis.series import require_readings

Floats = npt.NDArray[np.float64]
Marks = npt.NDArray[np.bool_]

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
ALIKE = 2 / 3  # share of a wide day's size that a step or a cycle must make up to be it

KINDS = (
    "spike",
    "step",
    "above band",
    "below band",
    "warmer than band",
    "colder than band",
    "sustained damp",
    "sustained dry",
    "24-hour swing",
    "day–night cycling",
    "no data",
)
EVENT_COLUMNS = (
    "kind",
    "channel",
    "start_utc",
    "peak_utc",
    "end_utc",
    "from_value",
    "peak_value",
    "size",
    "rate_per_h",
    "area",
    "cause",
    "coverage_pct",
)


def find_events(
    frame: pd.DataFrame,
    *,
    channel: str = "",
    band: Band | None = None,
    zone: str = "UTC",
    outdoor: pd.DataFrame | None = None,
    neighbours: Mapping[str, pd.DataFrame] | None = None,
    settings: EventSettings | None = None,
    until_utc: datetime | None = None,
) -> list[Event]:
    """Return the events of one sensor's record, in order of their start.

    Parameters
    ----------
    frame : pandas.DataFrame
        Readings, flagged (see `analysis.air.quality.flag_readings`).
    channel : str
        Name of the sensor, carried into the events.
    band : Band, optional
        Limits to look for excursions from; the limits themselves are inside.
    zone : str
        IANA zone of the site; decides what a day is.
    outdoor : pandas.DataFrame, optional
        Outdoor readings, to compare moisture.
    neighbours : mapping of name to frame, optional
        Other sensors of the room, to confirm an event.
    settings : EventSettings, optional
        Limits of events.
    until_utc : datetime, optional
        The present: a record that ended well before it is a silence that still lasts.

    Returns
    -------
    list of Event
        A wide day that is a step, or one of a cycle of days, is told once, as that.
        ``size`` is the peak less the value it started from, with its sign; ``rate_per_h`` the
        fastest change in one hour, of means over half an hour, on the way there; ``area`` what
        lies beyond the starting value over time, in unit·h; NaN where a figure has no meaning.
    """
    require_readings(frame, read="readings for events")
    settings = settings or EventSettings()
    sudden_and_calm = air_record(frame)
    if len(sudden_and_calm) < 2:
        return []
    changes = sudden_changes(sudden_and_calm, settings)
    room = RoomRecord(
        channel=channel,
        zone=zone,
        settings=settings,
        record=sudden_and_calm,
        calm=sudden_and_calm.without(_sudden(sudden_and_calm, changes)),
        outdoor=None if outdoor is None else air_record(outdoor),
        neighbours={name: air_record(other) for name, other in (neighbours or {}).items()},
    )
    events = [_sudden_event(room, change) for change in changes]
    events += _band_events(room, frame, band) if band else []
    cycling = _cycling_events(room)
    events += cycling + _lasting_events(room)
    events += _steps_unseen(room)
    events += [swing for swing in _swing_events(room) if not _reported_already(swing, events)]
    events += _silences(room, frame) + _silence_until(room, until_utc)
    return sorted(events, key=lambda event: (event.start_utc, KINDS.index(event.kind)))


def events_frame(events: Sequence[Event]) -> pd.DataFrame:
    """Return events as a table with the columns `EVENT_COLUMNS`."""
    rows = [{name: getattr(event, name) for name in EVENT_COLUMNS} for event in events]
    return pd.DataFrame(rows, columns=list(EVENT_COLUMNS))


def _sudden(record: AirRecord, changes: list[SuddenChange]) -> Marks:
    """Mark what belongs to a spike, and single odd readings: other kinds leave both out."""
    marks: Marks = (record.flags & int(SUDDEN)) != 0
    for change in changes:
        if change.kind == "spike":
            marks[change.first + 1 : change.last] = True
    return marks


def _sudden_event(room: RoomRecord, change: SuddenChange) -> Event:
    record = room.record
    sign = np.sign(change.peak_rh_pct - change.from_rh_pct)
    places = slice(change.first, change.last + 1)
    beyond = np.clip(sign * (record.rh_pct[places] - change.from_rh_pct), 0.0, None)
    spike = change.kind == "spike"
    found = Found(
        kind=change.kind,
        first=change.first,
        peak=change.peak,
        last=change.last,
        from_value=change.from_rh_pct,
        peak_value=change.peak_rh_pct,
        area=float((beyond * record.width_s[places]).sum()) / HOUR_S if spike else float("nan"),
        over=change.over,
        before=mean_state(record, record.at_s[change.first] - HOUR_S, record.at_s[change.first]),
        after=AirState(float(record.temp_c[change.peak]), float(record.rh_pct[change.peak])),
        end_s=change.end_s,
    )
    return event_of(room, record, found)


def _band_events(room: RoomRecord, frame: pd.DataFrame, band: Band) -> list[Event]:
    settings = room.settings
    width = settings.hysteresis_rh_pct
    events = _outside(room, "above band", band.high_rh_pct, 1, width)
    events += _outside(room, "below band", band.low_rh_pct, -1, width)
    temperature = air_record(frame.assign(rh_pct=frame["temp_c"]), USELESS)
    warmth = RoomRecord(room.channel, room.zone, settings, temperature, temperature)
    for kind, limit, direction in (
        ("warmer than band", band.high_temp_c, 1),
        ("colder than band", band.low_temp_c, -1),
    ):
        if limit is not None:
            events += _outside(warmth, kind, limit, direction, settings.hysteresis_temp_c)
    return events


def _outside(
    room: RoomRecord, kind: str, limit: float, direction: int, width: float
) -> list[Event]:
    settings = room.settings
    rule = RunRule(
        merge_s=settings.merge_gap_h * HOUR_S,
        break_s=room.record.gap_s,
        least_readings=int(settings.least_readings),
    )
    return _runs_beyond(room, room.record, kind, limit, direction, width, rule)


def _lasting_events(room: RoomRecord) -> list[Event]:
    settings = room.settings
    events: list[Event] = []
    for kind, limit, direction, hours in (
        ("sustained damp", settings.damp_rh_pct, 1, settings.damp_h),
        ("sustained dry", settings.dry_rh_pct, -1, settings.dry_h),
    ):
        rule = RunRule(
            merge_s=settings.lasting_merge_gap_h * HOUR_S,
            break_s=room.calm.gap_s,
            least_s=hours * HOUR_S,
        )
        events += _runs_beyond(
            room, room.calm, kind, limit, direction, settings.hysteresis_rh_pct, rule
        )
    return events


def _runs_beyond(
    room: RoomRecord,
    record: AirRecord,
    kind: str,
    limit: float,
    direction: int,
    hysteresis: float,
    rule: RunRule,
) -> list[Event]:
    excess = direction * (record.rh_pct - limit)
    found = runs(record.at_s, excess > 0.0, excess > -hysteresis, rule)
    area = np.clip(excess, 0.0, None) * record.width_s / HOUR_S
    return [
        event_of(room, record, _beyond(record, run, kind, limit, excess, area)) for run in found
    ]


def _beyond(
    record: AirRecord, run: Run, kind: str, limit: float, excess: Floats, area: Floats
) -> Found:
    places = slice(run.first, run.last + 1)
    peak = run.first + int(np.argmax(excess[places]))
    start_s = record.at_s[run.first]
    return Found(
        kind=kind,
        first=run.first,
        peak=peak,
        last=run.last,
        from_value=limit,
        peak_value=float(record.rh_pct[peak]),
        area=float(area[places].sum()),
        over=run.last + 1 < len(record),
        before=mean_state(record, start_s - DAY_S, start_s - 1.0),
        after=AirState(float(record.temp_c[peak]), float(record.rh_pct[peak])),
    )


def _reported_already(swing: Event, events: Sequence[Event]) -> bool:
    """Whether a wide day is a step, a day of a cycle or the end of a spike, told as that."""
    for event in events:
        if event.kind == "step":
            within = swing.start_utc - HOUR <= event.start_utc <= swing.peak_utc
            brief = swing.end_utc - swing.start_utc <= 2 * DAY
            same = event.size * swing.size > 0.0 and abs(event.size) >= ALIKE * abs(swing.size)
        elif event.kind == "day–night cycling":
            within = event.start_utc <= swing.start_utc and swing.end_utc <= event.end_utc
            brief, same = True, ALIKE * abs(swing.size) <= abs(event.size)
        elif event.kind == "spike":
            within = event.start_utc <= swing.start_utc <= event.end_utc + HOUR
            brief = swing.end_utc - swing.start_utc <= DAY
            past = np.sign(swing.size) * (swing.peak_value - event.from_value)
            same = event.size * swing.size < 0.0 and past < abs(event.size) / 4.0
        else:
            continue
        if within and brief and same:
            return True
    return False


def _swing_events(room: RoomRecord) -> list[Event]:
    found = swing_runs(room.calm, room.settings)
    return [event_of(room, room.calm, _swing(room.calm, run)) for run in found]


def _swing(calm: AirRecord, run: SwingRun) -> Found:
    early, late = run.earlier, run.later
    return Found(
        kind="24-hour swing",
        first=run.first,
        peak=late,
        last=run.last,
        from_value=float(calm.rh_pct[early]),
        peak_value=float(calm.rh_pct[late]),
        area=float("nan"),
        over=run.over,
        before=AirState(float(calm.temp_c[early]), float(calm.rh_pct[early])),
        after=AirState(float(calm.temp_c[late]), float(calm.rh_pct[late])),
    )


def _cycling_events(room: RoomRecord) -> list[Event]:
    found = daily_cycling(room.calm, room.zone, room.settings)
    return [event_of(room, room.calm, _cycling(room.calm, stretch)) for stretch in found]


def _cycling(calm: AirRecord, stretch: Cycling) -> Found:
    return Found(
        kind="day–night cycling",
        first=stretch.first,
        peak=stretch.peak,
        last=stretch.last,
        from_value=stretch.low[1],
        peak_value=stretch.high[1],
        area=float("nan"),
        over=calm.at_s[-1] - calm.at_s[stretch.last] > DAY_S,
        before=AirState(*stretch.low),
        after=AirState(*stretch.high),
    )


def _silences(room: RoomRecord, frame: pd.DataFrame) -> list[Event]:
    """Return stretches without a usable reading; readings in doubt there point to the sensor."""
    record = room.record
    events = []
    for place in np.flatnonzero(np.diff(record.at_s) > record.gap_s).tolist():
        start, end = record.when(place), record.when(place + 1)
        between = frame["rh_pct"][(frame.index > start) & (frame.index < end)]
        cause = Cause.SENSOR if between.notna().any() else Cause.UNKNOWN
        events.append(_silence(room, place, end, cause, over=True))
    return events


def _steps_unseen(room: RoomRecord) -> list[Event]:
    """Return steps that came about while no reading was taken: the plant failed in a silence.

    The air after it is measured against the day before it, as a spike is; a silence longer than
    some days, or air that was not measured long enough on both sides, says nothing of a step.
    """
    record, settings = room.record, room.settings
    gaps_h = np.diff(record.at_s) / HOUR_S
    wide = (gaps_h > settings.spike_slow_rise_h) & (gaps_h <= settings.unseen_longest_h)
    found = (_step_unseen(room, place) for place in np.flatnonzero(wide).tolist())
    return [event for event in found if event is not None]


def _step_unseen(room: RoomRecord, place: int) -> Event | None:
    record, settings = room.record, room.settings
    at_s, least_s = record.at_s, settings.unseen_least_h * HOUR_S
    begin = record.place(at_s[place] - settings.spike_trailing_h * HOUR_S)
    end = record.place(at_s[place + 1] + settings.spike_trailing_h * HOUR_S)
    if at_s[place] - at_s[begin] < least_s or at_s[end - 1] - at_s[place + 1] < least_s:
        return None
    before, after = record.rh_pct[begin : place + 1], record.rh_pct[place + 1 : end]
    from_value, level = float(np.median(before)), float(np.median(after))
    edge = float(np.quantile(before, UPPER_QUARTILE if level > from_value else 1 - UPPER_QUARTILE))
    if abs(level - edge) < settings.spike_rh_pct or (level - edge) * (edge - from_value) < 0.0:
        return None
    reached = np.sign(level - from_value) * (after - level) >= 0.0
    step = Found(
        kind="step",
        first=place,
        peak=place + 1 + int(np.argmax(reached)),
        last=place + 1 + int(np.argmax(reached)),
        from_value=from_value,
        peak_value=level,
        area=float("nan"),
        over=True,
        before=mean_state(record, at_s[begin], at_s[place]),
        after=mean_state(record, at_s[place + 1], at_s[end - 1]),
    )
    return event_of(room, record, step)


def _silence_until(room: RoomRecord, until_utc: datetime | None) -> list[Event]:
    last = len(room.record) - 1
    if until_utc is None:
        return []
    if (until_utc - room.record.when(last)).total_seconds() <= room.record.gap_s:
        return []
    return [_silence(room, last, until_utc, Cause.UNKNOWN, over=False)]


def _silence(room: RoomRecord, place: int, end: datetime, cause: Cause, *, over: bool) -> Event:
    start = room.record.when(place)
    return Event(
        kind="no data",
        channel=room.channel,
        start_utc=start,
        peak_utc=start,
        end_utc=end,
        from_value=float(room.record.rh_pct[place]),
        peak_value=float("nan"),
        size=float("nan"),
        rate_per_h=float("nan"),
        area=float("nan"),
        cause=str(cause),
        coverage_pct=0.0,
        over=over,
    )
