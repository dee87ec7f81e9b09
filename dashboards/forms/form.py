"""Forms as data: what each field asks, in which unit, by which example, and what it holds."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

from dashboards.text.wording import capital, plural


class Kind(StrEnum):
    """How a field is filled in."""

    TEXT = "text"
    NUMBER = "number"
    CHOICE = "choice"
    WHEN = "when"


@dataclass(frozen=True)
class Field:
    """One field: its words, and what not knowing it costs.

    Parameters
    ----------
    name : str
        Name of the column it fills, and of the input.
    without : str
        What it costs not to know, as the end of a sentence; for fields that may stay empty.
    choices : tuple of (str, str)
        Value sent and words shown; an empty value stands for "not known".
    """

    name: str
    label: str
    kind: Kind = Kind.TEXT
    unit: str = ""
    example: str = ""
    help: str = ""
    without: str = ""
    required: bool = False
    choices: tuple[tuple[str, str], ...] = ()
    remember: bool = False


@dataclass(frozen=True)
class FilledField:
    """A field with what stands in it, and what is wrong with that.

    ``clock`` is the time of day beside a date.
    """

    field: Field
    text: str = ""
    clock: str = ""
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


CLOCK = "_clock"  # ends the name of the time of day that stands beside a date


def filled(
    fields: Sequence[Field], sent: Mapping[str, str], problems: Mapping[str, str] | None = None
) -> list[FilledField]:
    """Return fields with what was sent in them, and what is wrong with it."""
    wrong = problems or {}
    return [
        FilledField(
            one,
            sent.get(one.name, ""),
            sent.get(one.name + CLOCK, ""),
            wrong.get(one.name, ""),
        )
        for one in fields
    ]


def with_choices(one: Field, choices: Sequence[tuple[str, str]]) -> Field:
    """Return a field with the choices that only the register knows, such as its rooms."""
    return replace(one, choices=tuple(choices))


YOUR_NAME = Field(
    "who",
    "Your name",
    example="A. Person",
    help="Stands beside this change in the record.",
    required=True,
    remember=True,
)
"""Who sends a form; every change of the register keeps it."""


def hint(one: Field) -> str:
    """Return the line under a field: an example, what helps, what not knowing costs.

    Examples
    --------
    >>> hint(Field("spacer_mm", "Spacer", Kind.NUMBER, "mm", "12", without="a guess is taken"))
    'For example 12 mm. Not known: leave it empty; a guess is taken.'
    """
    unit = one.unit if " " not in one.example else ""
    example = f"For example {one.example} {unit}".rstrip() + "." if one.example else ""
    cost = f"Not known: leave it empty; {one.without}." if one.without else ""
    return " ".join(part for part in (example, one.help, cost) if part)


def problems_words(many: int) -> str:
    """Return the sentence above a form that came back.

    Examples
    --------
    >>> problems_words(1)
    'One field needs another look. Nothing is stored yet; what you typed is still here.'
    """
    fields = capital(plural(many, "field needs", "fields need"))
    return f"{fields} another look. Nothing is stored yet; what you typed is still here."
