"""Results as plain sentences: what, when, by which definition, how sure. Text alone, nothing drawn.

Times are in the zone of the site. A number always stands with the definition that made it.
"""

import math
from collections.abc import Sequence

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
from analysis.limits.verdict import Check, LimitVerdict
from analysis.parameters import parameter
from analysis.references import status_words
from analysis.series import usable
from dashboards.text.limit_text import (
    basis_words,
    check_name,
    limit_title,
    standing_words,
    verdict_words,
)
from dashboards.text.messages import N_, _, translated
from dashboards.text.wording import (
    cannot_tell,
    date_time,
    date_words,
    duration,
    month_name,
    number,
    share,
    significant,
    span,
    with_unit,
)


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
    'Farthest beyond: humidity, outer limits, 6.0 %RH on 1 January 2030, 00:00.'
    """
    lines = [
        f"{limit_title(verdict.limit)}: {verdict_words(verdict)}.",
        _shares_line(verdict, zone),
    ]
    if verdict.worst is not None and verdict.worst.worst_utc is not None:
        lines.append(_worst_line(verdict.worst, zone))
    if verdict.not_judged:
        named = ", ".join(check_name(check) for check in verdict.not_judged)
        lines.append(_("Cannot tell, for too little was measured: {named}.", named=named))
    return [
        *lines,
        basis_words(verdict),
        *([translated(verdict.limit.note)] if verdict.limit.note else []),
    ]


def _worst_line(check: Check, zone: str) -> str:
    beyond = with_unit(check.worst, _delta_unit(check.variable), 1)
    when = date_time(check.worst_utc, zone) if check.worst_utc else ""
    return _(
        "Farthest beyond: {check_name}, {beyond} on {when}.",
        check_name=check_name(check),
        beyond=beyond,
        when=when,
    )


def _shares_line(verdict: LimitVerdict, zone: str) -> str:
    if math.isnan(verdict.shares.inside_pct):
        return _("No moment could be judged by all rules.")
    shares = _(
        "Of {judged} that could be judged, {inside} were inside, {uncertain} within the sensor's "
        "uncertainty, {outside} outside",
        judged=duration(verdict.judged_h),
        inside=share(verdict.shares.inside_pct / 100.0),
        uncertain=share(verdict.shares.uncertain_pct / 100.0),
        outside=share(verdict.shares.outside_pct / 100.0),
    )
    if verdict.longest_run.start_utc is None:
        return f"{shares}."
    since = date_time(verdict.longest_run.start_utc, zone)
    run = _("{length} from {since}", length=duration(verdict.longest_run.hours), since=since)
    return _("{shares}; the longest run outside was {run}.", shares=shares, run=run)


def swing_lines(readings: pd.DataFrame, zone: str, column: str = "rh_pct") -> list[str]:
    """Return the largest 24-hour change by each of the four definitions, one sentence each.

    Examples
    --------
    >>> from analysis.series import readings_frame
    >>> hours = pd.date_range("2030-01-01", periods=49, freq="h", tz="UTC")
    >>> step = readings_frame(hours, rh_pct=np.where(np.arange(49) < 30, 50.0, 58.0))
    >>> swing_lines(step, "UTC")[0]
    'Largest 24-hour change of humidity by range24 (highest minus lowest reading in every rolling
     24 hours): 8.0 %RH, 2 January 2030, 06:00.'
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
            _(
                "Largest 24-hour change of {word} by {name} ({definition})",
                word=word,
                name=name,
                definition=_(DEFINITION_WORDS[name]),
            ),
            c,
            unit,
            zone,
        )
        for name, c in changes.items()
    ]
    days = swings.dayspan(values, zone)
    what = _(
        "Largest daily span of {word}, dayspan ({definition})",
        word=word,
        definition=_(DEFINITION_WORDS[Definition.DAYSPAN]),
    )
    if days.empty:
        return [*lines, f"{what}: {cannot_tell()}."]
    at = pd.DatetimeIndex(days.index)[int(np.argmax(days.to_numpy()))]
    return [
        *lines,
        f"{what}: {with_unit(float(days.max()), unit, 1)}, {date_words(at)}.",
    ]


def _largest(what: str, change: pd.Series, unit: str, zone: str) -> str:
    known = change.dropna()
    if known.empty:
        return f"{what}: {cannot_tell()}."
    at = pd.DatetimeIndex(known.index)[int(np.argmax(known.to_numpy()))].to_pydatetime()
    return f"{what}: {with_unit(float(known.max()), unit, 1)}, {date_time(at, zone)}."


def historic_line(climate: HistoricClimate) -> str:
    """Return the historic band in one sentence."""
    low, high = number(climate.lower_pct, 1), number(climate.upper_pct, 1)
    floor = ""
    if (
        climate.lower_pct < climate.percentile_low_pct
        or climate.upper_pct > climate.percentile_high_pct
    ):
        seven, ninety_three = (
            number(climate.percentile_low_pct, 1),
            number(climate.percentile_high_pct, 1),
        )
        floor = _(
            ", widened to the least width from {seven} / +{ninety_three}",
            seven=seven,
            ninety_three=ninety_three,
        )
    return _(
        "Historic climate after EN 15757 (2010; not checked against the published text): yearly "
        "mean {annual_rh} %RH, band {low} / +{high} %RH about the centred 30-day mean{floor}; "
        "{standing}.",
        annual_rh=number(climate.annual_rh_pct, 1),
        low=low,
        high=high,
        floor=floor,
        standing=standing_words(climate),
    )


def ageing_line(result: Ageing) -> str:
    """Return ageing in one sentence, with the range that humidity leaves."""
    rate = result.rate
    if math.isnan(rate.mid):
        return _(
            "Ageing by {reaction}: {cannot_tell}.",
            reaction=_(REACTION_WORDS[result.reaction]),
            cannot_tell=cannot_tell(),
        )
    energy = result.reaction.activation_kj_mol
    dry = (
        _(" {too_dry} of the time was too dry for it.", too_dry=share(result.too_dry_pct / 100.0))
        if result.too_dry_pct
        else ""
    )
    return _(
        "Ageing by {reaction} went {rate} times ({range}) as fast as at 20 °C and 50 %RH, as a "
        "mean of rates ({energy} kJ/mol; {coverage} of {record_days} days measured). "
        "{humidity_note}{dry}",
        reaction=_(REACTION_WORDS[result.reaction]),
        rate=number(rate.mid, 2),
        range=span(rate.low, rate.high, "", 2),
        energy=significant(energy),
        coverage=share(result.coverage_pct / 100.0),
        record_days=number(result.record_days, 0),
        humidity_note=_(HUMIDITY_NOTE),
        dry=dry,
    )


def mould_lines(result: MouldHistory, zone: str, dose: MouldDose | None = None) -> list[str]:
    """Return the mould index, the second opinion, what the index means, and the health caution."""
    begun = result.first_at_1_utc
    reached = _(" It reached 1 on {begun}.", begun=date_time(begun, zone)) if begun else ""
    lines = [
        _(
            "Mould index (class {sensitivity}): highest {highest}, at the end {at_end}; {growing} "
            "h in which mould could grow.{reached} {coverage} of the hours were measured, the "
            "index was held through the rest.",
            sensitivity=result.sensitivity.value,
            highest=number(result.highest, 1),
            at_end=number(result.at_end, 1),
            growing=result.growing_h,
            reached=reached,
            coverage=share(result.coverage_pct / 100.0),
        )
    ]
    if dose is not None:
        lines.append(
            _(
                "Second opinion, by daily doses: at most {highest} days' worth of 20 °C and 90 "
                "%RH, {share} of what begins growth on planed spruce (that dose is "
                "recalled).",
                highest=number(dose.highest, 1),
                share=span(100 * dose.share_of_onset_low, 100 * dose.share_of_onset_high, "%"),
            )
        )
    return [*lines, _(ORDINAL_NOTE), _(HEALTH_CAUTION)]


def surface_name(surface: ColdSurface) -> str:
    """Return which surface it is, and how its temperature was found."""
    known = surface.reckoned
    if known is None:
        return _("a logged surface")
    return _(
        "{where}, {wall}: surface factor {factor}",
        where=_(known.where.replace("_", " ")),
        wall=_(known.wall.value),
        factor=significant(known.factor),
    )


def surface_line(surface: ColdSurface, zone: str) -> str:
    """Return a cold surface in one sentence."""
    name = surface_name(surface)
    if surface.least_margin_utc is None:
        return _("Cold surface ({name}): {cannot}.", name=name, cannot=cannot_tell())
    near = parameter("cold_surfaces", "margin", "look").value
    return _(
        "Cold surface ({name}): {water} at or below the dew point, {near} within {margin} K of it, "
        "{humid} at 80 %RH or more, of {measured} measured; least margin {least} K on {when}.",
        name=name,
        water=duration(surface.condensation_h),
        near=duration(surface.look_h),
        margin=significant(near),
        humid=duration(surface.humid_h),
        measured=duration(surface.measured_h),
        least=number(surface.least_margin_k, 1),
        when=date_time(surface.least_margin_utc, zone),
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
        lines.append(
            _(
                "{time} {words}: at {rh} %RH or more ({origin}; {least} at {highest_rh}, {most} at "
                "{lowest_rh} %RH), of {measured} measured; longest {longest}.",
                time=duration(row.hours.mid),
                words=_(words[row.name]),
                rh=significant(row.threshold.value),
                origin=translated(status_words(row.threshold)),
                least=duration(row.hours.low),
                highest_rh=significant(row.threshold.high),
                most=duration(row.hours.high),
                lowest_rh=significant(row.threshold.low),
                measured=duration(row.measured_h),
                longest=duration(row.longest_run_h),
            )
        )
    return [*lines, _(CONTACT_CAUTION)]


def agreement_line(result: Agreement) -> str:
    """Return two loggers side by side in one sentence."""
    unit = _delta_unit(result.column)
    lag = cannot_tell() if result.lag_s is None else f"{number(result.lag_s / 60, 1)} min"
    return _(
        "The second logger read {bias} {unit} against the first (95 % of differences from {low} "
        "to {high} {unit}, {pairs} readings); its lag: {lag}.",
        bias=number(result.bias, 2),
        unit=unit,
        low=number(result.low, 1),
        high=number(result.high, 1),
        pairs=result.pairs,
        lag=lag,
    )


def spread_line(result: SpatialSpread, zone: str) -> str:
    """Return the spread in a room in one sentence."""
    unit, (low, high) = _delta_unit(result.column), result.pair_at_highest
    return _(
        "The loggers of the room differed by {mean} {unit} on average, by at most {highest} "
        "{unit} ({high} above {low}, {when}); half of it counts in the short-term allowance.",
        mean=number(result.mean, 1),
        unit=unit,
        highest=number(result.highest, 1),
        high=high,
        low=low,
        when=date_time(result.highest_utc, zone),
    )


def rooms_line(
    result: RoomsCompared, first: str = N_("the first"), second: str = N_("the second room")
) -> str:
    """Return two rooms in one sentence.

    Examples
    --------
    >>> rooms_line(RoomsCompared(720, 4.2, -1.0, 60.0, 0.8), "the East Room", "the store")
    'Over 720 shared hours the store was 4.2 %RH damper, 1.0 K colder and held 60 Pa more vapour
     than the East Room, on average.'
    """
    rh_pct, temp_k = number(abs(result.rh_pct), 1), number(abs(result.temp_c), 1)
    damper, drier = _("{rh} %RH damper", rh=rh_pct), _("{rh} %RH drier", rh=rh_pct)
    warmer, colder = _("{temp} K warmer", temp=temp_k), _("{temp} K colder", temp=temp_k)
    humid = damper if result.rh_pct > 0 else drier
    warm = warmer if result.temp_c > 0 else colder
    more = _("more") if result.vapour_pressure_pa > 0 else _("less")
    return _(
        "Over {hours} shared hours {second} was {humid}, {warm} and held {pressure} Pa {more} "
        "vapour than {first}, on average.",
        hours=result.hours,
        second=translated(second),
        humid=humid,
        warm=warm,
        pressure=number(abs(result.vapour_pressure_pa)),
        more=more,
        first=translated(first),
    )


def outdoors_line(result: MoistureAgainstOutdoors) -> str:
    """Return a room against the outdoors in one sentence, by moisture."""
    follows = ""
    if result.follows is not None and not math.isnan(result.follows):
        follows = _(
            " Its daily means follow the outdoors with a correlation of {follows}.",
            follows=number(result.follows, 2),
        )
    return _(
        "The room held {mean_pa} Pa of vapour against the outdoors (5 to 95 %: {low_pa} to "
        "{high_pa} Pa), more than outdoors in {wetter_inside} of the hours.{follows}",
        mean_pa=number(result.mean_pa),
        low_pa=number(result.low_pa),
        high_pa=number(result.high_pa),
        wetter_inside=share(result.wetter_inside_pct / 100.0),
        follows=follows,
    )


def month_line(now: MonthStatistics, before: MonthStatistics) -> str:
    """Return this month against the same month last year, or why that cannot be told."""
    least = parameter("record_rules", "coverage", "verdict").value
    name = month_name(now.month)
    for month in (now, before):
        if month.coverage_pct < least:
            return _(
                "{name} {year} against {before}: {cannot_tell}, {coverage} of {name} "
                "{measured_year} was measured and {least} is needed.",
                name=name,
                year=now.year,
                before=before.year,
                cannot_tell=cannot_tell(),
                coverage=share(month.coverage_pct / 100.0),
                measured_year=month.year,
                least=share(least / 100.0),
            )
    return _(
        "{name} {year} against {before}: mean {rh_mean} %RH (was {rh_mean_before}), {temp_mean} "
        "°C (was {temp_mean_before}), mean daily span {mean_dayspan_rh} %RH (was "
        "{mean_dayspan_rh_before}).",
        name=name,
        year=now.year,
        before=before.year,
        rh_mean=number(now.rh_mean, 1),
        rh_mean_before=number(before.rh_mean, 1),
        temp_mean=number(now.temp_mean, 1),
        temp_mean_before=number(before.temp_mean, 1),
        mean_dayspan_rh=number(now.mean_dayspan_rh, 1),
        mean_dayspan_rh_before=number(before.mean_dayspan_rh, 1),
    )
