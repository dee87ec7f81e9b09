"""The words of accounts: roles, and what was changed by whom."""

import re
from collections.abc import Mapping, Sequence
from typing import Any, Protocol

from analysis.records import REGISTER
from dashboards.text.messages import N_, Worded, _, counted, translated
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
TABLES: Mapping[str, str] = Worded(
    {
        "sites": N_("The house"),
        "rooms": N_("Room"),
        "bands": N_("Agreed band"),
        "loggers": N_("Logger"),
        "placements": N_("Place of a logger"),
        "calibrations": N_("Check of a logger"),
        "side_by_side": N_("Loggers side by side"),
        "events": N_("Event"),
        "works": N_("Work"),
        "mounts": N_("Mounting"),
        "frames": N_("Framing"),
        "hangings": N_("Hanging"),
        "overrides": N_("Measured number"),
        "inspections": N_("Look"),
        "notices": N_("Notice"),
        "incidents": N_("Incident"),
        "uploads": N_("Upload"),
        "choices": N_("Reading of a logger's files"),
        "contacts": N_("Person told"),
        "settings": N_("Setting"),
        "users": N_("Account"),
        "sessions": N_("Account"),
        "tokens": N_("Token"),
        "jobs": N_("File in hand"),
        "statements": N_("Climate statement"),
        "readings": N_("Readings"),
        "forecasts": N_("Forecast"),
    }
)


OTHERS: Mapping[str, str] = Worded(
    {
        "name": N_("name"),
        "title": N_("title"),
        "state": N_("how far it is"),
        "revoked": N_("revoked"),
        "removed": N_("removed"),
        "taken out": N_("taken out because"),
        "signed in": N_("signed in"),
        "signed out": N_("signed out"),
        "link made": N_("link made"),
        "rows_mended": N_("rows mended"),
        "choice": N_("read as"),
        "logger": N_("logger"),
        "user": N_("user"),
        "role": N_("role"),
        "scope": N_("may do"),
        "per_hour": N_("letters or files an hour"),
        "channel": N_("way"),
        "address": N_("address"),
        "zone": N_("time zone"),
        "seen_by": N_("seen by"),
        "confirmed_utc": N_("confirmed at"),
        "by": N_("by whom"),
    }
)
"""Fields that stand in no record of the register; one that is not here is told by its own name."""
FAR: Mapping[str, str] = Worded(
    {
        "received": N_("taken in"),
        "stored": N_("stored"),
        "withdrawing": N_("is being taken back"),
        "withdrawn": N_("taken back"),
    }
)
"""How far a file has come."""
FIELDS = {one.table: one.fields for one in REGISTER.values()}
PART_OF_A_KEY = re.compile(r"(?:^|, )(\w+)=")
INSTANT = re.compile(r"\b(\d{4}-\d\d-\d\d)T(\d\d:\d\d)(:\d\d(\.\d+)?)?\+00:00")


def changed_words(
    what: str, key: str, before: Mapping[str, Any] | None, after: Mapping[str, Any] | None
) -> str:
    """Return one change: what it is about, and what was otherwise before.

    Examples
    --------
    >>> changed_words("rooms", "room=north", {"name": "N", "store": False}, {"name": "North"})
    'Room (north): Name as shown: N → North.'
    >>> changed_words("tokens", "number=1", None, {"revoked": True})
    'Token (1): revoked: yes.'
    >>> stored = {"state": "stored", "name": "week.csv"}
    >>> changed_words("uploads", "sha256=" + "a1" * 32 + ", logger=L-1", None, stored)
    'Upload (week.csv, L-1): stored.'
    """
    old, new = before or {}, dict(after or {})
    named = _named_by(what, key, new)
    state = FAR.get(str(new.pop("state", "")), "") if what == "uploads" else ""
    told = [
        f"{_field_words(what, name)}: {_cell(what, name, old[name])} → {_cell(what, name, value)}"
        if name in old
        else f"{_field_words(what, name)}: {_cell(what, name, value)}"
        for name, value in new.items()
        if (name not in old and value not in ("", None)) or (name in old and old[name] != value)
    ]
    said = [state, *told] if state else told
    words = "; ".join(said) or (_("taken out") if after is None else _("written again"))
    about = TABLES.get(what) or what.replace("_", " ")
    return f"{about} ({named}): {words}." if named else f"{about}: {words}."


def _named_by(what: str, key: str, new: dict[str, Any]) -> str:
    """Return what tells a record from another, in short; a file goes by its name, not its bytes."""
    parts = PART_OF_A_KEY.split(key)[1:]
    named = dict(zip(parts[::2], parts[1::2], strict=True))
    if what == "uploads" and new.get("name"):
        named = {"name": new.pop("name"), **named}
        named.pop("sha256", None)
    told = [_cell(what, name, one) for name, one in named.items() if one not in ("", "None")]
    return ", ".join(told)


def _field_words(what: str, name: str) -> str:
    field = FIELDS.get(what, {}).get(name)
    if field is None:
        return OTHERS.get(name) or name.replace("_", " ")
    said = translated(field.label)
    return said


def _cell(what: str, name: str, value: Any) -> str:
    field = FIELDS.get(what, {}).get(name)
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if value in (None, "", [], {}):
        return _("nothing")
    if field is not None and isinstance(value, str) and value in dict(field.choices):
        return translated(dict(field.choices)[value])
    if isinstance(value, Mapping):
        known = ((inner, one) for inner, one in value.items() if one not in (None, "", [], {}))
        value = ", ".join(f"{_field_words('', i)} {_cell('', i, one)}" for i, one in known)
    elif isinstance(value, list):
        value = ", ".join(_cell(what, name, one) for one in value)
    return _short(INSTANT.sub(r"\1 \2 UTC", str(value)))[:LONGEST]


def _short(text: str) -> str:
    """Return a text with its long hashes cut short."""
    return HASH.sub(lambda found: f"{found[0][:SHOWN]}…", text)
