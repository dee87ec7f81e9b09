"""A work packed into a crate: one form for its times, from packing to unpacking.

The crate is a stay like any other, so that the work has had the crate's air; where it was before
ends when it is packed, and where it hangs next begins when it is unpacked.
"""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from analysis.errors import StilltautError
from analysis.records import Field, Kind
from analysis.records.cells import text_of
from analysis.records.work_records import Hanging
from analysis.works import Wall
from dashboards import links
from dashboards.forms.form import YOUR_NAME, FieldGroup, RecordForm, filled
from dashboards.pages.register_pages import FormPage
from dashboards.text.messages import _
from dashboards.text.reports.journey_text import CAUTIONS
from service.answers.museum import Museum
from service.records.register_saving import save_entry
from service.records.sent_forms import Texts, problem_at, read_form, texts
from service.storage.places import rooms
from service.storage.records import values_of
from service.storage.register import Register
from service.storage.works import work_record

FILE = "hangings.csv"
WAS = "was"


def crate_fields(museum: Museum) -> tuple[Field, ...]:
    """Return what the form of a crate asks."""
    every = rooms(museum.stores.register)
    crates = tuple((one.room, one.name) for one in every if one.crate)
    other = tuple((one.room, one.name) for one in every if not one.crate)
    return (
        Field(name="room", label=_("Crate"), kind=Kind.CHOICE, choices=crates, needed=True,
              help=_("A crate is written down as a room that is a crate, with the logger that is "
                     "shut in with the work.")),
        Field(name="from_utc", label=_("Packed, and the crate shut"), kind=Kind.WHEN, needed=True),
        Field(name="left_utc", label=_("Left the house"), kind=Kind.WHEN),
        Field(name="arrived_utc", label=_("Arrived"), kind=Kind.WHEN,
              help=_("From then on the crate rests, shut, in the room where it will be opened.")),
        Field(name="opened_utc", label=_("Crate opened"), kind=Kind.WHEN),
        Field(name="to_utc", label=_("Unpacked"), kind=Kind.WHEN,
              help=_("When it is known only later, come back and add it.")),
        Field(name="next_room", label=_("Where it hangs then"), kind=Kind.CHOICE, choices=other,
              may_be_unknown=True),
        Field(name="note", label=_("Note"), kind=Kind.NOTE),
    )  # fmt: skip


def crate_form(
    museum: Museum, work_id: str, sent: Texts, problems: Texts, was: str = ""
) -> FormPage:
    """Return the form of a crate, empty, with what was sent, or with a stay to be corrected."""
    title = work_record(museum.stores.register, work_id).print.title
    groups = [
        FieldGroup(_("Packing and journey"), filled(crate_fields(museum), sent, problems)),
        FieldGroup("", filled([YOUR_NAME], sent, problems)),
    ]
    return FormPage(
        question=_("When was “{title}” packed, and when was its crate opened?", title=title),
        answer=_(
            "Times are those of this house’s clock. What is not known yet stays empty, and can be "
            "added later."
        ),
        form=RecordForm(
            links.crate_form(work_id),
            groups,
            _("Write it down"),
            hidden={WAS: was} if was else {},
        ),
        notes=[_(words) for words in CAUTIONS],
        result=(),
        back=links.journey(work_id),
        back_words=_("Back, without changing anything"),
    )


def asked_crate(museum: Museum, work_id: str, was: str) -> FormPage:
    """Return the form, with the stay that began at a time where one is named."""
    there = _stay(museum.stores.register, work_id, was)
    if there is None:
        return crate_form(museum, work_id, {}, {})
    values = values_of(there) | {"next_room": _room_after(museum.stores.register, there)}
    return crate_form(museum, work_id, texts(crate_fields(museum), values, museum.zone), {}, was)


def sent_crate(museum: Museum, work_id: str, sent: Texts) -> FormPage | None:
    """Keep what the form says; the form again where something is wrong with it."""
    fields = (*crate_fields(museum), YOUR_NAME)
    was = sent.get(WAS, "")
    found = read_form(fields, sent, museum.zone)
    if found.problems:
        return crate_form(museum, work_id, sent, found.problems, was)
    values = dict(found.values)
    try:
        _save(museum.stores.register, work_id, values, _stay(museum.stores.register, work_id, was))
    except StilltautError as problem:
        return crate_form(museum, work_id, sent, problem_at(problem, fields, "from_utc"), was)
    return None


def _save(
    register: Register, work_id: str, values: Mapping[str, Any], before: Hanging | None
) -> None:
    """Keep the stay in the crate, and where the work hangs after it; both or neither."""
    who = str(values["who"])
    stay = Hanging(
        work_id,
        str(values["room"]),
        from_utc=values["from_utc"],
        to_utc=values.get("to_utc"),
        wall=Wall.INSIDE,
        note=str(values.get("note") or ""),
        left_utc=values.get("left_utc"),
        arrived_utc=values.get("arrived_utc"),
        opened_utc=values.get("opened_utc"),
    )
    with register.writing():
        key = None if before is None else _key(before)
        after = None if before is None else _after(register, before)
        if before is not None and before.from_utc != stay.from_utc:
            _move_end(register, work_id, before.from_utc, stay.from_utc, who)
        save_entry(register, FILE, values_of(stay), who=who, was=key)
        following = values.get("next_room")
        if stay.to_utc is not None and following:
            if after is None:
                hung = Hanging(work_id, str(following), from_utc=stay.to_utc)
                save_entry(register, FILE, values_of(hung), who=who)
            else:
                moved = replace(after, room=str(following), from_utc=stay.to_utc)
                save_entry(register, FILE, values_of(moved), who=who, was=_key(after))


def _key(one: Hanging) -> dict[str, Any]:
    return {"work_id": one.work_id, "from_utc": one.from_utc}


def _move_end(
    register: Register, work_id: str, was: datetime | None, now: datetime | None, who: str
) -> None:
    """Let the stay that ended when the crate was packed end at the time that was corrected."""
    for one in work_record(register, work_id).hangings:
        if was is not None and one.to_utc == was:
            save_entry(register, FILE, values_of(replace(one, to_utc=now)), who=who, was=_key(one))


def _stay(register: Register, work_id: str, was: str) -> Hanging | None:
    """Return the stay of a work that began at a time, or None."""
    every = work_record(register, work_id).hangings
    return next((one for one in every if was and text_of(one.from_utc) == was), None)


def _after(register: Register, stay: Hanging) -> Hanging | None:
    """Return the stay that began when one ended, or None."""
    every = work_record(register, stay.work_id).hangings
    return next((x for x in every if stay.to_utc is not None and x.from_utc == stay.to_utc), None)


def _room_after(register: Register, stay: Hanging) -> str | None:
    after = _after(register, stay)
    return None if after is None else after.room
