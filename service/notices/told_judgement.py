"""A judgement as plain values and back, so that a notice keeps what it said."""

from collections.abc import Mapping
from dataclasses import asdict
from datetime import datetime
from typing import Any

from analysis.results import Judgement, LeadTime, Listing, Range, State

RANGES = ("headroom_up_pct", "headroom_down_pct", "print_rh_pct")
NUMBERS = ("p_visible_now", "p_visible_week", "p_clearance", "p_hinges")


def as_plain(judgement: Judgement) -> dict[str, Any]:
    """Return a judgement as values that can stand in JSON; a number that is none becomes None."""
    plain = asdict(judgement)
    plain["at_utc"] = judgement.at_utc.isoformat()
    again = judgement.look_again_utc
    plain["look_again_utc"] = None if again is None else again.isoformat()
    plain["chain"] = [list(step) for step in judgement.chain]
    plain["order_key"] = list(judgement.order_key)
    plain["listing"], plain["state"] = str(judgement.listing), str(judgement.state)
    return {name: _without_nan(value) for name, value in plain.items()}


def _without_nan(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _without_nan(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_without_nan(item) for item in value]
    return None if isinstance(value, float) and value != value else value


def from_plain(plain: Mapping[str, Any]) -> Judgement:
    """Return the judgement again."""
    values = dict(plain)
    for name in NUMBERS:
        values[name] = _number(values[name])
    for name in RANGES:
        span = values[name]
        values[name] = None if span is None else Range(**{k: _number(v) for k, v in span.items()})
    lead = values["lead_time"]
    values["lead_time"] = None if lead is None else LeadTime(**lead)
    again = values["look_again_utc"]
    values["look_again_utc"] = None if again is None else datetime.fromisoformat(again)
    values["at_utc"] = datetime.fromisoformat(values["at_utc"])
    values["listing"], values["state"] = Listing(values["listing"]), State(values["state"])
    values["chain"] = tuple((str(name), str(said)) for name, said in values["chain"])
    values["order_key"] = tuple(_number(value) for value in values["order_key"])
    return Judgement(**values)


def _number(value: float | None) -> float:
    return float("nan") if value is None else float(value)
