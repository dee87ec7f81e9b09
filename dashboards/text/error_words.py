"""Errors in the site's language, and how the catalogue finds what they say.

Errors are raised where no language is known: in `analysis`, and while files are read. What they
say is English, made of whole messages with figures in them. Where an error is shown, each part is
found again by the message it was made of, and said in the site's language with the same figures;
what no message accounts for stays as it is. In the catalogue these messages have the context
``error`` and placeholders by number: ``a step of {n1} %RH``.
"""

import ast
import re
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from itertools import count
from typing import IO, Any

from babel.messages.extract import extract_python

from analysis.errors import StilltautError
from dashboards.text.messages import _, translations, way
from dashboards.text.wording import decimal_mark

CONTEXT = "error"
PARTS = ("read", "where", "found", "expected", "action", "kept", "heading")
SAYS = ("found", "expected")  # a call with one of these tells of something that went wrong
GIVEN_TO = ("CellError", "Answer", "remark")  # what is given to these first is told as well
WHOLLY_TOLD = ("_refused", "_too_large")  # whatever is given to these is told
PLACE = re.compile(r"(?<!\{)\{(n\d+)\}(?!\})")
# An error as one line, kept as such with an answer.
LINE = re.compile(
    r"(?P<place>.*?): found (?P<found>.*), expected (?P<expected>.*?)\. (?P<action>[A-Z].*)",
    re.DOTALL,
)
LETTERS = re.compile(r"[^\W\d_]{2,}")
Form = tuple[re.Pattern[str], str]
Found = tuple[Any, ...]


def error_words(text: str) -> str:
    """Return a part of an error as the site's language says it.

    Examples
    --------
    >>> error_words("a number"), error_words("a step of 3 %RH")
    ('a number', 'a step of 3 %RH')
    >>> from dashboards.text.messages import in_the_way_of
    >>> with in_the_way_of("de_DE"):
    ...     error_words("a step of 2.5 %RH")
    'ein Schritt von 2,5 % rF'
    >>> with in_the_way_of("de_DE"):
    ...     error_words("humidity: found nothing, expected a number. Correct the line.")
    'Feuchte: gefunden nichts, erwartet eine Zahl. Correct the line.'
    """
    whole, forms = _known(way())
    if text in whole:
        return whole[text]
    if line := LINE.fullmatch(text):
        return _line(line["place"].split(", "), line["found"], line["expected"], line["action"])
    for form, said in forms:
        if found := form.fullmatch(text):
            return said.format(**{name: _value(one) for name, one in found.groupdict().items()})
    if "; " in text:
        return "; ".join(map(error_words, text.split("; ")))
    return text


def problem_words(problem: StilltautError) -> str:
    """Return an error as one line in the site's language.

    Examples
    --------
    >>> problem_words(StilltautError(read="north.csv", where="line 7", found="'abc'",
    ...     expected="a number", action="Correct the line."))
    "north.csv, line 7: found 'abc', expected a number. Correct the line."
    """
    if ": found " not in str(problem):
        return error_words(str(problem))
    return _line([problem.read, problem.where], problem.found, problem.expected, problem.action)


def _line(place: Sequence[str], found: str, expected: str, action: str) -> str:
    return _(
        "{place}: found {found}, expected {expected}. {action}",
        place=", ".join(error_words(part) for part in place if part),
        found=error_words(found),
        expected=error_words(expected),
        action=error_words(action),
    )


def _value(text: str) -> str:
    if re.fullmatch(r"[-+±]?\d+\.\d+", text):
        return text.replace(".", decimal_mark())
    if "; " in text:
        return "; ".join(map(_value, text.split("; ")))
    said = error_words(text)
    if said == text and ", " in text:
        return ", ".join(error_words(part) for part in text.split(", "))
    return said


@cache
def _known(way: str) -> tuple[Mapping[str, str], Sequence[Form]]:
    """Return what errors say in a language: whole texts, and forms with the fullest first."""
    said = translations(way, CONTEXT)
    whole = {english: own for english, own in said.items() if not PLACE.search(english)}
    forms = sorted(said.keys() - whole.keys(), key=lambda one: -len(PLACE.sub("", one)))
    return whole, [(_form(one), said[one]) for one in forms if LETTERS.search(PLACE.sub("", one))]


def _form(english: str) -> re.Pattern[str]:
    """Return what matches a text that was made of a message, with its figures as groups."""
    pieces = PLACE.split(english)
    made = [
        re.escape(piece.replace("{{", "{").replace("}}", "}"))
        if at % 2 == 0
        else f"(?P<{piece}>.*?)"
        for at, piece in enumerate(pieces)
    ]
    return re.compile("".join(made), re.DOTALL)


def extract(file: IO[bytes], keywords: Any, tags: Any, options: Any) -> Iterator[Found]:
    """Yield the messages of a source file as Babel does, and what its errors say.

    Examples
    --------
    >>> from io import BytesIO
    >>> raised = b'raise StilltautError(found=f"{x:g} mm", expected="more")'
    >>> [message for _line, _name, message, _said in extract(BytesIO(raised), {}, (), {})]
    [('error', '{n1} mm'), ('error', 'more')]
    """
    yield from extract_python(file, keywords, tags, options)
    file.seek(0)
    for call in ast.walk(ast.parse(file.read())):
        if isinstance(call, ast.Call):
            for line, text in _said_by(call):
                yield line, "pgettext", (CONTEXT, text), []


def _said_by(call: ast.Call) -> Iterator[tuple[int, str]]:
    named = {one.arg: one.value for one in call.keywords}
    if named.keys() & set(SAYS) or {"read", "name", "known"} <= named.keys():
        parts = [named[part] for part in PARTS if part in named]
    elif isinstance(call.func, ast.Name) and call.func.id in GIVEN_TO:
        parts = call.args[:1]
    elif isinstance(call.func, ast.Name) and call.func.id in WHOLLY_TOLD:
        parts = call.args
    else:
        return
    for part in parts:
        for line, text in _texts(part):
            if LETTERS.search(PLACE.sub("", text)):
                yield line, text


def _texts(said: ast.expr) -> Iterator[tuple[int, str]]:
    """Yield the messages of an expression: a text, a text with figures, or one of two."""
    if isinstance(said, ast.IfExp):
        yield from _texts(said.body)
        yield from _texts(said.orelse)
    elif isinstance(said, ast.Constant) and isinstance(said.value, str):
        yield said.lineno, said.value
    elif isinstance(said, ast.JoinedStr):
        number = count(1)
        pieces = [
            str(one.value).replace("{", "{{").replace("}", "}}")
            if isinstance(one, ast.Constant)
            else f"{{n{next(number)}}}"
            for one in said.values
        ]
        yield said.lineno, "".join(pieces)
