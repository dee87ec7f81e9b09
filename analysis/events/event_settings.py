"""What counts as an event: the limits a site may set, with the defaults of ``published``."""

from dataclasses import dataclass, field

from analysis.parameters import parameter


def _default(group: str, name: str) -> float:
    return field(default_factory=lambda: parameter("events", group, name).value)


@dataclass(frozen=True)
class EventSettings:
    """Limits of events. Each default, its range and its origin is a row of ``events.toml``."""

    spike_rh_pct: float = _default("spike", "rh_pct")
    spike_rise_h: float = _default("spike", "rise_h")
    spike_slow_rise_h: float = _default("spike", "slow_rise_h")
    spike_slow_record_h: float = _default("spike", "slow_record_h")
    spike_trailing_h: float = _default("spike", "trailing_h")
    spike_least_trailing_h: float = _default("spike", "least_trailing_h")
    spike_longest_h: float = _default("spike", "longest_h")
    spike_calm_rh_pct: float = _default("spike", "calm_rh_pct")
    spike_calm_share: float = _default("spike", "calm_share")
    spike_settle_min: float = _default("spike", "settle_min")
    merge_gap_h: float = _default("band", "merge_gap_h")
    hysteresis_rh_pct: float = _default("band", "hysteresis_rh_pct")
    hysteresis_temp_c: float = _default("band", "hysteresis_temp_c")
    least_readings: float = _default("band", "least_readings")
    damp_rh_pct: float = _default("damp", "rh_pct")
    damp_h: float = _default("damp", "hours")
    dry_rh_pct: float = _default("dry", "rh_pct")
    dry_h: float = _default("dry", "hours")
    lasting_merge_gap_h: float = _default("lasting", "merge_gap_h")
    swing_rh_pct: float = _default("swing", "rh_pct")
    swing_merge_gap_h: float = _default("swing", "merge_gap_h")
    swing_least_pct: float = _default("swing", "least_pct")
    cycling_rh_pct: float = _default("cycling", "rh_pct")
    cycling_likeness: float = _default("cycling", "likeness")
    cycling_days: float = _default("cycling", "days")
    cycling_least_hours: float = _default("cycling", "least_hours")
    cause_share: float = _default("cause", "share")
    cause_outdoor_margin: float = _default("cause", "outdoor_margin")
    confirm_share: float = _default("confirm", "share")
