"""The page of what works teach each other: what its template receives, and its words."""

# ruff: noqa: RUF009  (each field calls `documented`, which makes a new field every time)

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, ClassVar

from analysis.learning.class_knowledge import ClassSummary
from analysis.results import Range
from analysis.simulation.drawn_parameters import UNITS
from analysis.works import FRAME_WORDS, Borrowed, FrameBuild, Work
from dashboards.forms.stated_words import label, range_text
from dashboards.lines import Table
from dashboards.pages.page import documented
from dashboards.text import wording
from dashboards.text.messages import N_, _


@dataclass(frozen=True)
class ClassesPage:
    """What was measured of some works and narrows it for others of their kind."""

    template: ClassVar[str] = "classes.html"
    section: ClassVar[str] = "works"
    answer: str = documented("Whether anything is lent, and of when it is, in one sentence")
    table: Table | None = documented("The classes: usual range, and what they lend; None: nothing")
    notes: Sequence[str] = documented("What is shared and what is not, in sentences")
    on: bool = documented("Whether works teach each other in this house")
    saved: str = documented("A sentence after a form was sent, or empty", default="")


HEADINGS = (
    N_("Number"),
    N_("Of which works"),
    N_("Usual range"),
    N_("What the class lends"),
    N_("Measured of"),
)
ONLY_MEASURED = N_(
    "Only what was measured is shared: strips of offcuts, half-times of frames and boards, lengths "
    "of waves, free lengths and shares of hinges. Grades are not: on invented works they could not "
    "tell alike works from unlike ones. A work with a number of its own keeps it."
)


def answer_words(
    summaries: Sequence[ClassSummary], version: int, made_utc: datetime | None, on: bool, zone: str
) -> str:
    """Return whether anything is lent, and of when it is."""
    if not on:
        return _("Nothing: it is switched off, and every work is estimated by itself.")
    if not summaries or made_utc is None:
        return _("Nothing yet: no number has been measured of any work of a known kind.")
    numbers = wording.plural(len(summaries), "range")
    return _(
        "{numbers}, version {version} of {when}.",
        numbers=wording.capital(numbers),
        version=version,
        when=wording.date_time(made_utc, zone),
    )


def table(rows: Sequence[tuple[ClassSummary, Range]]) -> Table:
    """Return the classes with the tables' range and what they lend."""
    return Table(
        [_(heading) for heading in HEADINGS], [_row(one, usual) for one, usual in rows], "", (2, 3)
    )


def _row(one: ClassSummary, usual: Range) -> tuple[str, ...]:
    measured = wording.plural(len(one.works), "work") if one.works else _("none here")
    begun = _("; began with {prior}", prior=one.prior) if one.prior else ""
    return (
        label(one.name),
        kind_words(one.kind),
        range_text(one.name, usual.mid, usual.low, usual.high),
        range_text(one.name, one.value, one.low, one.high),
        f"{measured}{begun}",
    )


def kind_words(kind: Sequence[tuple[str, str]]) -> str:
    """Return what makes a class, in words.

    Examples
    --------
    >>> kind_words((("paper", "fibre base"), ("finish", "matt")))
    'fibre base, matt'
    """
    return ", ".join(_(FRAME_WORDS[FrameBuild(v)] if f == "frame" else v) for f, v in kind)


def borrowed_words(work: Work) -> list[str]:
    """Return what a work borrows from others of its kind, a sentence for each number."""
    return [_borrowed(name, one) for name, one in _lent(work)]


def borrowed_values(work: Work) -> list[dict[str, Any]]:
    """Return what a work borrows as plain values, each with its sentence."""
    return [
        {
            "name": name,
            "unit": UNITS[name],
            "low": one.low,
            "value": one.value,
            "high": one.high,
            "kind": dict(one.kind),
            "works": list(one.works),
            "origin": one.origin,
            "sentence": _borrowed(name, one),
        }
        for name, one in _lent(work)
    ]


def _lent(work: Work) -> list[tuple[str, Borrowed]]:
    lent = [(name, work.lent(name)) for name in work.borrowed]
    return [(name, one) for name, one in lent if one is not None]


def _borrowed(name: str, one: Borrowed) -> str:
    whose = wording.plural(len(one.works), "other work") if one.works else _("another museum")
    return _(
        "{what}: {range}, borrowed from {whose} ({kind}), {origin}.",
        what=label(name),
        range=range_text(name, one.value, one.low, one.high),
        whose=whose,
        kind=kind_words(one.kind),
        origin=one.origin,
    )
