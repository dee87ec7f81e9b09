"""A frame's half-time as plain values, for other programs."""

import math
from collections.abc import Sequence
from typing import Any

from analysis.learning.half_time import HalfTimeFit
from analysis.records.inspection_records import Measured
from analysis.results import Range
from dashboards.text import half_time_text as text
from service.estimates.half_times import FrameHalfTime

Json = dict[str, Any]


def half_time_json(known: FrameHalfTime) -> Json:
    """Return what is known of a frame's half-time; a bound that is none becomes None."""
    work, found = known.work, known.found
    return {
        "work_id": work.work_id,
        "answer": text.answer_words(work, found, known.default_h),
        "usual_h": _range(known.default_h),
        "fitted": None if found is None else _fit(found),
        "record": _record(known),
        "warmer_than_logger_k": None if known.warmer is None else _ends(known.warmer),
        "why_not_used": list(known.why_not),
        "in_use": None if known.in_use is None else _measured(known.in_use),
    }


def _fit(found: HalfTimeFit) -> Json:
    fit = found.fit
    return {
        "half_time_h": _range(Range(fit.low_h, fit.half_time_h, fit.high_h)),
        "bound": str(fit.bound),
        "sound": found.sound,
        "residual_rms_pct": fit.residual_rms,
        "lag_one": fit.lag_one,
        "offset_pct": fit.offset,
        "temp_c": list(found.temp_c),
        "rh_pct": list(found.rh_pct),
        "statements": text.statements(found),
    }


def _record(known: FrameHalfTime) -> Json | None:
    if known.record is None or known.found is None:
        return None
    times = known.found.pair.time_utc
    return {
        "logger": known.record.placement.logger,
        "room": known.record.room,
        "first_utc": times[0].isoformat(),
        "last_utc": times[-1].isoformat(),
        "interval_h": known.found.interval_h,
    }


def _measured(row: Measured) -> Json:
    return {
        "half_time_h": _range(Range(row.low, row.value, row.high)),
        "origin": row.origin,
        "from_utc": None if row.from_utc is None else row.from_utc.isoformat(),
    }


def _ends(row: Measured) -> Sequence[float]:
    return [row.low, row.value, row.high]


def _range(hours: Range) -> Sequence[float | None]:
    """Return low, middle and high; an end that the record does not bound as None."""
    ends = (hours.low, hours.mid, hours.high)
    return [value if math.isfinite(value) and value > 0.0 else None for value in ends]
