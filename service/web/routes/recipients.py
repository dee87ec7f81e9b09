"""Who is told of notices, whom to call, and the limits and delays of notices."""

from collections.abc import Mapping
from datetime import date, datetime
from email.message import EmailMessage
from email.utils import format_datetime, make_msgid
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from analysis.errors import OutOfRangeError, StilltautError
from analysis.records import REGISTER, Kind
from dashboards import links
from dashboards.lines import PersonTold
from dashboards.pages.page import PeopleTold
from dashboards.text import wording
from dashboards.text.error_words import error_words
from dashboards.text.messages import N_, Worded, _
from dashboards.text.sentences import NOTICE_WORDS
from service.answers.museum import Museum
from service.notices.arrangements import Arrangement, arrange, arrangement
from service.notices.causes import Kind as NoticeKind
from service.notices.lines import call_words
from service.notices.mail import post_of
from service.records.entry_forms import form_of, store_entry
from service.records.sent_forms import texts
from service.storage.outbox import Letter, queue_letter
from service.storage.people import Contact, contacts, put_contact, remove_contact
from service.storage.records import values_of
from service.web.routes.common import MuseumDep, form_texts, go_to, sent_back, shown

router = APIRouter()
FILE = "notice_limits.csv"
LIMITS = REGISTER[FILE].asked()
DONE = Worded(
    {
        "added": N_("The person is entered."),
        "removed": N_("The person is taken out, with number and address."),
        "limits": N_("The limits hold from now on."),
        "test": N_("A test letter waits to be sent."),
        "no server": N_(
            "No mail server is set, so no letter can be sent. Whoever runs this program can "
            "set one."
        ),
    }
)


@router.get("/notices/people")
def recipients(museum: MuseumDep, done: str = "") -> HTMLResponse:
    """Show who is told of what, and the limits and delays."""
    return shown(_page(museum, said=DONE.get(done, "")))


@router.post("/notices/people/people")
async def add(museum: MuseumDep, request: Request) -> Response:
    """Enter a person who is told of notices."""
    form = await request.form()
    try:
        contact = _contact(form)
    except OutOfRangeError as problem:
        typed = {name: str(value) for name, value in form.items()}
        return sent_back(_page(museum, typed=typed, problem=_fault(problem)))
    put_contact(museum.stores.register, contact, by=_text(form, "by"))
    return _done("added")


@router.post("/notices/people/limits")
async def limits(museum: MuseumDep, request: Request) -> Response:
    """Keep other limits and delays from now on."""
    sent, register = await form_texts(request), museum.stores.register

    def save(values: Mapping[str, Any], who: str) -> None:
        arrange(register, dict(values), by=who, from_utc=museum.clock())

    asked = {one.name: None for one in LIMITS if one.may_be_unknown}
    emptied = asked | {one.name: "" for one in LIMITS if one.kind in (Kind.TIME_OF_DAY, Kind.NOTE)}
    problems = store_entry(
        museum,
        FILE,
        LIMITS,
        sent,
        lambda found: {**emptied, **found},
        otherwise=LIMITS[0].name,
        before=values_of(arrangement(register, museum.clock()).values),
        save=save,
    )
    if problems:
        return sent_back(_page(museum, sent=sent, problems=problems))
    return _done("limits")


@router.post("/notices/people/{number}/remove")
async def remove(museum: MuseumDep, number: int, request: Request) -> Response:
    """Take a person out, with number and address."""
    form = await request.form()
    remove_contact(museum.stores.register, number, by=_text(form, "by"))
    return _done("removed")


@router.post("/notices/people/{number}/test")
def send_test(museum: MuseumDep, number: int) -> Response:
    """Send a person a test letter."""
    one = next((c for c in contacts(museum.stores.register) if c.id == number and c.email), None)
    post = post_of(museum.settings)
    if one is None or post is None:
        return _done("no server")
    now = museum.clock()
    message = EmailMessage()
    message["From"], message["To"] = post.sender, one.email
    message["Subject"] = _("A test: notices will reach you here")
    message["Date"] = format_datetime(now)
    message["Message-ID"] = make_msgid(domain=post.domain)
    message["Auto-Submitted"] = "auto-generated"
    message.set_content(_("This is a test. Nothing has happened; there is nothing to do."))
    letter = Letter(
        letter_key=str(message["Message-ID"]),
        recipient=one.email,
        subject=str(message["Subject"]),
        body=message.as_string(),
        message_id=str(message["Message-ID"]),
    )
    queue_letter(museum.stores.register, letter, now)
    return _done("test")


def _done(what: str) -> RedirectResponse:
    return go_to(f"{links.recipients()}?done={what.replace(' ', '+')}")


def _text(form: FormData, name: str) -> str:
    return str(form.get(name, "")).strip()


def _fault(problem: StilltautError) -> str:
    return _(
        "“{where}”: found {found}, expected {expected}. {action}",
        where=error_words(problem.where),
        found=error_words(problem.found),
        expected=error_words(problem.expected),
        action=error_words(problem.action),
    )


def _require_name(form: FormData) -> None:
    if not _text(form, "by"):
        raise _wrong(_("your name"), _("nothing"), _("who changes this"))


def _wrong(where: str, found: str, expected: str) -> OutOfRangeError:
    return OutOfRangeError(
        read="the form",
        where=where,
        found=found,
        expected=expected,
        action="Correct it and send the form again. Nothing was stored.",
    )


def _contact(form: FormData) -> Contact:
    """Return the person that a form describes, or raise `OutOfRangeError`."""
    _require_name(form)
    name, email = _text(form, "name"), _text(form, "email")
    if not name or not name.isprintable():
        raise _wrong(_("name"), repr(name) if name else _("nothing"), _("a name in one line"))
    if email and (email.count("@") != 1 or not email.isprintable() or " " in email):
        raise _wrong(_("e-mail"), email, _("one address, for example a.person@museum.example"))
    if not email and not _text(form, "telephone"):
        raise _wrong(_("e-mail or telephone"), _("neither"), _("one of the two"))
    return Contact(
        name,
        email,
        "".join(c for c in _text(form, "telephone") if c.isprintable()),
        tuple(str(kind) for kind in form.getlist("kinds") if kind in list(NoticeKind)),
        tuple(str(room) for room in form.getlist("rooms")),
        _hours(_text(form, "after_h") or "0"),
        _text(form, "on_call") == "yes",
        _day(_text(form, "review_on")),
    )


def _hours(text: str) -> float:
    try:
        hours = float(text.replace(",", "."))
    except ValueError:
        hours = float("nan")
    if not 0.0 <= hours <= 720.0:
        raise _wrong(_("hours"), text, _("a number of hours between 0 and 720"))
    return hours


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        raise _wrong(_("date"), text, _("a date, for example 2027-05-31")) from None


def _page(
    museum: Museum,
    *,
    typed: Mapping[str, str] | None = None,
    problem: str = "",
    said: str = "",
    sent: Mapping[str, str] | None = None,
    problems: Mapping[str, str] | None = None,
) -> PeopleTold:
    arranged = arrangement(museum.stores.register, museum.clock())
    standing = texts(LIMITS, values_of(arranged.values) | {"why": ""}, museum.zone)
    return PeopleTold(
        answer=_answer(arranged),
        people=[_person(one, museum) for one in arranged.people],
        fallback=_fallback(museum),
        kinds=[(str(kind), NOTICE_WORDS[kind]) for kind in NoticeKind],
        rooms=[(room.room, room.name) for room in museum.every_room()],
        limits=form_of(
            LIMITS,
            standing if sent is None else sent,
            problems or {},
            action=links.recipient_limits(),
            button=_("Keep these limits"),
        ),
        owned=_owned(arranged, museum.zone),
        typed=typed or {},
        problem=problem,
        said=said,
    )


def _answer(arranged: Arrangement) -> str:
    first = [one.name for one in arranged.people if one.email and one.after_h == 0.0]
    call = [call_words(one) for one in arranged.people if one.on_call]
    told = (
        _("{names} is told at once.", names=first[0])
        if len(first) == 1
        else _("{names} are told at once.", names=wording.listed(first))
    )
    if not first:
        told = _("Nobody who is entered here is told at once.")
    if not call:
        return _("{told} Nobody is named to be called.", told=told)
    return _("{told} To be called: {names}.", told=told, names="; ".join(call))


def _fallback(museum: Museum) -> str:
    post = post_of(museum.settings)
    if post is None:
        return _("No mail server is set either: nobody is written to.")
    if not post.recipients:
        return _("Nobody is written to.")
    return _("Notices go to {names}.", names=wording.listed(post.recipients))


def _person(one: Contact, museum: Museum) -> PersonTold:
    names = {room.room: room.name for room in museum.every_room()}
    kinds = wording.listed([NOTICE_WORDS.get(kind, kind) for kind in one.kinds])
    rooms = wording.listed([names.get(room, room) for room in one.rooms])
    when = (
        _("Told at once")
        if one.after_h == 0.0
        else _(
            "Told when nobody has seen a notice for {hours} h", hours=wording.number(one.after_h)
        )
    )
    words = _(
        "{when}, of {kinds}, in {rooms}.",
        when=when if one.email else _("Not written to"),
        kinds=kinds or _("everything"),
        rooms=rooms or _("all rooms"),
    )
    reached = "; ".join(filter(None, (one.email, one.telephone)))
    review = (
        ""
        if one.review_on is None
        else _("Look again by {day}.", day=wording.date_words(one.review_on))
    )
    call = _(" To be called.") if one.on_call else ""
    return PersonTold(one.id, one.name, words + call, reached, one.email, review)


def _owned(arranged: Arrangement, zone: str) -> str:
    if arranged.from_utc is None:
        return _("Nobody has set these yet; they are first settings without a source.")
    since: datetime = arranged.from_utc
    words = _("Set by {by} on {day}.", by=arranged.by, day=wording.day(since, zone))
    return f"{words} {arranged.why}" if arranged.why else words
