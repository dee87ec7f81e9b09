"""The words of accounts: roles, and what was changed by whom."""

import re
from collections.abc import Mapping, Sequence
from typing import Any, Protocol

from dashboards.text.messages import _, counted
from dashboards.text.wording import capital, count, listed, number

ROLES = (
    ("look", "look", "sees the pages"),
    ("care", "care", "also brings files in, grades works, acknowledges notices, plans events"),
    ("keep", "keep", "also keeps the register, limits and who is told"),
    ("administer", "administer", "also lets people and programs in"),
)
"""What each role is called and may do: value sent, word, sentence."""


def role_sentence(role: str) -> str:
    """Return what an account of a role does.

    Examples
    --------
    >>> role_sentence("look")
    'sees the pages'
    """
    return next((_(words) for value, _word, words in ROLES if value == role), "")


def accounts_sentence(roles: Sequence[str]) -> str:
    """Return how many may do what, of those who are let in.

    Examples
    --------
    >>> accounts_sentence(["administer", "care", "care"])
    'Three accounts are let in: two may care and one may administer.'
    >>> accounts_sentence([])
    'Nobody has an account yet.'
    """
    if not roles:
        return _("Nobody has an account yet.")
    told = [
        _("{many} may {role}", many=count(roles.count(value)), role=word)
        for value, word, _words in ROLES
        if value in roles
    ]
    return counted(
        "One account is let in: {told}.",
        "{written} accounts are let in: {told}.",
        len(roles),
        written=capital(count(len(roles))),
        told=listed(told),
    )


def offered_to_others(roles: Sequence[str]) -> str:
    """Return who may do what a page does not offer to its reader; empty where it offers all.

    Examples
    --------
    >>> offered_to_others(["keep", "care"])
    'More can be done here by an account that may care or keep.'
    >>> offered_to_others([])
    ''
    """
    words = [_(word) for value, word, _words in ROLES if value in roles]
    if not words:
        return ""
    return _("More can be done here by an account that may {what}.", what=listed(words, "or"))


class Changed(Protocol):
    """What the words need of a line of the audit trail."""

    @property
    def by(self) -> str:
        """The name that was typed."""

    @property
    def account(self) -> str:
        """The account that was signed in."""


def changes_question(about: str) -> str:
    """Return the question of the page of changes."""
    return _("Who changed what of {about}?", about=about) if about else _("Who changed what?")


def changes_answer(lines: Sequence[Changed], more: bool) -> str:
    """Return how many changes there are, and who made the last."""
    if not lines:
        return _("Nobody has changed anything yet.")
    by = lines[0].account or lines[0].by or _("the program itself")
    many = _("more than {many}", many=number(len(lines))) if more else number(len(lines))
    return _("Changes: {many}. The last one was made by {by}.", many=many, by=by)


HASH, SHOWN = re.compile(r"\b[0-9a-f]{64}\b"), 8
LONGEST = 200  # letters of one value
TABLES = {
    "sites": "The house",
    "rooms": "Room",
    "bands": "Agreed band",
    "loggers": "Logger",
    "placements": "Place of a logger",
    "calibrations": "Check of a logger",
    "side_by_side": "Loggers side by side",
    "events": "Event",
    "works": "Work",
    "mounts": "Mounting",
    "frames": "Framing",
    "hangings": "Hanging",
    "overrides": "Measured number",
    "inspections": "Look",
    "notices": "Notice",
    "incidents": "Incident",
    "uploads": "Upload",
    "choices": "Reading of a logger's files",
    "contacts": "Person told",
    "settings": "Setting",
    "users": "Account",
    "sessions": "Account",
    "tokens": "Token",
    "jobs": "File in hand",
    "readings": "Readings",
    "forecasts": "Forecast",
}


def changed_words(
    what: str, key: str, before: Mapping[str, Any] | None, after: Mapping[str, Any] | None
) -> str:
    """Return one change: what it is about, and what was otherwise before.

    Examples
    --------
    >>> changed_words("rooms", "room=north", {"name": "N", "store": False}, {"name": "North"})
    'Room (room=north): name N → North.'
    >>> changed_words("tokens", "number=1", None, {"revoked": True})
    'Token (number=1): revoked yes.'
    >>> changed_words("uploads", "sha256=" + "a1" * 32, None, {"choice": {"zone": "UTC", "x": {}}})
    'Upload (sha256=a1a1a1a1…): choice zone UTC.'
    """
    old, new = before or {}, after or {}
    told = [
        f"{name.replace('_', ' ')} {_cell(old[name])} → {_cell(value)}"
        if name in old
        else f"{name.replace('_', ' ')} {_cell(value)}"
        for name, value in new.items()
        if (name not in old and value not in ("", None)) or (name in old and old[name] != value)
    ]
    words = "; ".join(told) or (_("taken out") if after is None else _("written again"))
    return f"{_(TABLES.get(what, what))} ({_short(key)}): {words}."


def _cell(value: Any) -> str:
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if value in (None, "", [], {}):
        return _("nothing")
    if isinstance(value, Mapping):
        known = ((name, one) for name, one in value.items() if one not in (None, "", [], {}))
        value = ", ".join(f"{name.replace('_', ' ')} {_cell(one)}" for name, one in known)
    elif isinstance(value, list):
        value = ", ".join(_cell(one) for one in value)
    return _short(str(value))[:LONGEST]


def _short(text: str) -> str:
    """Return a text with its long hashes cut short."""
    return HASH.sub(lambda found: f"{found[0][:SHOWN]}…", text)
