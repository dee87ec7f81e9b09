"""Who may come in: the accounts, seen and changed by those who administer."""

from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from analysis.errors import StilltautError
from dashboards import links
from dashboards.pages.account_pages import AccountLine, AccountsPage
from dashboards.text.account_text import accounts_sentence
from dashboards.text.error_words import error_words
from dashboards.text.messages import _
from service.accounts import second_factor, signing_in
from service.answers.museum import Museum
from service.storage.accounts.sessions import LINK_LASTS
from service.storage.accounts.users import User, users
from service.web.routes.common import MuseumDep, go_to, shown
from service.web.visitors import Caller, CallerDep

router = APIRouter()
Text = Annotated[str, Form()]


@router.get("/accounts")
def every_account(museum: MuseumDep, caller: CallerDep) -> HTMLResponse:
    """Show all accounts."""
    return _page(museum, caller)


@router.post("/accounts")
def add(
    request: Request,
    museum: MuseumDep,
    caller: CallerDep,
    user: Text,
    full_name: Text,
    role: Text,
    email: Text = "",
) -> HTMLResponse:
    """Make an account, and show the link by which its password is chosen."""
    new = User(user, full_name.strip(), role, email.strip())
    try:
        link = signing_in.add_user(museum.stores.register, new, by=_by(caller))
    except StilltautError as problem:
        return _page(museum, caller, problem=problem)
    return _page(museum, caller, link_for=full_name, address=_address(request, museum, link))


@router.post("/accounts/{user:name}/change")
def change(
    museum: MuseumDep, caller: CallerDep, user: str, role: Text, active: Text = "yes"
) -> Response:
    """Change what a person may do, or let them in no more."""
    try:
        signing_in.change_user(
            museum.stores.register, user, role=role, active=active == "yes", by=_by(caller)
        )
    except StilltautError as problem:
        return _page(museum, caller, problem=problem)
    return go_to(links.accounts())


@router.post("/accounts/{user:name}/link")
def link(request: Request, museum: MuseumDep, caller: CallerDep, user: str) -> HTMLResponse:
    """Show a link by which a person chooses a new password."""
    text = signing_in.link_for(museum.stores.register, user, by=_by(caller))
    return _page(museum, caller, link_for=user, address=_address(request, museum, text))


@router.post("/accounts/{user:name}/factor")
def end_factor(museum: MuseumDep, caller: CallerDep, user: str) -> RedirectResponse:
    """Ask a person for no code, where the generator and the recovery codes are lost."""
    second_factor.end_second_factor(museum.stores.register, user, by=_by(caller))
    return go_to(links.accounts())


def _by(caller: Caller) -> str:
    return caller.user.user if caller.user else "this machine"


def _address(request: Request, museum: Museum, link: str) -> str:
    base = museum.settings.base_url or str(request.base_url)
    return f"{base.rstrip('/')}{links.welcome(link)}"


def _page(
    museum: Museum,
    caller: Caller,
    *,
    link_for: str = "",
    address: str = "",
    problem: StilltautError | None = None,
) -> HTMLResponse:
    known = users(museum.stores.register)
    answer = shown(
        AccountsPage(
            answer=accounts_sentence([one.role for one in known if one.active]),
            accounts=[_line(one) for one in known],
            link_for=link_for,
            address=address,
            hours=round(LINK_LASTS.total_seconds() / 3600),
            problem=_fault(problem) if problem else "",
            open=caller.open,
        )
    )
    answer.headers["Cache-Control"] = "no-store"
    if problem:
        answer.status_code = HTTPStatus.UNPROCESSABLE_ENTITY
    return answer


def _fault(problem: StilltautError) -> str:
    return _(
        "“{where}”: found {found}, expected {expected}. {action}",
        where=error_words(problem.where),
        found=error_words(problem.found),
        expected=error_words(problem.expected),
        action=error_words(problem.action),
    )


def _line(one: User) -> AccountLine:
    return AccountLine(
        one.user, one.full_name, one.role, one.email, one.active,
        bool(one.password_hash), bool(one.second_factor),
    )  # fmt: skip
