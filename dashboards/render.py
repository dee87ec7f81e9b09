"""Pages and letters as text: the template environment and the functions that fill it."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cache
from itertools import pairwise
from typing import Any, ClassVar, Protocol

from jinja2 import Environment, PackageLoader, StrictUndefined
from markdown_it import MarkdownIt
from markdown_it.token import Token
from markupsafe import Markup, escape

from analysis.learning.grades import GRADE_WORDS
from analysis.records.inspection_records import FINDINGS
from analysis.references import status_words
from dashboards import links
from dashboards.charts.hinge import MEANING, free_length_svg
from dashboards.forms import form as forms, stated_words
from dashboards.lines import NoticeLine
from dashboards.marks import mark_and_word, mark_svg
from dashboards.offered import what_is_offered
from dashboards.pages import record_facts
from dashboards.pages.page import documented
from dashboards.text import event_words, judgement_text, parameters, sentences, spare_text, wording
from dashboards.text.account_text import ROLES
from dashboards.text.days_text import forecast_kept
from dashboards.text.messages import N_, _, counted, declined, language, translated
from dashboards.text.script_words import script_words
from dashboards.visitor import FormTokens, visitor

NAVIGATION = (
    ("week", N_("This week"), links.this_week()),
    ("round", N_("Round"), links.round_()),
    ("notices", N_("Notices"), links.notices()),
    ("bring in", N_("Bring in"), links.bring_in()),
    ("works", N_("Works"), links.works()),
    ("air", N_("Limits"), links.limits()),
    ("plan", N_("Plan"), links.plan()),
    ("guides", N_("Guides"), links.guides()),
)


_unit = re.compile(r"(?<=\d) (?=(?:%|°C|K|h|min|days?|Tagen?|mm|mrad|MB|s)\b|%|°C)|(?<=%) (?=rF\b)")


class Worded(Mapping[Any, str]):
    """Words by what they stand for, in the language of whoever reads."""

    def __init__(self, words: Mapping[Any, str]) -> None:
        self._words = words

    def __getitem__(self, key: Any) -> str:
        """Return the words."""
        return translated(self._words[key])

    def __iter__(self) -> Iterator[Any]:
        """Give what there are words for."""
        return iter(self._words)

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self._words)


class Page(Protocol):
    """What `page_html` takes: any of the dataclasses of `dashboards.pages.page`."""

    template: ClassVar[str]
    section: ClassVar[str]


def units_unbroken(value: Any) -> Any:
    """Return text with each number and its unit joined by a space that does not break.

    Examples
    --------
    >>> units_unbroken("14 %RH in 3 h").replace(chr(160), "_")
    '14_%RH in 3_h'
    """
    if isinstance(value, str) and not isinstance(value, Markup):
        return _unit.sub("\N{NO-BREAK SPACE}", value)
    return value


def page_message(message: str, /, **values: object) -> Markup:
    """Return a message for a page, escaped; what is markup already stays so, as a link within it.

    Examples
    --------
    >>> print(page_message("Is {work} still taut?", work=inline("i", "Boats & nets")))
    Is <i>Boats &amp; nets</i> still taut?
    """
    said, cased = declined(translated(message), values)
    whole = escape(units_unbroken(said))
    return whole.format(**{name: units_unbroken(value) for name, value in cased.items()})


def page_counted(one: str, more: str, many: int, /, **values: object) -> Markup:
    """Return the form of a message that the language has for so many, for a page."""
    return escape(units_unbroken(counted(one, more, many, **values)))


def inline(name: str, words: str) -> Markup:
    """Return words within an element of a sentence: ``i`` for a title, ``b``, ``code``."""
    return Markup(f"<{name}>{escape(words)}</{name}>")


def linked(address: str, words: str) -> Markup:
    """Return words that lead to an address, for a place within a sentence."""
    return Markup(f'<a href="{escape(address)}">{escape(words)}</a>')


@cache
def environment() -> Environment:
    """Return the environment of all templates: strict about names, escaping everything."""
    made = Environment(
        loader=PackageLoader("dashboards"),
        undefined=StrictUndefined,
        autoescape=True,
        finalize=units_unbroken,
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=[FormTokens],
    )
    made.globals.update(
        _=page_message,
        inline=inline,
        linked=linked,
        counted=page_counted,
        language=language,
        link=links,
        say=wording,
        units=parameters,
        sentences=sentences,
        judged=judgement_text,
        spare=spare_text,
        leave_it=judgement_text.LEAVE_IT,
        event_words=event_words,
        forecast_kept=forecast_kept,
        status_words=status_words,
        translated=translated,
        script_words=script_words,
        record=record_facts,
        forms=forms,
        stated_words=stated_words,
        mark=mark_and_word,
        bare_mark=mark_svg,
        drawn_beside={"hinge_free_length_mm": free_length_svg},
        drawn_meaning=MEANING,
        navigation=NAVIGATION,
        listings=sentences.LISTINGS,
        grades=Worded(GRADE_WORDS),
        kinds_of_finding=FINDINGS,
        finding_words=Worded(dict(FINDINGS)),
        caution=sentences.CAUTION,
        visitor=visitor,
        roles=ROLES,
    )
    return made


@cache
def plain_environment() -> Environment:
    """Return the environment of plain-text letters, which escapes nothing."""
    made = environment().overlay(autoescape=False, finalize=None)
    made.globals = {**environment().globals, "_": _}
    return made


def received(page: Any) -> dict[str, Any]:
    """Return what a page's template receives: its fields, nothing else."""
    return {f.name: getattr(page, f.name) for f in fields(page)}


def page_html(page: Page) -> str:
    """Return a page as HTML.

    Parameters
    ----------
    page : one of `dashboards.pages.page`
        Every field must be filled; the template sees these names and no others. What its reader
        may not use is left out.
    """
    template = environment().get_template(page.template)
    return what_is_offered(template.render(section=page.section, **received(page)), visitor())


# What a letter by e-mail receives, documented like a page.

# ruff: noqa: RUF009  (each field calls `documented`, which makes a new field every time)


@dataclass(frozen=True)
class Letter:
    """A letter about one notice: one screen of a phone, safe for a person who is no specialist."""

    template: ClassVar[str] = "mail/notice"
    zone: str = documented("IANA zone of the site")
    notice: NoticeLine = documented("The notice")
    address: str = documented("Full address of the notice's page, or empty where none is known")


def letter_text(letter: Letter) -> str:
    """Return a letter as plain text."""
    return plain_environment().get_template(f"{letter.template}.txt").render(**received(letter))


def letter_html(letter: Letter) -> str:
    """Return a letter as simple HTML, readable without its styles."""
    return environment().get_template(f"{letter.template}.html").render(**received(letter))


def guide_html(markdown: str) -> Markup:
    """Return a guide of `dashboards/guides` as HTML; raw HTML in it stays text.

    Every cell of a table carries its heading, so that a phone may show rows as short lists.
    """
    reader = MarkdownIt("commonmark", {"html": False, "typographer": False}).enable("table")
    tokens = reader.parse(markdown)
    _label_cells(tokens)
    _let_pictures_be_reached(tokens)
    # our own guides; the reader escapes raw HTML
    return Markup(reader.renderer.render(tokens, reader.options, {}))


def _let_pictures_be_reached(tokens: Sequence[Token]) -> None:
    """Let the keyboard reach a picture that scrolls on a small screen."""
    for token, content in pairwise(tokens):
        pictured = any(part.type == "image" for part in content.children or ())
        if token.type == "paragraph_open" and pictured:
            token.attrSet("tabindex", "0")


def _label_cells(tokens: Sequence[Token]) -> None:
    headings: list[str] = []
    column = 0
    for token, content in pairwise(tokens):
        if token.type == "table_open":
            headings = []
            token.attrSet("class", "stack")
        elif token.type == "th_open":
            headings.append("".join(part.content for part in content.children or ()))
        elif token.type == "tr_open":
            column = 0
        elif token.type == "td_open":
            token.attrSet("data-label", headings[column])
            column += 1


def letter_subject(letter: Letter) -> str:
    """Return the subject of a letter: the room and what it is about, in few words."""
    notice = letter.notice
    since = wording.day_time(notice.since_utc, letter.zone)
    if notice.ended_utc is not None:
        return _("{room}: over, since {since}", room=notice.room_name, since=since)
    return _(
        "{room}: {what}, since {since}", room=notice.room_name, what=_(notice.kind), since=since
    )
