"""Whole sentences with named placeholders, in the language and the way of the site.

Every sentence of the program is written in English where it is used, as ``_("… {name} …",
name=…)``. The English text is the key of the catalogue, as with GNU gettext, so that another
language is a file of messages and no change of code.
"""

import gettext
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from io import BytesIO

from babel import Locale
from babel.messages import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

BRITISH = "en_GB"
DATIVE = re.compile(r"\{(\w+)!d\}")
# German nouns that are counted and whose plural takes an n in the dative.
PLURAL = re.compile(
    r"\b(Tage|Jahre|Monate|Räume|Abzüge|Werke|Messwerte|Fälze|Logger|Blicke|Plätze)\b"
)
_way: ContextVar[str] = ContextVar("way of the site", default=BRITISH)


def _(message: str, /, **values: object) -> str:
    """Return a message in the site's language, its placeholders filled.

    Examples
    --------
    >>> _("Look again by {day}.", day="Friday")
    'Look again by Friday.'
    """
    return filled(translated(message), values)


def translated(message: str) -> str:
    """Return a message in the site's language, its placeholders still to be filled."""
    return catalogue(_way.get()).gettext(message) if message else ""


def N_(message: str) -> str:
    """Mark a message that is kept as a constant and worded where it is used, as ``_(CONSTANT)``.

    Examples
    --------
    >>> N_("nobody has seen it yet")
    'nobody has seen it yet'
    """
    return message


class Worded(Mapping[str, str]):
    """Messages kept as constants by a key, each worded as it is looked up.

    Examples
    --------
    >>> Worded({"seen": N_("seen on a round")})["seen"]
    'seen on a round'
    """

    def __init__(self, messages: Mapping[str, str]) -> None:
        self._messages = dict(messages)

    def __getitem__(self, key: str) -> str:
        """Return the message of a key as the site words it."""
        return translated(self._messages[key])

    def __iter__(self) -> Iterator[str]:
        """Go through the keys."""
        return iter(self._messages)

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self._messages)


def counted(one: str, more: str, many: int, /, **values: object) -> str:
    """Return the form of a message that the language has for so many; ``{many}`` is the number.

    Examples
    --------
    >>> counted("{many} letter waits", "{many} letters wait", 2)
    '2 letters wait'
    """
    found = catalogue(_way.get()).ngettext(one, more, many)
    return filled(found, {"many": many, **values})


def filled(said: str, values: Mapping[str, object]) -> str:
    """Return a translation with its placeholders filled, those of ``!d`` in the dative.

    Examples
    --------
    >>> filled("in {rooms!d}", {"rooms": "drei Räume"})
    'in drei Räumen'
    """
    said, values = declined(said, values)
    return said.format(**values)


def declined(said: str, values: Mapping[str, object]) -> tuple[str, dict[str, object]]:
    """Return a translation without its cases, and the values with a form for each case.

    A German preposition asks for the dative, which a counted noun shows: a translator writes
    ``in {rooms!d}``.
    """
    cased = {f"{name}_d": _dative(str(values[name])) for name in DATIVE.findall(said)}
    return DATIVE.sub(r"{\1_d}", said), {**values, **cased}


def _dative(words: str) -> str:
    return PLURAL.sub(r"\1n", words)


def in_context(context: str, message: str) -> str:
    """Return a message that has another meaning elsewhere, such as "no" before a noun."""
    return catalogue(_way.get()).pgettext(context, message)


@cache
def catalogue(way: str) -> gettext.NullTranslations:
    """Return the messages of a language, read from its ``.po``; English where there are none."""
    read = _read(way)
    if read is None:
        return gettext.NullTranslations()
    compiled = BytesIO()
    write_mo(compiled, read)
    compiled.seek(0)
    return gettext.GNUTranslations(compiled)


def _read(way: str) -> Catalog | None:
    source = _source(way)
    if not source.is_file():
        return None
    with source.open("rb") as file:
        return read_po(file)


def _source(way: str) -> Traversable:
    return files("dashboards.text") / "languages" / f"{_locale(way).language}.po"


def translations(way: str, context: str) -> dict[str, str]:
    """Return every message of a context with its translation, as they are kept."""
    return {
        str(one.id): str(one.string)
        for one in _read(way) or ()
        if one.context == context and one.id and one.string
    }


def way() -> str:
    """Return the language and country in force: ``en_GB``, ``de_DE``."""
    return _way.get()


def locale() -> Locale:
    """Return the language and the way of numbers and dates in force."""
    return _locale(_way.get())


def locale_of_words() -> Locale:
    """Return the locale of words in dates and lists: that of the language of sentences."""
    house = locale()
    return house if house.language == language() else _locale(BRITISH)


@cache
def _locale(way: str) -> Locale:
    return Locale.parse(way)


def has_catalogue(way: str) -> bool:
    """Return whether there are translations for a language and country: ``de_AT``.

    Examples
    --------
    >>> has_catalogue("de_AT"), has_catalogue("fr_FR")
    (True, False)
    """
    return _source(way).is_file()


def language() -> str:
    """Return the language of sentences by its two letters: the house's, where it has a catalogue.

    Examples
    --------
    >>> language()
    'en'
    """
    words = catalogue(_way.get())
    return str(locale().language) if isinstance(words, gettext.GNUTranslations) else "en"


@contextmanager
def in_the_way_of(way: str) -> Iterator[None]:
    """Word everything within as one language and country do: ``en_GB``, ``en_US``, ``en_NL``.

    Examples
    --------
    >>> with in_the_way_of("en_US"):
    ...     locale().territory
    'US'
    """
    token = _way.set(str(_locale(way)))
    try:
        yield
    finally:
        _way.reset(token)
