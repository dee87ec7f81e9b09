"""The dated entries of a record: the form as it is asked for, and what comes of sending it."""

from collections.abc import Mapping
from typing import Any

from analysis.errors import StilltautError
from dashboards.pages.register_pages import FormPage
from service.answers.museum import Museum
from service.records.entry_forms import (
    WHY,
    Texts,
    entry_at,
    entry_fields,
    entry_form,
    key_from,
    take_out_form,
    was_of,
)
from service.records.register_saving import save_entry, take_out_entry
from service.register.record_nouns import Noun
from service.register.sent_forms import problem_at, read_form, texts
from service.storage.records import values_of


def asked_entry(museum: Museum, noun: Noun, owner: str, sent: Texts) -> FormPage:
    """Return the form of an entry: empty but for what was asked along, or the one to correct."""
    there = entry_at(museum, noun, key_from(noun, sent))
    if there is None:
        return entry_form(museum, noun, owner, sent, {}, {})
    shown = texts(noun.fields, there, museum.zone)
    return entry_form(museum, noun, owner, shown, {}, was_of(noun, there))


def sent_entry(museum: Museum, noun: Noun, owner: str, sent: Texts) -> FormPage | None:
    """Keep what a form says of an entry; the form again where something is wrong with it."""
    was = key_from(noun, sent)
    before = entry_at(museum, noun, was)
    found = read_form(noun.file, entry_fields(museum, noun), sent, museum.zone, before)
    problems = dict(found.problems) | _unnamed(sent)
    if not problems:
        try:
            values = _whole(noun, found.values | {noun.owner: owner}, before)
            who = sent["who"].strip()
            save_entry(museum.stores.register, noun.file, values, who=who, was=was)
        except StilltautError as problem:
            problems = problem_at(problem, noun.fields, noun.since)
    if not problems:
        return None
    hidden = {} if was is None else was_of(noun, was)
    return entry_form(museum, noun, owner, sent, problems, hidden)


def asked_take_out(noun: Noun, owner: str, sent: Texts) -> FormPage:
    """Return the form that asks why an entry is to be taken out."""
    return take_out_form(noun, owner, {}, {}, _hidden(noun, sent))


def sent_take_out(museum: Museum, noun: Noun, owner: str, sent: Texts) -> FormPage | None:
    """Take an entry out; the form again where something is wrong with it."""
    found = read_form(noun.file, (WHY,), sent, museum.zone)
    problems = dict(found.problems) | _unnamed(sent)
    key = key_from(noun, sent)
    if not problems and key is not None:
        try:
            register = museum.stores.register
            why, who = str(found.values["why"]), sent["who"].strip()
            take_out_entry(register, noun.file, key, why=why, who=who)
        except StilltautError as problem:
            problems = problem_at(problem, (WHY,), "why")
    if not problems:
        return None
    return take_out_form(noun, owner, sent, problems, _hidden(noun, sent))


def _whole(
    noun: Noun, values: Mapping[str, Any], before: Mapping[str, Any] | None
) -> dict[str, Any]:
    """Return every column of an entry: left empty is not known, what is not asked stays."""
    asked = {one.name for one in noun.fields} | {noun.owner}
    kept = {name: value for name, value in (before or {}).items() if name not in asked}
    return values_of(noun.kind(**(kept | dict(values))))


def _unnamed(sent: Texts) -> dict[str, str]:
    return {} if sent.get("who", "").strip() else {"who": "This is needed."}


def _hidden(noun: Noun, sent: Texts) -> dict[str, str]:
    key = key_from(noun, sent)
    return {} if key is None else was_of(noun, key)
