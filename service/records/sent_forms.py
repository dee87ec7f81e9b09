"""What was sent with a form of the register, read into values, with a sentence for each fault.

The cells' own reader is used, so that a page and a file take the same words and the same numbers.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from analysis.errors import StilltautError
from analysis.records import Declaration, Field, Kind, Span, faults_of
from analysis.records.cells import CellError, text_of, value_of
from dashboards.forms.form import CLOCK, HIGH, LOW
from dashboards.text.error_words import error_words
from dashboards.text.messages import N_, _

Texts = Mapping[str, str]
NEEDED = N_("This is needed.")


@dataclass(frozen=True)
class Sent:
    """The values of a form, and for each field that is wrong a sentence that says how."""

    values: dict[str, Any]
    problems: dict[str, str] = field(default_factory=dict)


def read_form(
    fields: Sequence[Field],
    sent: Texts,
    zone: str,
    before: Mapping[str, Any] | None = None,
    *,
    declaration: Declaration | None = None,
) -> Sent:
    """Return what a form says; empty fields have no value.

    Parameters
    ----------
    zone : str
        IANA zone in which times were written.
    before : mapping of str to value, optional
        What stood in the form when it was shown: an untouched field keeps it to the last digit.
    declaration : Declaration, optional
        Of the record that the form fills: what must hold between two of its fields.
    """
    found = Sent({})
    shown = texts(fields, before or {}, zone)
    for one in fields:
        told = _inputs(one.name, sent)
        if before is not None and any(told) and told == _inputs(one.name, shown):
            found.values[one.name] = before[one.name]
            continue
        try:
            value = _value(one, *told, zone)
        except CellError as problem:
            found.problems[one.name] = str(problem)
            continue
        if value is not None:
            found.values[one.name] = value
    if declaration is not None:
        for wrong in faults_of(declaration, found.values):
            where = wrong.field if wrong.field in [one.name for one in fields] else fields[0].name
            found.problems.setdefault(where, found_expected(wrong.found, wrong.expected))
    if "who" in sent and not sent["who"].strip():
        found.problems["who"] = _(NEEDED)
    return found


def texts(fields: Sequence[Field], values: Mapping[str, Any], zone: str) -> dict[str, str]:
    """Return what stands in the inputs of a form that shows these values."""
    shown: dict[str, str] = {}
    for one in fields:
        value = values.get(one.name)
        if isinstance(value, Span):
            shown[one.name + LOW], shown[one.name + HIGH] = text_of(value.low), text_of(value.high)
        elif one.kind is Kind.WHEN and value is not None:
            here = value.astimezone(ZoneInfo(zone))
            shown[one.name] = f"{here:%Y-%m-%d}"
            shown[one.name + CLOCK] = f"{here:%H:%M}" if here.hour or here.minute else ""
        else:
            shown[one.name] = text_of(value)
    return shown


def _inputs(name: str, sent: Texts) -> tuple[str, str, str, str]:
    """Return the text of a field, its clock, and the ends of its range, as a browser holds them."""
    text, clock, low, high = (sent.get(name + end, "") for end in ("", CLOCK, LOW, HIGH))
    plain = text.replace("\r\n", "\n").replace("\r", "\n").strip()
    return plain, clock.strip(), low.strip(), high.strip()


def problem_at(problem: StilltautError, fields: Sequence[Field], otherwise: str) -> dict[str, str]:
    """Return an error as the sentence of the field it is about, or of another one."""
    names = [one.name for one in fields]
    where = problem.where if problem.where in names else otherwise
    return {
        where: f"{found_expected(problem.found, problem.expected)} {error_words(problem.action)}"
    }


def found_expected(found: str, expected: str) -> str:
    """Return what stands there and what should, as one sentence.

    Examples
    --------
    >>> found_expected("'wide'", "a number above 0")
    "Found 'wide'; expected a number above 0."
    """
    return _(
        "Found {found}; expected {expected}.",
        found=error_words(found),
        expected=error_words(expected),
    )


def _value(one: Field, text: str, clock: str, low: str, high: str, zone: str) -> Any:
    if low or high:
        text = _range_text(one, text, low, high)
    if not text:
        if clock:
            raise CellError(
                found_expected(_("a time of day, {clock}, without a date", clock=clock), _("both"))
            )
        if one.needed:
            raise CellError(_(NEEDED))
        return None
    try:
        return _instant(one, text, clock, zone) if one.kind is Kind.WHEN else _plain(one, text)
    except CellError as problem:
        raise CellError(found_expected(repr(f"{text} {clock}".strip()), str(problem))) from None


def _plain(one: Field, text: str) -> Any:
    return value_of(one, text, mark="either")


def _range_text(one: Field, text: str, low: str, high: str) -> str:
    """Return a range as it stands in a cell, from its two ends."""
    if text:
        both = _(
            "{text}, and about {low} to {high}", text=repr(text), low=low or "…", high=high or "…"
        )
        raise CellError(found_expected(both, _("either the number or the range")))
    if not (low and high):
        raise CellError(
            found_expected(_("one end of a range, {end}", end=low or high), _("both ends"))
        )
    return f"{low} to {high}"


def _instant(one: Field, text: str, clock: str, zone: str) -> datetime:
    """Return an instant from a date and a time of day in a zone; without one, its midnight."""
    try:
        local = datetime.fromisoformat(f"{text}T{clock or '00:00'}")
    except ValueError:
        raise CellError(_("a date such as 2026-02-12, and a time such as 14:30")) from None
    if local.tzinfo is not None:
        raise CellError(_("a date and a time of day, without a zone"))
    try:
        instant = local.replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)
    except OverflowError:
        raise CellError(one.expected) from None
    if not one.sound(instant):
        raise CellError(one.expected)
    if clock and instant.astimezone(ZoneInfo(zone)).replace(tzinfo=None) != local:
        raise CellError(_("a time that the clocks showed that day: they were put forward over it"))
    return instant
