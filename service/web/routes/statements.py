"""Climate statements for lenders: issued from a form, kept as issued, corrected by a new one."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from analysis.errors import OutOfRangeError, UnknownNameError
from analysis.records import Field
from dashboards import links
from dashboards.forms.form import YOUR_NAME, FieldGroup, RecordForm, filled
from dashboards.lines import Table
from dashboards.pages.statement_pages import (
    StatementFormPage,
    StatementLine,
    StatementPage,
    StatementsPage,
)
from dashboards.text import wording
from dashboards.text.messages import _
from dashboards.text.reports import statement_text as text
from service.answers.lenders_statements import asked_fields, issue_statement, statement_lines
from service.answers.museum import Museum
from service.records.sent_forms import problem_at, read_form, texts
from service.storage.statements import Issued, replaced_by, statement
from service.web.routes.common import (
    MuseumDep,
    form_texts,
    go_to,
    sent_back,
    sent_file,
    shown,
    shown_or_taken,
)

router = APIRouter()
CORRECTS = "corrects"


@router.get("/statements")
def every_statement(museum: MuseumDep) -> HTMLResponse:
    """Show all statements, newest first."""
    found = statement_lines(museum)
    return shown(
        StatementsPage(
            answer=text.statements_answer(len(found)),
            lines=[
                StatementLine(one.id, one.facts["title"], _line(one, newer)) for one, newer in found
            ],
        )
    )


def _line(one: Issued, newer: int | None) -> str:
    said = f"{one.facts['number']}, {one.facts['made']}."
    if newer is None:
        return said
    return said + " " + _("No longer stands: see statement {newer}.", newer=newer)


@router.get("/statements/new")
def ask_statement(request: Request, museum: MuseumDep) -> HTMLResponse:
    """Show the form of a statement, empty or with what an earlier one asked."""
    query = dict(request.query_params)
    old = _old(museum, query.get(CORRECTS, ""))
    fields = asked_fields(museum)
    sent = {"room": query.get("room", "")} if old is None else _asked_before(museum, fields, old)
    return shown(_form(museum, fields, sent, {}, old))


@router.post("/statements")
async def issue(request: Request, museum: MuseumDep) -> Response:
    """Issue a statement under the next number."""
    sent = await form_texts(request)
    old = _old(museum, sent.get(CORRECTS, ""))
    fields = (*asked_fields(museum), *_of_a_correction(old))
    found = read_form((*fields, YOUR_NAME), sent, museum.zone)
    if found.problems:
        return sent_back(_form(museum, fields, sent, found.problems, old))
    values = {name: value for name, value in found.values.items() if name not in ("who", "why")}
    try:
        number = issue_statement(
            museum,
            values,
            by=found.values["who"],
            corrects=None if old is None else old.id,
            why=found.values.get("why", ""),
        )
    except OutOfRangeError as problem:
        return sent_back(_form(museum, fields, sent, problem_at(problem, fields, "room"), old))
    return go_to(links.statement(number))


@router.get("/statements/{number}.pdf")
def statement_sheet(museum: MuseumDep, number: int) -> Response:
    """Send a statement as it was issued."""
    return sent_file(statement(museum.stores.register, number).sheet, f"statement-{number}.pdf")


@router.get("/statements/{number}")
def one_statement(museum: MuseumDep, number: int, table: str = "") -> Response:
    """Show one statement, and whether it still stands."""
    one = statement(museum.stores.register, number)
    facts = one.facts
    page = StatementPage(
        number=number,
        name=facts["number"],
        title=facts["title"],
        answer=facts["answer"],
        lines=facts["lines"],
        table=Table(**facts["table"]),
        gaps=facts["gaps"],
        changes=facts["changes"],
        replaced=replaced_by(museum.stores.register, number),
        made=facts["made"],
    )
    return shown_or_taken(museum, page, page.table, f"statement-{number}", table)


def _old(museum: Museum, number: str) -> Issued | None:
    """Return the statement that is to be corrected, None where none is named."""
    if not number:
        return None
    if not number.isdecimal():
        raise UnknownNameError(read="statements", name=number, known=[])
    return statement(museum.stores.register, int(number))


def _asked_before(museum: Museum, fields: tuple[Field, ...], old: Issued) -> dict[str, str]:
    dates = ("from_utc", "to_utc")
    values: dict[str, Any] = {
        name: datetime.fromisoformat(value) if name in dates else value
        for name, value in old.asked.items()
    }
    return texts(fields, values, museum.zone)


def _of_a_correction(old: Issued | None) -> tuple[Field, ...]:
    if old is None:
        return ()
    return (Field(name="why", label=_("Why it is issued anew"), needed=True),)


def _form(
    museum: Museum,
    fields: tuple[Field, ...],
    sent: Mapping[str, str],
    problems: Mapping[str, str],
    old: Issued | None,
) -> StatementFormPage:
    asked = [one for one in fields if one.name != "why"]
    groups = [
        FieldGroup(_("What was lent, and when"), filled(asked[:5], sent, problems)),
        FieldGroup(_("What the lender asks"), filled(asked[5:], sent, problems)),
        FieldGroup("", filled([*_of_a_correction(old), YOUR_NAME], sent, problems)),
    ]
    question = _("Did a room keep to a lender’s terms?")
    if old is not None:
        question = _("What should stand in place of statement {number}?", number=old.id)
    return StatementFormPage(
        question=question,
        answer=_(
            "The statement gets a number and is kept as it is issued. A correction is a new "
            "statement in its place, which says what differs."
        ),
        form=RecordForm(
            links.statements(),
            groups,
            _("Issue the statement"),
            hidden={} if old is None else {CORRECTS: str(old.id)},
        ),
        notes=[
            _("Where the terms say no more than “a day”, ask the lender what it means."),
            _(text.CAUTION),
            wording.capital(_("room climate and loans are confidential.")),
        ],
        result=(),
        back=links.statements(),
        back_words=_("All statements"),
    )
