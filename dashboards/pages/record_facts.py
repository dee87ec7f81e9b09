"""What the register holds, in the words of its fields: facts of an entry, changes to it."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from analysis.records import Field, Kind, Span
from dashboards.pages.mount_record import UNKNOWN, Fact
from dashboards.text import wording
from dashboards.text.messages import _

TAKEN_OUT = "taken out"


def facts(fields: Sequence[Field], values: Mapping[str, Any], zone: str) -> list[Fact]:
    """Return an entry as facts; what is not known says what it costs, if it costs anything."""
    found = []
    for one in fields:
        value = values.get(one.name)
        if value is not None and value != "":
            found.append(Fact(one.label, value_words(one, value, zone)))
        elif one.without:
            found.append(Fact(one.label, UNKNOWN, False, one.without))
    return found


def value_words(one: Field, value: Any, zone: str) -> str:
    """Return a value as people read it.

    Examples
    --------
    >>> spacer = Field(label="Spacer", kind=Kind.NUMBER, unit="mm", may_be_range=True)
    >>> value_words(spacer, 12.5, "UTC"), value_words(spacer, Span(10, 14), "UTC")
    ('12.5 mm', 'about 10 to 14 mm')
    """
    if value is None or value == "":
        return UNKNOWN
    if one.kind is Kind.WHEN:
        time = datetime.fromisoformat(value) if isinstance(value, str) else value
        # A file's bare date is midnight UTC, a page's is midnight here: both mean the day.
        clocks = (wording.local(time, zone), wording.local(time, "UTC"))
        day_only = any(not (one.hour or one.minute) for one in clocks)
        return wording.day(time, zone) if day_only else wording.when(time, zone)
    if isinstance(value, bool):
        value = "yes" if value else "no"
    if isinstance(value, Span) or (one.may_be_range and isinstance(value, str)):
        return f"about {value} {one.unit}".rstrip()
    if one.kind in (Kind.CHOICE, Kind.REFERENCE):
        return dict(one.choices).get(str(value), str(value))
    if one.kind is Kind.NUMBER:
        return f"{wording.significant(float(value), 8)} {one.unit}".strip()
    return str(value)


def change_words(
    noun: str,
    fields: Sequence[Field],
    before: Mapping[str, Any] | None,
    after: Mapping[str, Any] | None,
    zone: str,
) -> str:
    """Return one change to a record as a sentence.

    Examples
    --------
    >>> width = Field(name="width_mm", label="Width", kind=Kind.NUMBER, unit="mm")
    >>> change_words("the print", [width], {"width_mm": 1500}, {"width_mm": 1510}, "UTC")
    'The print: width 1500 mm → 1510 mm.'
    """
    after = after or {}
    if TAKEN_OUT in after:
        return wording.capital(_("{noun} taken out: {after}.", noun=noun, after=after[TAKEN_OUT]))
    if before is None:
        told = [
            f"{_label(one)} {value_words(one, after[one.name], zone)}"
            for one in fields
            if after.get(one.name) not in (None, "", False)
        ]
        return wording.capital(f"{noun} added: {', '.join(told[:4]) or 'without further facts'}.")
    told = [
        f"{_label(one)} {value_words(one, before.get(one.name), zone)}"
        f" → {value_words(one, after[one.name], zone)}"
        for one in fields
        if one.name in after and after[one.name] != before.get(one.name)
    ]
    return wording.capital(f"{noun}: {'; '.join(told) or 'changed'}.")


def _label(one: Field) -> str:
    return one.label[:1].lower() + one.label[1:]
