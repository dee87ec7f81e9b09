"""A climate statement in words: what was asked, whether it was kept to, what that stands on."""

from collections.abc import Sequence
from datetime import datetime

from analysis.limits.lenders_terms import Kept
from analysis.limits.published_limits import DEFINITION_WORDS, Definition
from analysis.limits.verdict import Check, LimitVerdict, Outcome
from analysis.results import Coverage
from dashboards.lines import Table
from dashboards.text import wording
from dashboards.text.limit_text import check_name, rule_words
from dashboards.text.messages import N_, _

KEPT = {Kept.MET: N_("Met"), Kept.NOT_MET: N_("Not met"), Kept.CANNOT_TELL: N_("Cannot tell")}
MOST_GAPS = 12
CONFIDENTIAL = N_("Confidential: for the lender and the borrower of the works named.")
CAUTION = N_(
    "It tells of the air where the loggers hung, not of the works. Condition is reported apart, "
    "and a conservator decides. Local codes and the loan agreement come first."
)
SIGN = (N_("Name and office"), N_("Signature"), N_("Place and date"))


def definitions() -> tuple[tuple[str, str], ...]:
    """Return the definitions of 24 hours that a lender's terms may mean, for a form."""
    plain = (Definition.RANGE24, Definition.DAYSPAN, Definition.LAG24, Definition.DEV24)
    return tuple((one.value, _(DEFINITION_WORDS[one])) for one in plain)


def title_words(room: str, dates: str, kept: Kept) -> str:
    """Return the heading of a statement, which is its finding."""
    titles = {
        Kept.MET: N_("{room} kept to the lender’s terms, {dates}"),
        Kept.NOT_MET: N_("{room} did not keep to the lender’s terms, {dates}"),
        Kept.CANNOT_TELL: N_("Cannot tell whether {room} kept to the lender’s terms, {dates}"),
    }
    return _(titles[kept], room=room, dates=dates)


def answer_words(kept: Kept, verdict: LimitVerdict, measured: Coverage) -> str:
    """Return why the terms count as met, not met, or neither."""
    share = wording.share(measured.valid_pct / 100.0)
    if kept is Kept.NOT_MET:
        outside = wording.share(verdict.shares.outside_pct / 100.0)
        run = wording.duration(verdict.longest_run.hours)
        if verdict.longest_run.start_utc is None:
            return _("Not met: the change in 24 hours passed what was asked.")
        return _(
            "Not met: outside for {outside} of the time that could be judged, for {run} at the "
            "longest.",
            outside=outside,
            run=run,
        )
    if kept is Kept.MET:
        return _("Met at every moment measured; {share} of the dates was measured.", share=share)
    if not measured.enough or verdict.outcome is Outcome.CANNOT_TELL:
        return _("Cannot tell: only {share} of the dates was measured, or too little of a part of "
                 "them.", share=share)  # fmt: skip
    return _("Cannot tell: readings came nearer to the limits than the sensors can say.")


def measured_words(name: str, measured: Coverage) -> str:
    """Return how much of the dates was measured of one quantity."""
    silent = measured.longest_gap_h > 0.0
    gap = wording.duration(measured.longest_gap_h)
    return _(
        "{name}: {share} of the dates measured, {gap}, {readings} doubted and left out",
        name=name,
        share=wording.share(measured.valid_pct / 100.0),
        gap=_("longest gap {gap}", gap=gap) if silent else _("no gap"),
        readings=wording.plural(measured.flagged, "reading"),
    )


def gap_words(gaps: Sequence[tuple[datetime, datetime]], zone: str) -> list[str]:
    """Return when nothing was measured, the longest where there are many."""
    longest = sorted(gaps, key=lambda gap: gap[0] - gap[1])[:MOST_GAPS]
    said = [
        _(
            "{first} to {last} ({length})",
            first=wording.date_time(first, zone),
            last=wording.date_time(last, zone),
            length=wording.duration((last - first).total_seconds() / 3600.0),
        )
        for first, last in sorted(longest)
    ]
    more = len(gaps) - len(longest)
    if more:
        said.append(_("and {more} shorter ones", more=wording.number(more)))
    return said


def checks_table(verdict: LimitVerdict, zone: str) -> Table:
    """Return one row a rule: what was asked, how it stands, how long outside, the farthest."""
    return Table(
        headings=(_("Rule"), _("Asked"), _("Outcome"), _("Outside"), _("Farthest beyond")),
        rows=[_check_row(check, zone) for check in verdict.checks],
        figures=(3,),
    )


def _check_row(check: Check, zone: str) -> tuple[str, ...]:
    unit = "K" if check.variable == "temp_c" else "%RH"
    farthest = "–"
    if check.worst > 0 and check.worst_utc is not None:
        farthest = _(
            "{size}, {when}",
            size=wording.with_unit(check.worst, unit, 1),
            when=wording.date_time(check.worst_utc, zone),
        )
    outside = check.shares.outside_pct
    known = check.outcome is not Outcome.CANNOT_TELL
    return (
        wording.capital(check_name(check)),
        rule_words(check.name, check.basis),
        _(check.outcome.value),
        wording.share(outside / 100.0) if known and outside == outside else "–",
        farthest,
    )


def uncertainty_words(rh_pct: float, temp_c: float, *, rh_stated: bool, temp_stated: bool) -> str:
    """Return how uncertain a reading is, and whether a calibration says so or it is assumed."""
    stated = {
        True: _("from the calibration"),
        False: _("assumed: that of a good logger when new, for no calibration states it"),
    }
    return _(
        "±{rh} %RH ({rh_from}); ±{temp} K ({temp_from}); at k = 2. What lies nearer to a limit is "
        "counted neither as inside nor as outside.",
        rh=wording.number(rh_pct, 1),
        rh_from=stated[rh_stated],
        temp=wording.number(temp_c, 1),
        temp_from=stated[temp_stated],
    )


def number_words(number: int, corrects: int | None) -> str:
    """Return what a statement is called."""
    if corrects is None:
        return _("Climate statement {number}", number=number)
    return _("Climate statement {number}, in place of {old}", number=number, old=corrects)


def change_words(before: Sequence[Sequence[str]], now: Sequence[Sequence[str]]) -> list[str]:
    """Return what differs between two statements, line by line.

    Examples
    --------
    >>> change_words([("Asked", "40 to 60"), ("Room", "North")], [("Asked", "45 to 55")])
    ['Asked: was “40 to 60”, is “45 to 55”.', 'Room: was “North”, is left out.']
    """
    old = {row[0]: row[1] for row in before}
    new = {row[0]: row[1] for row in now}
    said = []
    for name in dict.fromkeys([*old, *new]):
        if old.get(name) == new.get(name):
            continue
        if name not in new:
            said.append(_("{name}: was “{old}”, is left out.", name=name, old=old[name]))
        elif name not in old:
            said.append(_("{name}: new, “{new}”.", name=name, new=new[name]))
        else:
            said.append(
                _("{name}: was “{old}”, is “{new}”.", name=name, old=old[name], new=new[name])
            )
    return said


def statements_answer(many: int) -> str:
    """Return how many statements were issued."""
    if not many:
        return _("No climate statement has been issued yet.")
    return _("{statements} issued; each is kept as it was.",
             statements=wording.capital(wording.plural(many, "statement")))  # fmt: skip
