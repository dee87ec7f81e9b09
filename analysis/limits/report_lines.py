"""Results as plain sentences: what, when, by which definition, how sure. Text alone, nothing drawn.

Times are in the zone of the site. A number always stands with the definition that made it.
"""

import math
from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from analysis.air import swings
from analysis.harm.ageing import HUMIDITY_NOTE, REACTION_WORDS, Ageing
from analysis.harm.condensation import ColdSurface
from analysis.harm.gelatin import CONTACT_CAUTION, HoursAbove
from analysis.harm.mould import HEALTH_CAUTION, ORDINAL_NOTE, MouldDose, MouldHistory
from analysis.instruments.side_by_side import Agreement
from analysis.limits.comparison import (
    MoistureAgainstOutdoors,
    MonthStatistics,
    RoomsCompared,
    SpatialSpread,
)
from analysis.limits.historic_climate import HistoricClimate
from analysis.limits.published_limits import DEFINITION_WORDS, VARIABLE_WORDS, Definition
from analysis.limits.verdict import Check, LimitVerdict, Outcome
from analysis.parameters import parameter
from analysis.series import usable

CANNOT_TELL = "cannot tell"


def _figure(value: float, decimals: int = 0) -> str:
    text = f"{value:.{decimals}f}"
    return text.replace("-", "−") if float(text) else text.lstrip("-")


def _moment(when: datetime, zone: str) -> str:
    local = when.astimezone(ZoneInfo(zone))
    return f"{local.day} {local:%B %Y %H:%M}"


def _share(percent: float) -> str:
    if math.isnan(percent):
        return CANNOT_TELL
    if 0 < percent < 1:
        return "under 1 %"
    return "over 99 %" if 99 < percent < 100 else f"{percent:.0f} %"


def _hours(hours: float) -> str:
    return f"{hours:.1f} h" if hours < 10 else f"{hours:.0f} h"


def _delta_unit(variable: str) -> str:
    return "%RH" if variable == "rh_pct" else "K"


def verdict_lines(verdict: LimitVerdict, zone: str) -> list[str]:
    """Return a verdict as sentences: the word, the shares of time, the worst, the basis.

    Examples
    --------
    >>> from analysis.limits.published_limits import published_limit
    >>> from analysis.series import readings_frame
    >>> from analysis.limits.verdict import judge
    >>> hours = pd.date_range("2030-01-01", periods=72, freq="h", tz="UTC")
    >>> air = readings_frame(hours, temp_c=20.0, rh_pct=66.0)
    >>> lines = verdict_lines(judge(published_limit("green_protocol_2023"), air), "UTC")
    >>> lines[0]
    'International green protocol for loans (2023): provisional, 3 days: outside.'
    >>> lines[2]
    'Farthest beyond: humidity, outer limits, 6.0 %RH on 1 January 2030 00:00.'
    """
    lines = [f"{verdict.limit.title}: {verdict.words}.", _shares_line(verdict, zone)]
    if verdict.worst is not None and verdict.worst.worst_utc is not None:
        lines.append(_worst_line(verdict.worst, zone))
    if verdict.not_judged:
        named = ", ".join(
            _check_name(c) for c in verdict.checks if c.outcome is Outcome.CANNOT_TELL
        )
        lines.append(f"Cannot tell, for too little was measured: {named}.")
    return [*lines, verdict.basis, *([verdict.limit.note] if verdict.limit.note else [])]


def _check_name(check: Check) -> str:
    return f"{VARIABLE_WORDS[check.variable][0]}, {check.name}"


def _worst_line(check: Check, zone: str) -> str:
    beyond = f"{_figure(check.worst, 1)} {_delta_unit(check.variable)}"
    when = _moment(check.worst_utc, zone) if check.worst_utc else ""
    return f"Farthest beyond: {_check_name(check)}, {beyond} on {when}."


def _shares_line(verdict: LimitVerdict, zone: str) -> str:
    if math.isnan(verdict.shares.inside_pct):
        return "No moment could be judged by all rules."
    shares = (
        f"Of {_hours(verdict.judged_h)} that could be judged, {_share(verdict.shares.inside_pct)} "
        f"were inside, {_share(verdict.shares.uncertain_pct)} within the sensor's uncertainty, "
        f"{_share(verdict.shares.outside_pct)} outside"
    )
    if verdict.longest_run.start_utc is None:
        return f"{shares}."
    run = f"{_hours(verdict.longest_run.hours)} from {_moment(verdict.longest_run.start_utc, zone)}"
    return f"{shares}; the longest run outside was {run}."


def swing_lines(readings: pd.DataFrame, zone: str, column: str = "rh_pct") -> list[str]:
    """Return the largest 24-hour change by each of the four definitions, one sentence each.

    Examples
    --------
    >>> from analysis.series import readings_frame
    >>> hours = pd.date_range("2030-01-01", periods=49, freq="h", tz="UTC")
    >>> step = readings_frame(hours, rh_pct=np.where(np.arange(49) < 30, 50.0, 58.0))
    >>> swing_lines(step, "UTC")[0]
    'Largest 24-hour change of humidity by range24 (highest minus lowest reading in every rolling
     24 hours): 8.0 %RH, 2 January 2030 06:00.'
    """
    values = usable(readings, column).dropna()
    changes = {
        Definition.RANGE24: swings.range24(values),
        Definition.LAG24: swings.lag24(values),
        Definition.DEV24: swings.dev24(values),
    }
    word, unit = VARIABLE_WORDS[column][0], _delta_unit(column)
    lines = [
        _largest(
            f"Largest 24-hour change of {word} by {name} ({DEFINITION_WORDS[name]})", c, unit, zone
        )
        for name, c in changes.items()
    ]
    days = swings.dayspan(values, zone)
    what = f"Largest daily span of {word}, dayspan ({DEFINITION_WORDS[Definition.DAYSPAN]})"
    if days.empty:
        return [*lines, f"{what}: {CANNOT_TELL}."]
    at = pd.DatetimeIndex(days.index)[int(np.argmax(days.to_numpy()))]
    return [*lines, f"{what}: {_figure(float(days.max()), 1)} {unit}, {at.day} {at:%B %Y}."]


def _largest(what: str, change: pd.Series, unit: str, zone: str) -> str:
    known = change.dropna()
    if known.empty:
        return f"{what}: {CANNOT_TELL}."
    at = pd.DatetimeIndex(known.index)[int(np.argmax(known.to_numpy()))].to_pydatetime()
    return f"{what}: {_figure(float(known.max()), 1)} {unit}, {_moment(at, zone)}."


def historic_line(climate: HistoricClimate) -> str:
    """Return the historic band in one sentence."""
    low, high = _figure(climate.lower_pct, 1), _figure(climate.upper_pct, 1)
    floor = ""
    if (
        climate.lower_pct < climate.percentile_low_pct
        or climate.upper_pct > climate.percentile_high_pct
    ):
        seven, ninety_three = (
            _figure(climate.percentile_low_pct, 1),
            _figure(climate.percentile_high_pct, 1),
        )
        floor = f", widened to the least width from {seven} / +{ninety_three}"
    return (
        f"Historic climate after EN 15757 (2010; not checked against the published text): yearly "
        f"mean {_figure(climate.annual_rh_pct, 1)} %RH, band {low} / +{high} %RH about the centred "
        f"30-day mean{floor}; {climate.standing}."
    )


def ageing_line(result: Ageing) -> str:
    """Return ageing in one sentence, with the range that humidity leaves."""
    rate = result.rate
    if math.isnan(rate.mid):
        return f"Ageing by {REACTION_WORDS[result.reaction]}: {CANNOT_TELL}."
    energy = result.reaction.activation_kj_mol
    dry = (
        f" {_share(result.too_dry_pct)} of the time was too dry for it."
        if result.too_dry_pct
        else ""
    )
    return (
        f"Ageing by {REACTION_WORDS[result.reaction]} went {rate.mid:.2f} times "
        f"({rate.low:.2f}–{rate.high:.2f}) as fast as at 20 °C and 50 %RH, as a mean of rates "
        f"({energy:g} kJ/mol; {result.coverage_pct:.0f} % of {result.record_days:.0f} days "
        f"measured). "
        f"{HUMIDITY_NOTE}{dry}"
    )


def mould_lines(result: MouldHistory, zone: str, dose: MouldDose | None = None) -> list[str]:
    """Return the mould index, the second opinion, what the index means, and the health caution."""
    begun = result.first_at_1_utc
    reached = f" It reached 1 on {_moment(begun, zone)}." if begun else ""
    lines = [
        f"Mould index (class {result.sensitivity.value}): highest {result.highest:.1f}, at the end "
        f"{result.at_end:.1f}; {result.growing_h} h in which mould could grow.{reached} "
        f"{result.coverage_pct:.0f} % of the hours were measured, the index was held through the "
        f"rest."
    ]
    if dose is not None:
        lines.append(
            f"Second opinion, by daily doses: at most {dose.highest:.1f} days' worth of 20 °C and "
            f"90 %RH, {100 * dose.share_of_onset_low:.0f}–{100 * dose.share_of_onset_high:.0f} % "
            f"of what begins growth on planed spruce (that dose is recalled)."
        )
    return [*lines, ORDINAL_NOTE, HEALTH_CAUTION]


def surface_line(surface: ColdSurface, zone: str) -> str:
    """Return a cold surface in one sentence."""
    if surface.least_margin_utc is None:
        return f"Cold surface ({surface.assumed}): {CANNOT_TELL}."
    near = parameter("cold_surfaces", "margin", "look").value
    least = _figure(surface.least_margin_k, 1)
    return (
        f"Cold surface ({surface.assumed}): {_hours(surface.condensation_h)} at or below the dew "
        f"point, {_hours(surface.look_h)} within {near:g} K of it, {_hours(surface.humid_h)} at "
        f"80 %RH or more, of {_hours(surface.measured_h)} measured; least margin {least} K on "
        f"{_moment(surface.least_margin_utc, zone)}."
    )


def gelatin_lines(softening: Sequence[HoursAbove], contact: Sequence[HoursAbove]) -> list[str]:
    """Return the hours above the humidities of gelatin, and the caution about contact."""
    words = {
        "sticky": "in which gelatin begins to turn sticky",
        "soft": "in which gelatin is soft",
        "possible": "in which gelatin that touches its glazing may stick",
        "likely": "in which gelatin that touches its glazing would probably stick",
    }
    lines = []
    for row in [*softening, *contact]:
        origin = "assumed" if row.assumed else "published"
        lines.append(
            f"{_hours(row.hours.mid)} {words[row.name]}: at {row.threshold.value:g} %RH or more "
            f"({origin}; {_hours(row.hours.low)} at {row.threshold.high:g}, "
            f"{_hours(row.hours.high)} at {row.threshold.low:g} %RH), of "
            f"{_hours(row.measured_h)} measured; longest "
            f"{_hours(row.longest_run_h)}."
        )
    return [*lines, CONTACT_CAUTION]


def agreement_line(result: Agreement) -> str:
    """Return two loggers side by side in one sentence."""
    unit = _delta_unit(result.column)
    lag = CANNOT_TELL if result.lag_s is None else f"{_figure(result.lag_s / 60, 1)} min"
    return (
        f"The second logger read {_figure(result.bias, 2)} {unit} against the first (95 % of "
        f"differences from {_figure(result.low, 1)} to {_figure(result.high, 1)} {unit}, "
        f"{result.pairs} readings); its lag: {lag}."
    )


def spread_line(result: SpatialSpread, zone: str) -> str:
    """Return the spread in a room in one sentence."""
    unit, (low, high) = _delta_unit(result.column), result.pair_at_highest
    return (
        f"The loggers of the room differed by {_figure(result.mean, 1)} {unit} on average, by at "
        f"most {_figure(result.highest, 1)} {unit} ({high} above {low}, "
        f"{_moment(result.highest_utc, zone)}); half of it counts in the short-term allowance."
    )


def rooms_line(
    result: RoomsCompared, first: str = "the first", second: str = "the second room"
) -> str:
    """Return two rooms in one sentence.

    Examples
    --------
    >>> rooms_line(RoomsCompared(720, 4.2, -1.0, 60.0, 0.8), "the East Room", "the store")
    'Over 720 shared hours the store was 4.2 %RH damper, 1.0 K colder and held 60 Pa more vapour
     than the East Room, on average.'
    """
    humid = f"{_figure(abs(result.rh_pct), 1)} %RH {'damper' if result.rh_pct > 0 else 'drier'}"
    warm = f"{_figure(abs(result.temp_c), 1)} K {'warmer' if result.temp_c > 0 else 'colder'}"
    more = "more" if result.vapour_pressure_pa > 0 else "less"
    return (
        f"Over {result.hours} shared hours {second} was {humid}, {warm} and held "
        f"{_figure(abs(result.vapour_pressure_pa))} Pa {more} vapour than {first}, on average."
    )


def outdoors_line(result: MoistureAgainstOutdoors) -> str:
    """Return a room against the outdoors in one sentence, by moisture."""
    follows = ""
    if result.follows is not None and not math.isnan(result.follows):
        follows = (
            f" Its daily means follow the outdoors with a correlation of {result.follows:.2f}."
        )
    return (
        f"The room held {_figure(result.mean_pa)} Pa of vapour against the outdoors "
        f"(5–95 %: {_figure(result.low_pa)} to {_figure(result.high_pa)} Pa), more than outdoors "
        f"in {_share(result.wetter_inside_pct)} of the hours.{follows}"
    )


def month_line(now: MonthStatistics, before: MonthStatistics) -> str:
    """Return this month against the same month last year, or why that cannot be told."""
    least = parameter("record_rules", "coverage", "verdict").value
    name = datetime(now.year, now.month, 1, tzinfo=ZoneInfo("UTC")).strftime("%B")
    for month in (now, before):
        if month.coverage_pct < least:
            return (
                f"{name} {now.year} against {before.year}: {CANNOT_TELL}, "
                f"{month.coverage_pct:.0f} % of {name} {month.year} was measured and "
                f"{least:.0f} % is needed."
            )
    return (
        f"{name} {now.year} against {before.year}: mean {_figure(now.rh_mean, 1)} %RH "
        f"(was {_figure(before.rh_mean, 1)}), {_figure(now.temp_mean, 1)} °C "
        f"(was {_figure(before.temp_mean, 1)}), mean daily span "
        f"{_figure(now.mean_dayspan_rh, 1)} %RH (was {_figure(before.mean_dayspan_rh, 1)})."
    )
