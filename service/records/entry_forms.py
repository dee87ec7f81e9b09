"""The forms of the register as pages: what they ask, with the names the register knows."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from dashboards import links
from dashboards.forms.form import YOUR_NAME, Field, FieldGroup, RecordForm, filled, with_choices
from dashboards.forms.record_fields import NOT_KNOWN, PRINT, WORK_NUMBER
from dashboards.forms.room_fields import HOUSE, LOGGER, LOGGER_NAME, ROOM, ROOM_NAME, SITE_CHOICE
from dashboards.pages.register_pages import FormPage
from service.answers.museum import Museum
from service.register.record_nouns import Noun
from service.register.sent_forms import Sent, read_form
from service.storage.loggers import loggers
from service.storage.places import rooms, sites
from service.storage.register_cells import CellError, text_of, value_of
from service.storage.register_edits import line_at
from service.storage.works import prints

WAS = "was_"  # begins the names of hidden fields that say which entry is corrected
WHY = Field(
    "why",
    "Why",
    example="typed into the wrong record",
    help="Stays in the record of changes, with everything the entry said.",
    required=True,
)
Texts = Mapping[str, str]


def form_of(
    fields: Sequence[Field],
    texts: Texts,
    problems: Texts,
    *,
    action: str,
    button: str,
    hidden: Texts | None = None,
) -> RecordForm:
    """Return a form with what stands in it; the name of whoever sends it comes last."""
    who = filled([YOUR_NAME], texts, problems)
    group = FieldGroup("", [*filled(fields, texts, problems), *who])
    shown = {one.field.name for one in group.fields}
    elsewhere = " ".join(words for name, words in problems.items() if name not in shown)
    return RecordForm(action, [group], button, hidden or {}, elsewhere)


def read_sent(
    museum: Museum,
    file: str,
    fields: Sequence[Field],
    sent: Texts,
    before: Mapping[str, Any] | None = None,
) -> Sent:
    """Return what was sent with a form, the sender's name among it."""
    found = read_form(file, fields, sent, museum.zone, before)
    if not sent.get("who", "").strip():
        found.problems["who"] = "This is needed."
    return found


def work_form(texts: Texts, problems: Texts, work_id: str = "") -> FormPage:
    """Return the form of a print: a new one, or the one of that number."""
    new = not work_id
    return FormPage(
        question="Which work is it?" if new else "What is the print?",
        answer="The print itself. How it is held, its frame and where it hangs come next."
        if new
        else "The print itself. Its mounting and its frame have forms of their own.",
        form=form_of(
            (WORK_NUMBER, *PRINT) if new else PRINT,
            texts,
            problems,
            action=links.new_work() if new else links.work_record(work_id, "print"),
            button="Write it down",
        ),
        notes=(),
        result=(),
        back=links.works() if new else links.work_record(work_id),
        back_words="Back, without changing anything",
    )


def entry_fields(museum: Museum, noun: Noun) -> tuple[Field, ...]:
    """Return the fields of a part, with the rooms, loggers and works that the register knows."""
    register = museum.stores.register
    known: Mapping[str, Callable[[], list[tuple[str, str]]]] = {
        "room": lambda: [(one.room, one.name) for one in rooms(register)],
        "logger": lambda: [(one.logger, one.logger) for one in loggers(register)],
        "work_id": lambda: [
            ("", NOT_KNOWN + ", or none"),
            *((one.work_id, f"{one.title}, {one.work_id}") for one in prints(register)),
        ],
    }
    return tuple(
        with_choices(one, known[one.name]()) if one.name in known else one for one in noun.fields
    )


def entry_form(
    museum: Museum, noun: Noun, owner: str, texts: Texts, problems: Texts, was: Texts
) -> FormPage:
    """Return the form that adds an entry to a record, or corrects the one that ``was`` names."""
    of_work = noun.owner == "work_id"
    address = links.work_record if of_work else links.room_record
    record = address(owner)
    return FormPage(
        question="What should be corrected?" if was else noun.question,
        answer=noun.order,
        form=form_of(
            entry_fields(museum, noun),
            texts,
            problems,
            action=address(owner, noun.slug),
            button="Write it down",
            hidden=was,
        ),
        notes=(),
        result=(),
        back=record,
        back_words="Back, without changing anything",
    )


def take_out_form(noun: Noun, owner: str, texts: Texts, problems: Texts, was: Texts) -> FormPage:
    """Return the form that takes an entry out of a record, with a reason."""
    of_work = noun.owner == "work_id"
    address = links.take_out if of_work else links.take_out_of_room
    return FormPage(
        question=f"Take out {noun.one}?",
        answer="For an entry that should never have been written. What ended is not taken out: "
        "it is given an end, or a newer entry beside it.",
        form=form_of(
            (WHY,),
            texts,
            problems,
            action=address(owner, noun.slug).rstrip("?"),
            button="Take it out",
            hidden=was,
        ),
        notes=("What it said stays readable in the record of changes.",),
        result=(),
        back=links.work_record(owner) if of_work else links.room_record(owner),
        back_words="Back, without changing anything",
    )


def house_form(texts: Texts, problems: Texts, hidden: Texts) -> FormPage:
    """Return the form of the house."""
    return FormPage(
        question="Which house is it?",
        answer="A building or campus: its name, and the zone in which its people read the time.",
        form=form_of(
            HOUSE, texts, problems, action=links.house(), button="Write it down", hidden=hidden
        ),
        notes=(),
        result=(),
        back=links.works(),
        back_words="Back, without changing anything",
    )


def room_form(museum: Museum, texts: Texts, problems: Texts, room_id: str = "") -> FormPage:
    """Return the form of a room: a new one, or the one of that name."""
    houses = [(one.site, one.name) for one in sites(museum.stores.register)]
    choice = with_choices(SITE_CHOICE, houses)
    asked = ((ROOM_NAME,) if not room_id else ()) + ((choice,) if len(houses) > 1 else ()) + ROOM
    return FormPage(
        question="Which room is it?",
        answer="A gallery, a store, or another space with air of its own.",
        form=form_of(
            asked,
            texts,
            problems,
            action=links.room_record(room_id, "room") if room_id else links.new_room(),
            button="Write it down",
            hidden={"site": houses[0][0]} if len(houses) == 1 else {},
        ),
        notes=(),
        result=(),
        back=links.room_record(room_id) if room_id else links.works(),
        back_words="Back, without changing anything",
    )


def logger_form(room_id: str, texts: Texts, problems: Texts, was: str = "") -> FormPage:
    """Return the form of a logger: a new one, or the one of that name."""
    return FormPage(
        question=f"What is {was}?" if was else "Which logger is it?",
        answer="The instrument itself."
        if was
        else "The instrument itself. Where it hangs comes next.",
        form=form_of(
            LOGGER if was else (LOGGER_NAME, *LOGGER),
            texts,
            problems,
            action=links.room_record(room_id, "instrument"),
            button="Write it down",
            hidden={WAS + "logger": was} if was else {},
        ),
        notes=(),
        result=(),
        back=links.room_record(room_id),
        back_words="Back, without changing anything",
    )


def was_of(noun: Noun, values: Mapping[str, Any]) -> dict[str, str]:
    """Return the hidden fields that name an entry, as they stand in a cell."""
    return {WAS + column: text_of(values.get(column)) for column in noun.key}


def key_from(noun: Noun, sent: Texts) -> dict[str, Any] | None:
    """Return the key of the entry that a form corrects; None: it adds one."""
    if WAS + noun.since not in sent:
        return None
    key: dict[str, Any] = {}
    for column in noun.key:
        text = sent.get(WAS + column, "")
        try:
            key[column] = value_of(noun.file, column, text) if text else None
        except CellError:
            key[column] = text
    return key


def entry_at(museum: Museum, noun: Noun, key: Mapping[str, Any] | None) -> dict[str, Any] | None:
    """Return the entry a key names, or None."""
    return None if key is None else line_at(museum.stores.register, noun.file, key)
