"""What was sent with a form of the register, read into values, with a sentence for each fault.

The cells' own reader is used, so that a page and a file take the same words and the same numbers.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from analysis.errors import StilltautError
from dashboards.forms.form import CLOCK, Field, Kind
from dashboards.text.wording import capital
from service.register.register_text import disagreements
from service.storage.register_cells import CellError, text_of, value_of

# 1,500 may be one and a half or fifteen hundred.
EITHER = re.compile(r"[+-]?\d{1,3},\d{3}")


@dataclass(frozen=True)
class Sent:
    """The values of a form, and for each field that is wrong a sentence that says how."""

    values: dict[str, Any]
    problems: dict[str, str] = field(default_factory=dict)


def read_form(
    file: str,
    fields: Sequence[Field],
    sent: Mapping[str, str],
    zone: str,
    before: Mapping[str, Any] | None = None,
) -> Sent:
    """Return what a form says; empty fields have no value.

    Parameters
    ----------
    file : str
        The register's file whose columns the fields fill.
    zone : str
        IANA zone in which times were written.
    before : mapping of str to value, optional
        What stood in the form when it was shown: an untouched field keeps it to the last digit.
    """
    found = Sent({})
    shown = texts(fields, before or {}, zone)
    for one in fields:
        text, clock = sent.get(one.name, "").strip(), sent.get(one.name + CLOCK, "").strip()
        stood = (_in_an_input(shown[one.name]), shown.get(one.name + CLOCK, ""))
        untouched = (_in_an_input(text), clock) == stood
        if before is not None and untouched and text:
            found.values[one.name] = before[one.name]
            continue
        try:
            value = _value(file, one, text, clock, zone)
        except CellError as problem:
            found.problems[one.name] = str(problem)
            continue
        if value is not None:
            found.values[one.name] = value
    for column, what, expected in disagreements(file, found.values):
        found.problems.setdefault(column, found_expected(what, expected))
    return found


def texts(fields: Sequence[Field], values: Mapping[str, Any], zone: str) -> dict[str, str]:
    """Return what stands in the inputs of a form that shows these values."""
    shown: dict[str, str] = {}
    for one in fields:
        value = values.get(one.name)
        if one.kind is Kind.WHEN and value is not None:
            here = value.astimezone(ZoneInfo(zone))
            shown[one.name] = f"{here:%Y-%m-%d}"
            shown[one.name + CLOCK] = f"{here:%H:%M}" if here.hour or here.minute else ""
        else:
            shown[one.name] = text_of(value)
    return shown


def _in_an_input(text: str) -> str:
    """Return a text as a browser's one-line input holds it: it drops the ends of lines."""
    return text.replace("\r", "").replace("\n", "").strip()


def problem_at(problem: StilltautError, fields: Sequence[Field], otherwise: str) -> dict[str, str]:
    """Return an error as the sentence of the field it is about, or of another one."""
    names = [one.name for one in fields]
    where = problem.where if problem.where in names else otherwise
    return {where: f"{found_expected(problem.found, problem.expected)} {problem.action}"}


def found_expected(found: str, expected: str) -> str:
    """Return what stands there and what should, as one sentence.

    Examples
    --------
    >>> found_expected("'wide'", "a number above 0")
    "Found 'wide'; expected a number above 0."
    """
    return f"{capital(f'found {found}; expected {expected}')}."


def _value(file: str, one: Field, text: str, clock: str, zone: str) -> Any:
    if not text:
        if clock:
            raise CellError(found_expected(f"a time of day, {clock}, without a date", "both"))
        if one.required:
            raise CellError("This is needed.")
        return None
    try:
        if one.kind is Kind.WHEN:
            return _instant(text, clock, zone)
        if one.kind is Kind.NUMBER:
            return number(file, one.name, text)
        return value_of(file, one.name, text)
    except CellError as problem:
        raise CellError(found_expected(repr(f"{text} {clock}".strip()), str(problem))) from None


def number(file: str, column: str, text: str) -> float:
    """Return a number written with a decimal point or a decimal comma.

    Raises
    ------
    CellError
        If it is none, or may be read in two ways.
    """
    if EITHER.fullmatch(text) and not text.lstrip("+-").startswith("0,"):
        plain = text.replace(",", "")
        raise CellError(f"{plain} or {text.replace(',', '.')}: the comma may mean either")
    return float(value_of(file, column, text, decimal_comma="," in text))


def _instant(text: str, clock: str, zone: str) -> datetime:
    """Return an instant from a date and a time of day in a zone; without one, its midnight."""
    try:
        local = datetime.fromisoformat(f"{text}T{clock or '00:00'}")
    except ValueError:
        raise CellError("a date such as 2026-02-12, and a time such as 14:30") from None
    if local.tzinfo is not None:
        raise CellError("a date and a time of day, without a zone")
    instant = local.replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)
    if clock and instant.astimezone(ZoneInfo(zone)).replace(tzinfo=None) != local:
        raise CellError("a time that the clocks showed that day: they were put forward over it")
    return instant
