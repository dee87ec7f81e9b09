"""A judgement as plain values for scripts, with its sentences; and as a notice keeps it."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from analysis.results import Judgement, Listing, SinceLook, State
from dashboards.lines import NoticedWork
from dashboards.text.judgement_text import chain_sentences, condition, mend, reason

# What the sentences are made of stays inside: scripts get the numbers of the list, and the words.
INSIDE = ("work", "air", "now", "asks", "changes", "impossible")


def as_plain(judgement: Judgement, zone: str) -> dict[str, Any]:
    """Return a judgement as values that can stand in JSON; a number that is none becomes None."""
    plain = {name: value for name, value in asdict(judgement).items() if name not in INSIDE}
    now = judgement.now
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
