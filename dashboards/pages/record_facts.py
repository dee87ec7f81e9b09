"""What the register holds, in the words of its fields: facts of an entry, changes to it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from analysis.records import REGISTER, Field, Kind, Span
from analysis.works import NEEDS_CLOSING_RH, Mount, Work
from dashboards.text import wording
from dashboards.text.messages import N_, _, translated

TAKEN_OUT = "taken out"


@dataclass(frozen=True)
class Fact:
    """One line of the record; `widens` says what the missing fact costs."""

    label: str
    words: str
    known: bool = True
    widens: str = ""


def fact(label: str, words: str, known: bool = True, widens: str = "") -> Fact:
    """Return a line of the record in the site's language."""
    return Fact(translated(label), translated(words), known, translated(widens))


def facts(fields: Sequence[Field], values: Mapping[str, Any], zone: str) -> list[Fact]:
    """Return an entry as facts; what is not known says what it costs, if it costs anything."""
    found = []
    for one in fields:
        value = values.get(one.name)
        if value is not None and value != "":
            found.append(fact(one.label, value_words(one, value, zone)))
        elif one.without:
            found.append(fact(one.label, UNKNOWN, False, one.without))
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
        return translated(UNKNOWN)
    if one.kind is Kind.WHEN:
        time = datetime.fromisoformat(value) if isinstance(value, str) else value
        # A file's bare date is midnight UTC, a page's is midnight here: both mean the day.
        clocks = (wording.local(time, zone), wording.local(time, "UTC"))
        day_only = any(not (one.hour or one.minute) for one in clocks)
        return wording.day(time, zone) if day_only else wording.when(time, zone)
    if isinstance(value, bool):
        value = _("yes") if value else _("no")
    if isinstance(value, Span) or (one.may_be_range and isinstance(value, str)):
        return _("about {value}", value=f"{value} {wording.unit_words(one.unit)}".rstrip())
    if one.kind in (Kind.CHOICE, Kind.REFERENCE):
        return translated(dict(one.choices).get(str(value), str(value)))
    if one.kind is Kind.NUMBER:
        return f"{wording.significant(float(value), 8)} {wording.unit_words(one.unit)}".strip()
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
        return wording.capital(
            _("{noun} taken out: {after}.", noun=_(noun), after=after[TAKEN_OUT])
        )
    if before is None:
        told = [
            f"{_label(one)} {value_words(one, after[one.name], zone)}"
            for one in fields
            if after.get(one.name) not in (None, "", False)
        ]
        facts = ", ".join(told[:4]) or _("without further facts")
        return wording.capital(_("{noun} added: {facts}.", noun=_(noun), facts=facts))
    told = [
        f"{_label(one)} {value_words(one, before.get(one.name), zone)}"
        f" → {value_words(one, after[one.name], zone)}"
        for one in fields
        if one.name in after and after[one.name] != before.get(one.name)
    ]
    changes = "; ".join(told) or _("changed")
    return wording.capital(f"{_(noun)}: {changes}.")


def _label(one: Field) -> str:
    return wording.uncapital(translated(one.label))


# The mount and frame record of a work as rows of words, the unknown said as such.

UNKNOWN = N_("not known")


FIELDS = {
    name: one
    for file in ("hangings.csv", "frames.csv", "mounts.csv", "works.csv")
    for name, one in REGISTER[file].fields.items()
}


def mount_record(work: Work, zone: str) -> list[Fact]:
    """Return what is known of the mount and the frame, in the order of the build."""
    return [*_sheet(work), *_mount(work, zone), *_frame(work, zone)]


def unknown_facts(work: Work, zone: str) -> list[Fact]:
    """Return only the facts nobody has written down, with what each would mend."""
    return [fact for fact in mount_record(work, zone) if not fact.known]


def _number(work: Work, name: str, label: str, decimals: int = 0, stated_as: str = "") -> Fact:
    """Return a number of the record, a range of it, or that nobody knows it."""
    one, value = FIELDS[name], getattr(work, name)
    stated = work.overrides.get(stated_as or name)
    if value is not None:
        return fact(label, wording.with_unit(value, one.unit, decimals))
    if stated is not None:
        low, high = wording.number(stated.low, decimals), wording.number(stated.high, decimals)
        return fact(
            label,
            _(
                "about {low} to {high} {unit}",
                low=low,
                high=high,
                unit=wording.unit_words(one.unit),
            ).rstrip(),
        )
    return fact(label, UNKNOWN, False, one.without)


def _kind(work: Work, name: str, label: str) -> Fact:
    """Return which kind a part of the build is, or that nobody knows it."""
    one = FIELDS[name]
    if name in work.unknown:
        return fact(label, UNKNOWN, False, one.without)
    value = str(getattr(work, name))
    return fact(label, dict(one.choices).get(value, value))


def _sheet(work: Work) -> list[Fact]:
    size = f"{wording.number(work.width_mm)} × {wording.number(work.height_mm)} mm"
    known = work.grain.value != "unknown"
    without = "" if known else FIELDS["grain"].without
    return [
        fact(_("Print"), _("{size}, width × height", size=size)),
        _kind(work, "paper", _("Paper")),
        _kind(work, "finish", _("Surface")),
        fact(_("Grain"), work.grain.value if known else UNKNOWN, known, without),
    ]


def _mount(work: Work, zone: str) -> list[Fact]:
    held = _kind(work, "mount", _("Held"))
    if work.mount is not Mount.TENSION_HELD:
        return [held]
    mounted = (
        fact(_("Mounted"), UNKNOWN, False, FIELDS["mounted_utc"].without)
        if work.mounted_utc is None
        else fact(_("Mounted"), wording.day(work.mounted_utc, zone))
    )
    return [
        held,
        _kind(work, "panel", _("Panel")),
        _kind(work, "adhesive", _("Hinges")),
        _number(work, "hinge_free_length_mm", _("Free hinge length")),
        mounted,
        _number(work, "mounted_rh_pct", _("RH at mounting")),
        _number(work, "mounted_temp_c", _("Temperature at mounting"), 1),
    ]


def _frame(work: Work, zone: str) -> list[Fact]:
    facts = [
        _kind(work, "frame", _("Frame")),
        _kind(work, "glazing", _("Glazing")),
        _number(work, "spacer_mm", _("Spacer"), stated_as="gap_mm"),
        _kind(work, "wall", _("Wall")),
    ]
    if work.frame in NEEDS_CLOSING_RH:
        facts.append(_number(work, "closing_rh_pct", _("RH at closing")))
        if work.closed_utc is not None:
            facts.append(fact(_("Closed"), wording.day(work.closed_utc, zone)))
    if work.conditioned:
        facts.append(fact(_("In the frame"), _("desiccant, gel or a unit that conditions the air")))
    if work.on_loan:
        facts.append(fact(_("Loan"), _("on loan; the lender's terms apply")))
    if work.sun_or_spot:
        facts.append(fact(_("Light"), _("sun or a spot lamp reaches it")))
    return facts
