"""The forms of the register as pages: what they ask, and what comes of sending one."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from analysis.errors import StilltautError
from analysis.records import REGISTER, Field, Kind
from analysis.records.cells import CellError, text_of, value_of
from dashboards import links
from dashboards.forms.form import YOUR_NAME, FieldGroup, RecordForm, filled, with_choices
from dashboards.pages.register_pages import FormPage
from dashboards.text.messages import N_, _
from service.answers.museum import Museum
from service.records.record_parts import Part
from service.records.register_saving import save_entry, take_out_entry
from service.records.sent_forms import NEEDED, Sent, Texts, problem_at, read_form, texts
from service.storage.loggers import loggers
from service.storage.places import rooms, sites
from service.storage.records import line_at, values_of
from service.storage.works import prints

WAS = "was_"  # begins the names of hidden fields that say which entry is corrected
BACK = N_("Back, without changing anything")
WHY = Field(
    name="why",
    label=N_("Why"),
    example=N_("typed into the wrong record"),
    help="Stays in the record of changes, with everything the entry said.",
    needed=True,
)


def form_of(
    fields: Sequence[Field],
    sent: Texts,
    problems: Texts,
    *,
    action: str,
    button: str,
    hidden: Texts | None = None,
) -> RecordForm:
    """Return a form with what stands in it; the name of whoever sends it comes last."""
    who = filled([YOUR_NAME], sent, problems)
    group = FieldGroup("", [*filled(fields, sent, problems), *who])
    shown = {one.field.name for one in group.fields}
    elsewhere = " ".join(words for name, words in problems.items() if name not in shown)
    return RecordForm(action, [group], button, dict(hidden or {}), elsewhere)


def read_sent(
    museum: Museum,
    file: str,
    fields: Sequence[Field],
    sent: Texts,
    before: Mapping[str, Any] | None = None,
) -> Sent:
    """Return what was sent with a form, the sender's name among it."""
    found = read_form(fields, sent, museum.zone, before, declaration=REGISTER[file])
    if not sent.get("who", "").strip():
        found.problems["who"] = _(NEEDED)
    return found


def store_entry(
    museum: Museum,
    file: str,
    fields: Sequence[Field],
    sent: Texts,
    make: Callable[[Mapping[str, Any]], dict[str, Any]],
    *,
    otherwise: str,
    was: Mapping[str, Any] | None = None,
    before: Mapping[str, Any] | None = None,
    save: Callable[[Mapping[str, Any], str], None] | None = None,
) -> dict[str, str]:
    """Keep what a form says; return what is wrong with it, by field.

    ``save`` keeps it in another way than as one entry; it is given the values, and who sent them.
    """
    found = read_sent(museum, file, fields, sent, before)
    if found.problems:
        return found.problems
    try:
        who, values = sent["who"].strip(), make(found.values)
        if save is not None:
            save(values, who)
        else:
            save_entry(museum.stores.register, file, values, who=who, was=was)
    except StilltautError as problem:
        return problem_at(problem, fields, otherwise)
    return {}


def with_known_names(museum: Museum, fields: Sequence[Field]) -> tuple[Field, ...]:
    """Return fields with the rooms, loggers and works that the register knows."""
    register = museum.stores.register
    known: Mapping[str, Callable[[], list[tuple[str, str]]]] = {
        "sites.csv": lambda: [(one.site, one.name) for one in sites(register)],
        "rooms.csv": lambda: [(one.room, one.name) for one in rooms(register)],
        "loggers.csv": lambda: [(one.logger, one.logger) for one in loggers(register)],
        "works.csv": lambda: [
            (one.work_id, f"{one.title}, {one.work_id}") for one in prints(register)
        ],
    }
    return tuple(
        with_choices(one, known[one.of]()) if one.kind is Kind.REFERENCE else one for one in fields
    )


def address_of(part: Part, owner: str, **was: str) -> str:
    """Return the address of the form of a part: empty, or with the entry that ``was`` names."""
    if part.owner == "work_id":
        return links.work_record(owner, part.slug, **was)
    if part.owner == "room":
        return links.room_record(owner, part.slug, **was)
    return links.house_part(part.slug, **was)


def take_out_address(part: Part, owner: str, **was: str) -> str:
    """Return the address of the form that takes an entry out."""
    if part.owner == "work_id":
        return links.take_out(owner, part.slug, **was)
    if part.owner == "room":
        return links.take_out_of_room(owner, part.slug, **was)
    return links.take_out_of_house(part.slug, **was)


def page_of(part: Part, owner: str) -> str:
    """Return the address of the page that shows a part."""
    if part.owner == "work_id":
        return links.work_record(owner)
    return links.room_record(owner) if part.owner == "room" else links.house_page(part.slug)


def entry_form(
    museum: Museum, part: Part, owner: str, sent: Texts, problems: Texts, was: Texts
) -> FormPage:
    """Return the form that adds an entry to a record, or corrects the one that ``was`` names."""
    return FormPage(
        question=_("What should be corrected?") if was else _(part.question),
        answer=_(part.order),
        form=form_of(
            asked_fields(museum, part),
            sent,
            problems,
            action=address_of(part, owner),
            button=_("Write it down"),
            hidden=was,
        ),
        notes=(),
        result=(),
        back=page_of(part, owner),
        back_words=_(BACK),
    )


def asked_entry(museum: Museum, part: Part, owner: str, sent: Texts) -> FormPage:
    """Return the form of an entry: empty but for what was asked along, or the one to correct."""
    there = entry_at(museum, part, key_from(part, sent))
    if there is None:
        return entry_form(museum, part, owner, sent, {}, {})
    shown = texts(part.fields, there, museum.zone)
    return entry_form(museum, part, owner, shown, {}, was_of(part, there))


def sent_entry(museum: Museum, part: Part, owner: str, sent: Texts) -> FormPage | None:
    """Keep what a form says of an entry; the form again where something is wrong with it."""
    was = key_from(part, sent)
    before = entry_at(museum, part, was)

    def whole(values: Mapping[str, Any]) -> dict[str, Any]:
        return _whole(part, _owned(museum, part, owner) | dict(values), before)

    fields = asked_fields(museum, part)
    problems = store_entry(
        museum, part.file, fields, sent, whole, otherwise=part.since, was=was, before=before
    )
    if not problems:
        return None
    return entry_form(museum, part, owner, sent, problems, {} if was is None else was_of(part, was))


def asked_fields(museum: Museum, part: Part) -> tuple[Field, ...]:
    """Return what a part's form asks for; which house it is only where this one is several.

    A house that borrows has no calendar and no instruments of its own here.
    """
    several = sum(not one.borrower for one in sites(museum.stores.register)) > 1
    asked = [one for one in part.fields if several or one.name != "site"]
    return with_known_names(museum, asked)


def _owned(museum: Museum, part: Part, owner: str) -> dict[str, str]:
    """Return whose part it is, and of which house where there is only one."""
    if part.owner:
        return {part.owner: owner}
    houses = sites(museum.stores.register)
    return {"site": houses[0].site} if "site" in part.kind.__annotations__ and houses else {}


def take_out_form(part: Part, owner: str, sent: Texts, problems: Texts) -> FormPage:
    """Return the form that takes an entry out of a record, with a reason."""
    key = key_from(part, sent)
    return FormPage(
        question=_("Take out {one}?", one=_(part.one)),
        answer=_(
            "For an entry that should never have been written. What ended is not taken out: "
            "it is given an end, or a newer entry beside it."
        ),
        form=form_of(
            (WHY,),
            sent,
            problems,
            action=take_out_address(part, owner).rstrip("?"),
            button=_("Take it out"),
            hidden={} if key is None else was_of(part, key),
        ),
        notes=(_("What it said stays readable in the record of changes."),),
        result=(),
        back=page_of(part, owner),
        back_words=_(BACK),
    )


def sent_take_out(museum: Museum, part: Part, owner: str, sent: Texts) -> FormPage | None:
    """Take an entry out; the form again where something is wrong with it."""
    found = read_form((WHY, YOUR_NAME), sent, museum.zone)
    problems = dict(found.problems)
    key = key_from(part, sent)
    if not problems and key is not None:
        try:
            take_out_entry(
                museum.stores.register,
                part.file,
                key,
                why=str(found.values["why"]),
                who=str(found.values["who"]),
            )
        except StilltautError as problem:
            problems = problem_at(problem, (WHY,), "why")
    return take_out_form(part, owner, sent, problems) if problems else None


def was_of(part: Part, values: Mapping[str, Any]) -> dict[str, str]:
    """Return the hidden fields that name an entry, as they stand in a cell."""
    return {WAS + column: text_of(values.get(column)) for column in part.key}


def key_from(part: Part, sent: Texts) -> dict[str, Any] | None:
    """Return the key of the entry that a form corrects; None: it adds one."""
    if WAS + part.key[-1] not in sent:
        return None
    key: dict[str, Any] = {}
    for column in part.key:
        text = sent.get(WAS + column, "")
        try:
            key[column] = value_of(part.declaration.fields[column], text) if text else None
        except CellError:
            key[column] = text
    return key


def entry_at(museum: Museum, part: Part, key: Mapping[str, Any] | None) -> dict[str, Any] | None:
    """Return the entry a key names, or None."""
    return None if key is None else line_at(museum.stores.register, part.file, key)


def _whole(
    part: Part, values: Mapping[str, Any], before: Mapping[str, Any] | None
) -> dict[str, Any]:
    """Return every column of an entry: left empty is not known, what is not asked stays."""
    asked = {one.name for one in part.fields} | {part.owner}
    there = {name: value for name, value in (before or {}).items() if name not in asked}
    return values_of(part.kind(**(there | dict(values))))


def sheet_form(
    museum: Museum,
    fields: Sequence[Field],
    sent: Texts,
    problems: Texts,
    *,
    question: str,
    answer: str,
    action: str,
    back: str,
    hidden: Texts | None = None,
) -> FormPage:
    """Return the form of a record that stands by itself: a work, a house, a room, a logger."""
    form = form_of(
        with_known_names(museum, fields),
        sent,
        problems,
        action=action,
        button=_("Write it down"),
        hidden=hidden,
    )
    return FormPage(question, answer, form, notes=(), result=(), back=back, back_words=_(BACK))
