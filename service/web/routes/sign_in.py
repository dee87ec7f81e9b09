"""Signing in and out, choosing a password by a link, and what one's own account holds."""

from collections.abc import Sequence
from dataclasses import replace
from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from analysis.errors import StilltautError
from dashboards import links
from dashboards.pages.account_pages import AccountPage, SignInPage, WelcomePage
from dashboards.text.account_text import role_sentence
from dashboards.text.error_words import error_words
from dashboards.text.messages import _
from service.accounts import second_factor, signing_in
from service.accounts.passwords import SHORTEST, is_password
from service.answers.museum import Museum
from service.storage.accounts.sessions import end_session, link_of
from service.storage.accounts.users import User
from service.web.routes.common import MuseumDep, go_to, own_address, shown
from service.web.visitors import BY_HOUSE, SESSION, Caller, CallerDep, cookie_name, set_cookie

router = APIRouter()
Text = Annotated[str, Form()]
SAID = {
    "out": "You are signed out.",
    "password": "Your password is kept. Sign in with it.",
    "changed": "Your password is changed.",
    "factor": "A code is asked for from now on.",
    "no-factor": "No code is asked for any more.",
}
DIFFERENT = "The two passwords are not the same."


@router.get("/sign-in")
def ask(
    request: Request, museum: MuseumDep, caller: CallerDep, then: str = "", done: str = ""
) -> Response:
    """Ask who somebody is."""
    if caller.role is not None:
        return go_to(own_address(then, links.this_week()))
    came_by_house = cookie_name(request.scope, BY_HOUSE) in request.cookies
    page = _page(museum, then, said=_(SAID.get(done, "")))
    return _unkept(replace(page, still_there=done == "out" and came_by_house))


def _page(
    museum: Museum, then: str, name: str = "", problem: str = "", said: str = ""
) -> SignInPage:
    by_house = museum.settings.oidc_name if museum.settings.oidc_issuer else ""
    return SignInPage(then, name, problem, said, by_house)


def refused_by_house(museum: Museum, then: str, problem: StilltautError) -> Response:
    """Return the page on which one signs in, with why the house's provider did not let one in."""
    return _unkept(_page(museum, then, problem=_said(problem)), HTTPStatus.UNPROCESSABLE_ENTITY)


@router.post("/sign-in")
def sign_in(
    request: Request,
    museum: MuseumDep,
    caller: CallerDep,
    name: Text,
    password: Text,
    code: Text = "",
    then: Text = "",
) -> Response:
    """Sign somebody in, or say that something does not belong together."""
    if caller.open:
        return go_to(links.this_week())
    try:
        session = signing_in.sign_in(
            museum.stores.register, name, password, code, address_of(request)
        )
    except signing_in.RefusedError as problem:
        words = _said(problem)
        answer = _unkept(_page(museum, then, name[:100], words), HTTPStatus.UNAUTHORIZED)
        if problem.after_s:
            answer.status_code = HTTPStatus.TOO_MANY_REQUESTS
            answer.headers["Retry-After"] = str(max(1, round(problem.after_s)))
        return answer
    gone_on = go_to(own_address(then, links.this_week()))
    set_cookie(request.scope, gone_on.headers, SESSION, session, "Lax")
    return gone_on


@router.post("/sign-out")
def sign_out(request: Request, museum: MuseumDep, caller: CallerDep) -> RedirectResponse:
    """Sign this browser out."""
    if caller.session:
        end_session(museum.stores.register, caller.session)
    gone_on = go_to(f"{links.sign_in()}?done=out")
    set_cookie(request.scope, gone_on.headers, SESSION, "", "Lax")
    gone_on.headers["Clear-Site-Data"] = '"cache"'
    return gone_on


@router.get("/form-token")
def token(caller: CallerDep) -> JSONResponse:
    """Return what the forms of this browser send back, for a page that was kept on a phone."""
    answer = JSONResponse({"token": caller.form_token, "signed_in": caller.role is not None})
    answer.headers["Cache-Control"] = "no-store"
    return answer


@router.get("/welcome/{link}")
def welcome(museum: MuseumDep, link: str) -> HTMLResponse:
    """Ask for a password, where the link holds."""
    return _welcome(museum, link, "")


@router.post("/welcome/{link}")
def choose(museum: MuseumDep, link: str, password: Text, again: Text) -> Response:
    """Keep the password that was chosen; the link is used up."""
    if password != again:
        return _welcome(museum, link, _(DIFFERENT))
    try:
        user = signing_in.choose_password(museum.stores.register, link, password)
    except StilltautError as problem:
        return _welcome(museum, link, _said(problem))
    if user is None:
        return _welcome(museum, link, "")
    return go_to(f"{links.sign_in()}?done=password")


def _welcome(museum: Museum, link: str, problem: str) -> HTMLResponse:
    found = link_of(museum.stores.register, link)
    page = WelcomePage(link, found.user if found else "", SHORTEST, problem)
    status = HTTPStatus.OK if found and not problem else HTTPStatus.UNPROCESSABLE_ENTITY
    answer = _unkept(page, status if found else HTTPStatus.NOT_FOUND)
    answer.headers["Referrer-Policy"] = "no-referrer"
    return answer


@router.get("/account")
def account(museum: MuseumDep, caller: CallerDep, done: str = "") -> HTMLResponse:
    """Show one's own account."""
    return _account(museum, caller, said=_(SAID.get(done, "")))


@router.post("/account/password")
def change_password(
    request: Request,
    museum: MuseumDep,
    caller: CallerDep,
    old: Text,
    password: Text,
    again: Text,
) -> Response:
    """Change one's own password."""
    if caller.user is None:
        return go_to(links.account())
    if password != again:
        return _account(museum, caller, problem=_(DIFFERENT))
    try:
        signing_in.change_password(
            museum.stores.register, caller.user, old, password,
            address=address_of(request), session=caller.session,
        )  # fmt: skip
    except StilltautError as problem:
        return _account(museum, caller, problem=_said(problem))
    return go_to(f"{links.account()}?done=changed")


@router.post("/account/factor")
def begin_factor(
    museum: MuseumDep, caller: CallerDep, old: Text, secret: Text, code: Text
) -> Response:
    """Ask for a code from now on; show the recovery codes this once."""
    if caller.user is None:
        return go_to(links.account())
    if not is_password(old, caller.user.password_hash):
        return _account(museum, caller, problem=_("That is not your password."), secret=secret)
    if not second_factor.is_secret(secret) or second_factor.step_of(secret, code) is None:
        words = _("That is not the code of this secret. Is the clock of the generator right?")
        return _account(museum, caller, problem=words, secret=secret)
    codes = second_factor.begin_second_factor(museum.stores.register, caller.user, secret)
    return _account(museum, caller, said=_(SAID["factor"]), codes=codes, has=True)


@router.post("/account/factor/end")
def end_factor(museum: MuseumDep, caller: CallerDep, old: Text) -> Response:
    """Ask for no code any more."""
    if caller.user is None:
        return go_to(links.account())
    if not is_password(old, caller.user.password_hash):
        return _account(museum, caller, problem=_("That is not your password."))
    user = caller.user.user
    second_factor.end_second_factor(museum.stores.register, user, by=user)
    return go_to(f"{links.account()}?done=no-factor")


def _account(
    museum: Museum,
    caller: Caller,
    *,
    said: str = "",
    problem: str = "",
    secret: str = "",
    codes: Sequence[str] = (),
    has: bool = False,
) -> HTMLResponse:
    user = caller.user or User("")
    has = has or bool(user.second_factor)
    if has or not user.user:
        secret = ""
    elif not secret:
        secret = second_factor.new_secret()
    page = AccountPage(
        user=user.user,
        may=role_sentence(user.role),
        hours=museum.settings.signed_in_h,
        has_second_factor=has,
        secret=secret,
        generator=second_factor.provisioning_address(secret, user.user) if secret else "",
        codes=codes,
        shortest=SHORTEST,
        problem=problem,
        said=said,
    )
    return _unkept(page, HTTPStatus.UNPROCESSABLE_ENTITY if problem else HTTPStatus.OK)


def _unkept(
    page: SignInPage | WelcomePage | AccountPage, status: HTTPStatus = HTTPStatus.OK
) -> HTMLResponse:
    """Return a page that no browser keeps."""
    answer = shown(page)
    answer.status_code = status
    answer.headers["Cache-Control"] = "no-store"
    return answer


def _said(problem: StilltautError) -> str:
    return _(
        "Found {found}. {action}",
        found=error_words(problem.found),
        action=error_words(problem.action),
    )


def address_of(request: Request) -> str:
    """Return from where somebody asks."""
    return request.client.host if request.client else ""
