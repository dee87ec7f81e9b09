"""Limits and verdicts in words: by which rules a record was judged, and how it stands."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from analysis.limits.historic_climate import HistoricClimate
from analysis.limits.limit_rules import RuleBasis, RuleName
from analysis.limits.published_limits import DEFINITION_WORDS, VARIABLE_WORDS, Limit, VariableLimit
from analysis.limits.verdict import Check, LimitVerdict, Outcome
from analysis.parameters import Status, parameter
from analysis.references import STATUS_SEEN, reference
from dashboards.lines import LimitLine
from dashboards.text import wording
from dashboards.text.dates import date_words
from dashboards.text.error_words import error_words
from dashboards.text.messages import _, counted, translated
from dashboards.text.wording import number, significant, with_unit

HOUSE = "House"  # the source of a band that a house agreed for itself
TOLD_IN_ORDER = (
    Outcome.INSIDE,
    Outcome.OUTSIDE,
    Outcome.WITHIN_UNCERTAINTY,
    Outcome.CANNOT_TELL,
)


def edition_words(limit: Limit) -> str:
    """Return a text's edition, or since when a band has been agreed."""
    if not limit.since:
        return translated(limit.edition)
    return _("since {day}", day=date_words(date.fromisoformat(limit.since[:10])))


def limit_title(limit: Limit) -> str:
    """Return a limit's name and edition, and a warning where the text was not seen.

    Examples
    --------
    >>> from analysis.limits.published_limits import published_limit
    >>> limit_title(published_limit("class_a1"))
    'Climate class A1 (2019; not checked against the published text)'
    >>> limit_title(published_limit("green_protocol_2023"))
    'International green protocol for loans (2023)'
    """
    doubt = "" if limit.verified else _("not checked against the published text")
    inside = "; ".join(part for part in (edition_words(limit), doubt) if part)
    name = limit_name(limit)
    return f"{name} ({inside})" if inside else name


def record_origin_words(limit: Limit) -> str:
    """Return where the length of record that a limit asks for is from, and how far that was seen.

    Examples
    --------
    >>> from analysis.limits.published_limits import published_limit
    >>> record_origin_words(published_limit("class_a1"))
    'published, from memory'
    """
    published = limit.record_origin == Status.PUBLISHED
    seen = STATUS_SEEN[reference(limit.source).seen] if published else limit.record_origin
    return translated(seen)


def limit_name(limit: Limit) -> str:
    """Return a published limit's name in the site's language; a house's own stays as it is."""
    return limit.name if limit.source == HOUSE else translated(limit.name)


def verdict_words(verdict: LimitVerdict) -> str:
    """Return the outcome in words; "conforms" only where that is true."""
    outcome = _(verdict.outcome.value)
    if verdict.provisional:
        days = round(verdict.record_days)
        return counted(
            "provisional, {many} day: {outcome}",
            "provisional, {many} days: {outcome}",
            days,
            outcome=outcome,
        )
    return _("conforms") if verdict.conforms else outcome


def check_name(check: Check) -> str:
    """Return what a rule is called, with its variable: "humidity, outer limits"."""
    return f"{_(VARIABLE_WORDS[check.variable][0])}, {_(check.name.value)}"


def range_limit_words(row: VariableLimit) -> str:
    """Return the outer limits of a variable in words.

    Examples
    --------
    >>> range_limit_words(VariableLimit("rh_pct", low=40.0, high=60.0))
    '40 to 60 %RH, ends included'
    >>> range_limit_words(VariableLimit("temp_c", high=-3.0))
    'at most −3 °C'
    """
    if row.low is not None and row.high is not None:
        ends = wording.joined(significant(row.low), significant(row.high), row.unit)
        return _("{range}, ends included", range=ends)
    if row.high is not None:
        return _(
            "at most {high} {unit}", high=significant(row.high), unit=wording.unit_words(row.unit)
        )
    if row.low is not None:
        return _(
            "at least {low} {unit}", low=significant(row.low), unit=wording.unit_words(row.unit)
        )
    return ""


def standing_words(climate: HistoricClimate) -> str:
    """Return whether the record of a historic climate suffices."""
    facts = {
        "days": number(climate.record_days),
        "measured": with_unit(climate.coverage_pct, "%"),
        "needed": number(parameter("record_rules", "historic", "record").value),
    }
    if not climate.provisional:
        return _("{days} days of record, {measured} measured", **facts)
    return _(
        "provisional, {days} days of record of the {needed} needed, {measured} measured", **facts
    )


def rule_words(name: RuleName, basis: RuleBasis) -> str:
    """Return by what a rule is judged."""
    row = basis.row
    if name is RuleName.MEASURED:
        return _("no usable reading")
    if name is RuleName.OUTER:
        return range_limit_words(row)
    if name is RuleName.MEAN:
        return range_limit_words(replace(row, low=row.mean_low, high=row.mean_high))
    if name is RuleName.MOULD:
        return _(
            "above {rh} %RH until the mould index of the spell reaches 1",
            rh=significant(row.mould_rh),
        )
    if name is RuleName.HISTORIC:
        return _historic_words(basis)
    return _about_words(name, basis)


def _about_words(name: RuleName, basis: RuleBasis) -> str:
    """Return a rule about a mean, a seasonal level, or the 24 hours before."""
    row = basis.row
    facts = {
        "tolerance": f"{significant(row.tolerance)} {wording.unit_words(row.delta_unit)}",
        "short": f"{significant(row.short_limit or 0.0)} {wording.unit_words(row.delta_unit)}",
        "mean": number(basis.mean, 1),
        "days": significant(basis.window_days),
    }
    if name is RuleName.ABOUT_MEAN:
        return _("±{tolerance} about the mean of the record, {mean}", **facts)
    if name is RuleName.SEASON:
        return _(
            "{days}-day centred mean within {apart} of the yearly mean, {mean}",
            apart=_apart(row),
            **facts,
        )
    if name is RuleName.DRIFT:
        return _("{days}-day centred mean changes by at most {short} in 30 days", **facts)
    if basis.definition is not None:
        return _(
            "{name}, {definition}, at most {short}",
            name=basis.definition,
            definition=_(DEFINITION_WORDS[basis.definition]),
            **facts,
        )
    if basis.window_days is None:
        return _(
            "±{short} about the yearly mean, {mean}, half the spread in space counted", **facts
        )
    return _(
        "±{short} about the {days}-day centred mean, half the spread in space counted", **facts
    )


def _apart(row: VariableLimit) -> str:
    up = _("any rise") if row.season_up is None else f"+{significant(row.season_up)}"
    down = _("any fall") if row.season_down is None else f"−{significant(row.season_down)}"
    return f"{up} / {down} {wording.unit_words(row.delta_unit)}"


def _historic_words(basis: RuleBasis) -> str:
    climate = basis.climate
    if climate is None:
        return error_words(basis.problem)
    facts = {
        "low": number(-climate.lower_pct, 1),
        "high": number(climate.upper_pct, 1),
        "standing": standing_words(climate),
    }
    if basis.earlier_year:
        return _("seasonal cycle −{low} / +{high} %RH, from an earlier year: {standing}", **facts)
    return _("seasonal cycle −{low} / +{high} %RH, from this same record: {standing}", **facts)


def basis_words(verdict: LimitVerdict) -> str:
    """Return by what a record was judged."""
    rules = "; ".join(
        f"{_(VARIABLE_WORDS[check.variable][0])} {_(check.name.value)}: "
        f"{rule_words(check.name, check.basis)}"
        for check in verdict.checks
    )
    return _(
        "Judged by {title}: {rules}. {days} days of record, {measured} measured; {least} days are "
        "needed ({origin}). A reading counts as outside beyond ±{rh} %RH and ±{temp} K; {share} of "
        "the time inside is asked for.",
        title=limit_title(verdict.limit),
        rules=rules,
        days=number(verdict.record_days),
        measured=with_unit(verdict.coverage_pct, "%"),
        least=significant(verdict.limit.minimum_record_days),
        origin=record_origin_words(verdict.limit),
        rh=significant(verdict.uncertainty_rh_pct),
        temp=significant(verdict.uncertainty_temp_c),
        share=f"{significant(verdict.required_share_pct)} %",
    )


def limits_answer(lines: Sequence[LimitLine]) -> str:
    """Return which rooms kept to the band agreed for them.

    Examples
    --------
    >>> kept = Outcome.INSIDE
    >>> limits_answer([LimitLine("n", "North", "", "", "", "", "", True, "House", outcome=kept)])
    'North kept to its agreed band.'
    """
    own = [line for line in lines if line.source == HOUSE]
    if not own:
        return _("No band was agreed for any room yet; published limits are shown below.")
    words = [outside_words(line) for line in own if _surely_outside(line)]
    others = {line.room_name: line.outcome for line in own if not _surely_outside(line)}
    for outcome in TOLD_IN_ORDER:
        rooms = [name for name, found in others.items() if found is outcome]
        words += [_rooms_words(outcome, rooms)] if rooms else []
    return f"{wording.capital('; '.join(words))}."


def _surely_outside(line: LimitLine) -> bool:
    """Return whether a room went outside beyond its sensors' doubt, though the verdict is open."""
    return line.outcome is Outcome.WITHIN_UNCERTAINTY and line.outside_pct > 0.0


def _rooms_words(outcome: Outcome, rooms: Sequence[str]) -> str:
    many, names = len(rooms), wording.listed(rooms)
    if outcome is Outcome.INSIDE:
        return counted(
            "{rooms} kept to its agreed band",
            "{rooms} kept to their agreed bands",
            many,
            rooms=names,
        )
    if outcome is Outcome.OUTSIDE:
        return counted(
            "{rooms} went outside its agreed band",
            "{rooms} went outside their agreed bands",
            many,
            rooms=names,
        )
    if outcome is Outcome.WITHIN_UNCERTAINTY:
        return counted(
            "{rooms} is too near its edge for the sensors to say",
            "{rooms} are too near the edge for the sensors to say",
            many,
            rooms=names,
        )
    return counted(
        "{rooms} was measured too little to tell",
        "{rooms} were measured too little to tell",
        many,
        rooms=names,
    )


def outside_words(line: LimitLine) -> str:
    """Return how much of the time a room was surely outside, and for how long at a stretch.

    Examples
    --------
    >>> outside_words(LimitLine("n", "North", "Band", "", "", "", "", True, "House", 4.2, 187.0))
    'North was surely outside its agreed band 4 % of the time, once for 7.8 days'
    """
    said = _(
        "{room} was surely outside its agreed band {share} of the time",
        room=line.room_name,
        share=wording.share(line.outside_pct / 100.0),
    )
    if line.longest_outside_h <= 0.0:
        return said
    return _("{said}, once for {time}", said=said, time=wording.duration(line.longest_outside_h))
