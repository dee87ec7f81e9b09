"""The open notices as text for a terminal, newest first."""

import textwrap
from collections.abc import Iterator, Sequence

from dashboards.lines import NoticeLine
from dashboards.text import sentences, wording
from dashboards.text.messages import _, counted
from service.notices.causes import Kind
from service.notices.lines import lines_of
from service.storage import places
from service.storage.notices import open_notices
from service.storage.outbox import letters
from service.storage.register import Register

WIDTH = 88
INDENT = "   "


def notices_text(register: Register) -> str:
    """Return the open notices as text, with what waits in the outbox."""
    lines = lines_of(register, open_notices(register))
    zone = next((site.zone for site in places.sites(register)), "UTC")
    parts = [sentences.notices_answer(lines)]
    parts += ["\n".join(_notice(line, zone)) for line in lines]
    if waiting := letters_words(register):
        parts.append(waiting)
    if lines:
        parts.append(sentences.CAUTION)
    return "\n\n".join(parts)


def letters_words(register: Register) -> str:
    """Return how many letters wait and why, or an empty text."""
    waiting = letters(register, only_waiting=True)
    if not waiting:
        return ""
    many = len(waiting)
    count = wording.capital(wording.count(many))
    said = counted(
        "{count} letter waits to be sent", "{count} letters wait to be sent", many, count=count
    )
    errors = [letter.last_error for letter in waiting if letter.last_error]
    return f"{said}; {errors[-1]}." if errors else f"{said}."


def _notice(line: NoticeLine, zone: str) -> Iterator[str]:
    yield f"{line.room_name} – {line.kind}, since {wording.date_time(line.since_utc, zone)}"
    for text in (line.what, _seen(line), line.felt, line.lead):
        if text:
            yield _wrapped(text)
    yield from _numbered("Look in this order:", [f"{w.title}: {w.reason}" for w in line.works])
    yield from _numbered("Now:", line.do_now)


def _seen(line: NoticeLine) -> str:
    if not line.sensor or line.kind == Kind.NO_DATA:
        return ""
    if line.kind == Kind.WORKS:
        return _("The air is measured by {sensor}.", sensor=line.sensor)
    confirmed = (
        _("confirmed by {confirmed_by}", confirmed_by=line.confirmed_by)
        if line.confirmed_by
        else "not confirmed"
    )
    return _("Seen by {sensor}, {confirmed}.", sensor=line.sensor, confirmed=confirmed)


def _numbered(heading: str, items: Sequence[str]) -> Iterator[str]:
    if items:
        yield INDENT + heading
    for number, item in enumerate(items, 1):
        yield _wrapped(item, f"{number}. ")


def _wrapped(text: str, bullet: str = "") -> str:
    return textwrap.fill(
        text,
        WIDTH,
        initial_indent=INDENT + bullet,
        subsequent_indent=INDENT + " " * len(bullet),
    )
