"""Notices of the register as the lines that pages and letters print."""

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from typing import Any

from dashboards.lines import NoticeLine
from dashboards.text import sentences, wording
from dashboards.text.error_words import error_words
from dashboards.text.messages import _, counted
from service.answers.as_json import noticed
from service.answers.museum import Museum
from service.notices.arrangements import arrangement
from service.notices.causes import Kind
from service.notices.incident import lessons
from service.storage import places
from service.storage.incidents import Incident, incidents
from service.storage.notices import Notice, notices, open_notices
from service.storage.outbox import letters
from service.storage.people import Contact
from service.storage.register import Register


def notice_lines(museum: Museum, room_id: str | None = None) -> tuple[NoticeLine, ...]:
    """Return all notices, newest first, of one room or of all."""
    return lines_of(museum.stores.register, notices(museum.stores.register, room_id))


def open_lines(museum: Museum, room_id: str | None = None) -> list[NoticeLine]:
    """Return the notices that have not ended, newest first."""
    register = museum.stores.register
    return list(lines_of(register, open_notices(register, room_id)))


def lines_of(register: Register, found: Iterable[Notice]) -> tuple[NoticeLine, ...]:
    """Return notices as lines, with the names of their rooms and whom to call."""
    names, arranged = room_names(register), arrangement(register)
    known = incidents(register)
    return tuple(
        notice_line(one, names[one.room], arranged.on_call(one.room), lessons(known, one))
        for one in found
    )


def room_names(register: Register) -> dict[str | None, str]:
    """Return the names of rooms by their keys; None is the house."""
    house = next((site.name for site in places.sites(register)), _("The museum"))
    return {None: house, **{room.room: room.name for room in places.rooms(register)}}


def notice_line(
    notice: Notice,
    room_name: str,
    on_call: Sequence[Contact] = (),
    learned: Sequence[Incident] = (),
) -> NoticeLine:
    """Return a notice for a page or a letter, with the works as they were judged when told."""
    details = notice.details
    return NoticeLine(
        notice_id=str(notice.id),
        kind=notice.kind,
        room_id=notice.room or "",
        room_name=room_name,
        what=str(details.get("what", notice.headline)),
        since_utc=notice.since_utc,
        sensor=", ".join(details.get("sensors", ())),
        confirmed_by=str(details.get("confirmed_by", "")),
        works=tuple(noticed(work) for work in details.get("works", ())),
        felt=str(details.get("felt", "")),
        lead=str(details.get("lead", "")),
        do_now=tuple(details.get("do_now", ())),
        on_call="; ".join(call_words(one) for one in on_call),
        ended_utc=notice.ended_utc,
        seen_by=notice.seen_by,
        seen_utc=notice.seen_utc,
        seen_reason=notice.seen_reason,
        worse=bool(details.get("worse_utc")),
        lessons=tuple((one.closed_utc or one.opened_utc, one.lesson) for one in learned),
    )


def call_words(one: Contact) -> str:
    """Return whom to call, with the number.

    Examples
    --------
    >>> call_words(Contact("M. Keeper", telephone="01 234 56"))
    'M. Keeper, 01 234 56'
    """
    return ", ".join(filter(None, (one.name, one.telephone)))


def as_json(notice: Notice, room_name: str) -> dict[str, Any]:
    """Return a notice as values for scripts."""
    line = notice_line(notice, room_name)
    return {
        "id": notice.id,
        "kind": notice.kind,
        "room": notice.room,
        "room_name": room_name,
        "headline": notice.headline,
        "what": line.what,
        "since_utc": _iso(notice.since_utc),
        "ended_utc": _iso(notice.ended_utc),
        "sensor": line.sensor,
        "confirmed_by": line.confirmed_by,
        "works": [{"work_id": j.work_id, "title": j.title, "why": j.reason} for j in line.works],
        "felt": line.felt,
        "lead": line.lead,
        "do_now": list(line.do_now),
        "past": bool(notice.details.get("past", False)),
        "planned": str(notice.details.get("planned", "")),
        "seen_by": notice.seen_by,
    }


def _iso(time: datetime | None) -> str | None:
    return None if time is None else time.isoformat()


# The open notices as text for a terminal, newest first.

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
        parts.append(_(sentences.CAUTION))
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
    return f"{said}; {error_words(errors[-1])}." if errors else f"{said}."


def _notice(line: NoticeLine, zone: str) -> Iterator[str]:
    since = wording.date_time(line.since_utc, zone)
    kind = sentences.NOTICE_WORDS.get(line.kind, line.kind)
    yield _("{room} – {kind}, since {since}", room=line.room_name, kind=kind, since=since)
    for text in (line.what, _seen(line), line.felt, line.lead):
        if text:
            yield _wrapped(text)
    yield from _numbered(
        _("Look in this order:"),
        [f"{w.title}: {w.reason}" for w in line.works],
    )
    yield from _numbered(_("Now:"), line.do_now)


def _seen(line: NoticeLine) -> str:
    if not line.sensor or line.kind == Kind.NO_DATA:
        return ""
    if line.kind == Kind.WORKS:
        return _("The air is measured by {sensor}.", sensor=line.sensor)
    confirmed = (
        _("confirmed by {confirmed_by}", confirmed_by=line.confirmed_by)
        if line.confirmed_by
        else _("not confirmed")
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
