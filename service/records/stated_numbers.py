"""Numbers stated of a work: the page of all of them, the form of one, and its withdrawal."""

from collections.abc import Mapping, Sequence
from typing import Any

from analysis.errors import StilltautError, UnknownNameError
from analysis.learning.stated_values import GROUPS, NOT_STATED, STATED_UNITS, table_row
from analysis.records import REGISTER, Field
from analysis.records.cells import text_of
from analysis.records.inspection_records import Measured
from analysis.results import Range
from analysis.works import Work
from dashboards import links
from dashboards.forms.form import YOUR_NAME, FieldGroup, RecordForm, filled
from dashboards.forms.stated_words import (
    GROUP_WORDS,
    measured_notes,
    number_fields,
    range_text,
    table_text,
)
from dashboards.pages.register_pages import FormPage, MeasuredPage, ParameterGroup, ParameterLine
from dashboards.text.messages import _, translated
from dashboards.text.parameters import STATED_WORDS as WORDS, scale
from dashboards.text.wording import capital
from service.answers.museum import Museum
from service.records.entry_forms import WHY, form_of
from service.records.record_pages import SAVED, stated_lines
from service.records.register_saving import save_measured, withdraw_number
from service.records.sent_forms import NEEDED, Texts, problem_at, read_form, texts
from service.storage.records import values_of
from service.storage.works import work_at, work_record

WAS_FROM = "was_from_utc"
ENDS = ("value", "low", "high")


def measured_page(museum: Museum, work_id: str, saved: str) -> MeasuredPage:
    """Return every number that may be stated of a work, beside what the tables have."""
    record = work_record(museum.stores.register, work_id)
    work = work_at(museum.stores.register, work_id, museum.clock())
    return MeasuredPage(
        zone=museum.zone,
        work_id=work_id,
        title=record.print.title,
        groups=[
            ParameterGroup(GROUP_WORDS[group], [_line(work, name) for name in names])
            for group, names in GROUPS.items()
        ],
        stated=stated_lines(record),
        half_time=links.half_time(work_id),
        saved=SAVED.get(saved, ""),
    )


def asked_number(museum: Museum, work_id: str, name: str, sent: Texts) -> FormPage:
    """Return the form of one number: empty, or holding the one that is to be corrected."""
    there = _stated_at(museum, work_id, name, sent)
    shown = {} if there is None else texts(number_fields(name), _as_read(there), museum.zone)
    return number_form(museum, work_id, name, shown | _was(sent), {})


def number_form(museum: Museum, work_id: str, name: str, sent: Texts, problems: Texts) -> FormPage:
    """Return the form in which one number is stated."""
    work = work_at(museum.stores.register, work_id, museum.clock())
    row = table_row(work, name)
    return FormPage(
        question=f"{capital(WORDS[name])}?",
        answer=_(
            "Of {title}. Without a number of its own the tables’ is taken: {table}.",
            title=work.title,
            table=table_text(name, row),
        ),
        form=RecordForm(
            action=links.measured(work_id, name),
            groups=[FieldGroup("", filled((*number_fields(name), YOUR_NAME), sent, problems))],
            button=_("Write it down"),
            hidden=_was(sent),
            problem=elsewhere(problems, (*number_fields(name), YOUR_NAME)),
        ),
        notes=measured_notes(row),
        result=(),
        back=links.measured(work_id),
        back_words=_("Back, without changing anything"),
    )


def sent_number(museum: Museum, work_id: str, name: str, sent: Texts) -> FormPage | None:
    """Keep a stated number; the form again where something is wrong with it."""
    there = _stated_at(museum, work_id, name, sent)
    before = None if there is None else _as_read(there)
    rules = REGISTER["overrides.csv"]
    found = read_form(number_fields(name), sent, museum.zone, before, declaration=rules)
    problems = dict(found.problems) | unnamed(sent)
    if not problems:
        factor = scale(name, STATED_UNITS[name])[0]
        value, low, high = (found.values[which] / factor for which in ("value", "low", "high"))
        about, stated = found.values, ((name, Range(low, value, high)),)
        problems = keep(museum, work_id, stated, about, sent, otherwise="value", was=there)
    return number_form(museum, work_id, name, sent, problems) if problems else None


def withdraw_form(work_id: str, name: str, sent: Texts, problems: Texts) -> FormPage:
    """Return the form that withdraws a stated number."""
    was = sent.get(WAS_FROM, "")
    return FormPage(
        question=_("Withdraw this number?"),
        answer=_(
            "{words}: it stays in the record, and no longer counts.", words=capital(WORDS[name])
        ),
        form=form_of(
            (WHY,),
            sent,
            problems,
            action=links.withdraw_measured(work_id, name, was).partition("?")[0],
            button=_("Withdraw it"),
            hidden={WAS_FROM: was},
        ),
        notes=(),
        result=(),
        back=links.measured(work_id),
        back_words=_("Back, without changing anything"),
    )


def sent_withdrawal(museum: Museum, work_id: str, name: str, sent: Texts) -> FormPage | None:
    """Withdraw a stated number; the form again where something is wrong with it."""
    found = read_form((WHY,), sent, museum.zone)
    problems = dict(found.problems) | unnamed(sent)
    there = _stated_at(museum, work_id, name, {WAS_FROM: ""} | dict(sent))
    if there is None:
        problems["why"] = _("It is not there any more: somebody changed it meanwhile.")
    if not problems and there is not None:
        why, who = str(found.values["why"]), sent["who"].strip()
        try:
            withdraw_number(museum.stores.register, there, why=why, who=who)
        except StilltautError as problem:
            problems = problem_at(problem, (WHY,), "why")
    return withdraw_form(work_id, name, sent, problems) if problems else None


def require_stated(name: str) -> None:
    """Raise unless a number may be stated of a work."""
    if name not in WORDS or name in NOT_STATED:
        known = [one for names in GROUPS.values() for one in names]
        raise UnknownNameError(read="numbers that may be stated", name=name, known=known)


def keep(
    museum: Museum,
    work_id: str,
    stated: Sequence[tuple[str, Range]],
    about: Mapping[str, Any],
    sent: Texts,
    otherwise: str,
    was: Measured | None = None,
) -> dict[str, str]:
    """Keep numbers with who measured them and since when they hold; return what is wrong.

    ``was`` is the one that is corrected; None: they are new.
    """
    measured = tuple(
        Measured(
            work_id, name, at.mid, at.low, at.high, str(about["origin"]), about.get("from_utc")
        )
        for name, at in stated
    )
    try:
        save_measured(museum.stores.register, measured, who=sent["who"].strip(), was=was)
    except StilltautError as problem:
        return problem_at(problem, number_fields(stated[0][0]), otherwise)
    return {}


def unnamed(sent: Texts) -> dict[str, str]:
    """Return what is wrong with the sender's name."""
    return {} if sent.get("who", "").strip() else {"who": _(NEEDED)}


def elsewhere(problems: Texts, fields: Sequence[Field]) -> str:
    """Return what is wrong with a form as a whole, with none of its fields."""
    names = {one.name for one in fields}
    return " ".join(words for name, words in problems.items() if name not in names)


def _was(sent: Texts) -> dict[str, str]:
    """Return the hidden field that says which number is corrected; nothing where one is added."""
    return {WAS_FROM: sent[WAS_FROM]} if WAS_FROM in sent else {}


def _stated_at(museum: Museum, work_id: str, name: str, sent: Texts) -> Measured | None:
    """Return the stated number that a form corrects, or None."""
    if WAS_FROM not in sent:
        return None
    every = work_record(museum.stores.register, work_id).measured
    named = [one for one in every if one.name == name]
    return next((one for one in named if text_of(one.from_utc) == sent[WAS_FROM]), None)


def _as_read(one: Measured) -> dict[str, Any]:
    """Return a stated number's values in the unit a person reads."""
    factor = scale(one.name, STATED_UNITS[one.name])[0]
    scaled = {which: float(f"{factor * getattr(one, which):.12g}") for which in ENDS}
    return values_of(one) | scaled


def _line(work: Work, name: str) -> ParameterLine:
    row = table_row(work, name)
    stated = work.overrides.get(name)
    return ParameterLine(
        name=name,
        words=capital(WORDS[name]),
        table=table_text(name, row),
        source=row.source if row else "",
        origin=translated(row.place) if row else "",
        stated="" if stated is None else range_text(name, stated.value, stated.low, stated.high),
    )
