"""Forms as data: what each field asks, in which unit, by which example, and what it holds."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from babel.dates import format_date

from analysis.records import Field, Kind
from dashboards.text.messages import _, locale, translated
from dashboards.text.wording import capital, plural, significant, unit_words

YES_NO = (("no", "no"), ("yes", "yes"))
CLOCK = "_clock"  # ends the name of the time of day that stands beside a date
LOW, HIGH = "_low", "_high"  # end the names of the ends of a range beside a number


@dataclass(frozen=True)
class FilledField:
    """A field with what stands in it, and what is wrong with that.

    ``clock`` is the time of day beside a date, ``low`` and ``high`` the range beside a number.
    """

    field: Field
    text: str = ""
    clock: str = ""
    low: str = ""
    high: str = ""
    problem: str = ""


@dataclass(frozen=True)
class FieldGroup:
    """Some fields under a heading; ``folded`` ones open on request."""

    heading: str
    fields: Sequence[FilledField]
    folded: bool = False


@dataclass(frozen=True)
class RecordForm:
    """A form to be sent to ``action``; ``more`` holds further buttons as name, value, words."""

    action: str
    groups: Sequence[FieldGroup]
    button: str
    hidden: Mapping[str, str] = field(default_factory=dict)
    problem: str = ""
    more: Sequence[tuple[str, str, str]] = ()

    @property
    def problems(self) -> int:
        """How many fields hold something that cannot be."""
        return sum(bool(one.problem) for group in self.groups for one in group.fields)


def filled(
    fields: Sequence[Field], sent: Mapping[str, str], problems: Mapping[str, str] | None = None
) -> list[FilledField]:
    """Return fields with what was sent in them, and what is wrong with it."""
    wrong = problems or {}
    return [
        FilledField(
            one,
            text=sent.get(one.name, ""),
            clock=sent.get(one.name + CLOCK, ""),
            low=sent.get(one.name + LOW, ""),
            high=sent.get(one.name + HIGH, ""),
            problem=wrong.get(one.name, ""),
        )
        for one in fields
    ]


def with_choices(one: Field, choices: Sequence[tuple[str, str]]) -> Field:
    """Return a field with the choices that only the register knows, such as its rooms."""
    return one.model_copy(update={"choices": tuple(choices)})


def choices_of(one: Field) -> tuple[tuple[str, str], ...]:
    """Return what may be chosen in a field: value sent, words shown; `Field.empty` for none."""
    choices = YES_NO if one.kind is Kind.YES_NO else one.choices
    return (("", _(one.empty)), *choices) if one.may_be_unknown else choices


def must_choose(one: Field) -> bool:
    """Whether a choice has no usual value: somebody has to make it."""
    return one.needed and len(one.choices) > 1


YOUR_NAME = Field(
    name="who",
    label="Your name",
    example="A. Person",
    help="Stands beside this change in the record.",
    needed=True,
    remember=True,
)
"""Who sends a form; every change of the register keeps it."""


def hint(one: Field) -> str:
    """Return the line under a field: an example, what helps, what not knowing costs.

    Examples
    --------
    >>> spacer = Field(
    ...     label="Spacer", kind=Kind.NUMBER, unit="mm", example="12", without="a guess is taken"
    ... )
    >>> hint(spacer)
    'For example 12 mm. Not known: leave it empty; a guess is taken.'
    """
    example = ""
    if one.example and not _chosen(one):
        example = _("For example {example}.", example=example_words(one))
    helps = _(one.help) if one.help else ""
    return " ".join(part for part in (example, helps, _cost(one)) if part)


def _cost(one: Field) -> str:
    """Return what it costs that nobody knows it."""
    if not one.without or one.needed:
        return ""
    if _chosen(one):
        return _("Not known: {without}.", without=_(one.without))
    return _("Not known: leave it empty; {without}.", without=_(one.without))


def example_words(one: Field) -> str:
    """Return a field's example as people write it.

    Examples
    --------
    >>> example_words(Field(label="Since", kind=Kind.WHEN, example="2024-11-05"))
    '5 November 2024'
    """
    if one.kind is Kind.WHEN:
        return format_date(date.fromisoformat(one.example[:10]), "long", locale=locale())
    if one.kind is not Kind.NUMBER:
        return translated(one.example)
    plain = re.fullmatch(r"-?[0-9.]+", one.example) is not None
    number = significant(float(one.example), 8) if plain else one.example
    return f"{number} {unit_words(one.unit)}".strip()


def _chosen(one: Field) -> bool:
    return one.kind in (Kind.CHOICE, Kind.YES_NO, Kind.REFERENCE)


def problems_words(many: int) -> str:
    """Return the sentence above a form that came back.

    Examples
    --------
    >>> problems_words(1)
    'One field needs another look. Nothing is stored yet; what you typed is still here.'
    """
    fields = capital(plural(many, "field needs", "fields need"))
    return _(
        "{fields} another look. Nothing is stored yet; what you typed is still here.", fields=fields
    )
