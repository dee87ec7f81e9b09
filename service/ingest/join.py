"""Temperature and humidity kept in two files, joined by time."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from analysis.series import readings_frame, sample_interval_s
from service.errors import remark
from service.ingest.read import FileReading
from service.ingest.understanding import TimeUnderstanding, Understanding


def joined(readings: Sequence[FileReading]) -> list[FileReading]:
    """Return readings with each lone temperature joined to the lone humidity of its time.

    Parameters
    ----------
    readings : sequence of FileReading
        Files of one logger, as given together.

    Returns
    -------
    list of FileReading
        A pair becomes one; whatever holds both quantities, or finds no partner, stays as it is.
        Times that only one of a pair has are kept, with the other quantity missing.
    """
    rest = list(readings)
    for first in list(readings):
        partner = next((other for other in rest if _pair(first, other)), None)
        if partner is not None and any(first is reading for reading in rest):
            place = min(_place(rest, first), _place(rest, partner))
            rest = [r for r in rest if r is not first and r is not partner]
            rest.insert(place, _join(first, partner))
    return rest


def _place(readings: Sequence[FileReading], wanted: FileReading) -> int:
    return next(i for i, reading in enumerate(readings) if reading is wanted)


def _quantities(reading: FileReading) -> set[str]:
    return {channel.quantity for channel in reading.understanding.channels}


def _pair(first: FileReading, other: FileReading) -> bool:
    """Return whether one holds only temperature and the other only humidity, of like sensors."""
    halves = [_quantities(first) & {"temp_c", "rh_pct"}, _quantities(other) & {"temp_c", "rh_pct"}]
    apart = halves in ([{"temp_c"}, {"rh_pct"}], [{"rh_pct"}, {"temp_c"}])
    zones = first.understanding.time.zone == other.understanding.time.zone
    return apart and zones and set(first.sensors) == set(other.sensors)


def _join(first: FileReading, other: FileReading) -> FileReading:
    warm, damp = (first, other) if "temp_c" in _quantities(first) else (other, first)
    sensors = {label: _merged(warm.sensors[label], damp.sensors[label]) for label in warm.sensors}
    extras = {
        label: pd.concat([warm.extras[label], damp.extras[label]], axis=1).reindex(frame.index)
        for label, frame in sensors.items()
    }
    understanding = _understood(warm.understanding, damp.understanding, sensors)
    return FileReading(understanding, sensors, extras, warm.choice)


def _merged(warm: pd.DataFrame, damp: pd.DataFrame) -> pd.DataFrame:
    """Return the temperature of one frame beside the humidity of another; flags are united."""
    index = warm.index.union(damp.index)
    flags = np.zeros(len(index), np.int32)
    for frame in (warm, damp):
        flags |= frame["flags"].reindex(index, fill_value=0).to_numpy()
    temp_c, rh_pct = warm["temp_c"].reindex(index), damp["rh_pct"].reindex(index)
    times = pd.DatetimeIndex(index)
    return readings_frame(times, temp_c=temp_c, rh_pct=rh_pct, flags=flags)


def _understood(
    warm: Understanding, damp: Understanding, sensors: dict[str, pd.DataFrame]
) -> Understanding:
    """Return the two understandings as one; problems name the file they are in."""
    alone = sum(int(f[["temp_c", "rh_pct"]].isna().any(axis=1).sum()) for f in sensors.values())
    notes = [f"{seen.file}: {note}" for seen in (warm, damp) for note in seen.notes]
    notes.append(
        remark(
            f"Temperature from {warm.file} and humidity from {damp.file} are joined by time; "
            f"{alone} times have only one of the two."
        )
    )
    return replace(
        warm,
        file=f"{warm.file} + {damp.file}",
        sha256=f"{warm.sha256} + {damp.sha256}",
        time=_time(warm.time, damp.time, list(sensors.values())),
        channels=warm.channels + damp.channels,
        rows=warm.rows + damp.rows,
        problems=tuple(
            replace(problem, column=": ".join(filter(None, (seen.file, problem.column))))
            for seen in (warm, damp)
            for problem in seen.problems
        ),
        notes=tuple(notes),
        left_aside=warm.left_aside + damp.left_aside,
    )


def _time(
    first: TimeUnderstanding, other: TimeUnderstanding, frames: Sequence[pd.DataFrame]
) -> TimeUnderstanding:
    """Return the time base of both, over the span of both."""
    starts = [t for t in (first.first_utc, other.first_utc) if t]
    ends = [t for t in (first.last_utc, other.last_utc) if t]
    steps = [sample_interval_s(pd.DatetimeIndex(frame.index)) for frame in frames]
    return replace(
        first,
        first_utc=min(starts, default=None),
        last_utc=max(ends, default=None),
        interval_s=float(np.median(steps)) if np.isfinite(steps).all() else None,
        first_written=min(first.first_written, other.first_written),
        last_written=max(first.last_written, other.last_written),
    )
