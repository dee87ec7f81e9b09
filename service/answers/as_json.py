"""A judgement as plain values for scripts, with its sentences; and as a notice keeps it."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, fields
from typing import Any

from analysis.learning.half_time import HalfTimeFit
from analysis.records.inspection_records import Measured
from analysis.results import Judgement, Listing, Range, SinceLook, State
from dashboards.lines import NoticedWork
from dashboards.text import half_time_text as text
from dashboards.text.judgement_text import chain_sentences, condition, mend, reason
from service.estimates.half_times import FrameHalfTime

# What the sentences are made of stays inside: scripts get the numbers of the list, and the words.
INSIDE = ("work", "air", "now", "asks", "changes", "impossible")
SAID = tuple(one.name for one in fields(Judgement) if one.name not in INSIDE)


def as_plain(judgement: Judgement, zone: str) -> dict[str, Any]:
    """Return a judgement as values that can stand in JSON; a number that is none becomes None."""
    now = judgement.now
    plain = {name: getattr(judgement, name) for name in SAID}
    for name in ("headroom_up_pct", "headroom_down_pct", "print_rh_pct", "lead_time"):
        plain[name] = None if plain[name] is None else asdict(plain[name])
    for name in ("headroom_quick_pct", "headroom_dry_pct"):
        spare = None if now is None else getattr(now, name)
        plain[name] = None if spare is None else asdict(spare)
    again, until, since = judgement.look_again_utc, judgement.known_until_utc, judgement.since
    plain |= {
        "at_utc": judgement.at_utc.isoformat(),
        "look_again_utc": None if again is None else again.isoformat(),
        "known_until_utc": None if until is None else until.isoformat(),
        "since": None if since is None else _since(since),
        "order_key": list(judgement.order_key),
        "listing": str(judgement.listing),
        "state": str(judgement.state),
        "because": [str(one) for one in judgement.because],
        "cause": None if judgement.cause is None else str(judgement.cause),
        "missing": list(judgement.missing),
        "reason": reason(judgement, zone),
        "chain": [list(step) for step in chain_sentences(judgement, zone)],
        "condition": condition(judgement, zone),
        "what_would_mend": mend(judgement),
    }
    return {name: _without_nan(value) for name, value in plain.items()}


def _since(since: SinceLook) -> dict[str, Any]:
    shown, beyond = since.shown_utc, since.beyond_utc
    return {
        "since_utc": since.since_utc.isoformat(),
        "inspected": since.inspected,
        "shown_utc": None if shown is None else [one.isoformat() for one in shown],
        "beyond_utc": None if beyond is None else beyond.isoformat(),
        "p_low": since.p_low,
        "p_high": since.p_high,
    }


def _without_nan(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _without_nan(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_without_nan(item) for item in value]
    return None if isinstance(value, float) and value != value else value


def noticed(plain: Mapping[str, Any]) -> NoticedWork:
    """Return a work as a notice kept it, from `as_plain` of this or of an earlier release."""
    return NoticedWork(
        work_id=str(plain["work_id"]),
        title=str(plain["title"]),
        listing=Listing(plain["listing"]),
        state=State(plain["state"]),
        reason=str(plain["reason"]),
    )


# A frame's half-time as plain values, for other programs.

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
