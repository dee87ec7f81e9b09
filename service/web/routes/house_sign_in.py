"""Signing in through the house's own provider: sent there, and back."""

import secrets

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from dashboards import links
from service.accounts.house_provider import (
    HouseProvider,
    ProviderError,
    provider_of,
    sign_in_by_house,
)
from service.answers.museum import Museum
from service.web.routes.common import MuseumDep, go_to, own_address
from service.web.routes.sign_in import refused_by_house
from service.web.visitors import BY_HOUSE, SESSION, CallerDep, cookie_name, set_cookie

router = APIRouter()
SENT = "stilltaut-sent"


@router.get("/sign-in/house")
def send(request: Request, museum: MuseumDep, caller: CallerDep, then: str = "") -> Response:
    """Send a browser to the provider, with a secret of its own."""
    if caller.role is not None:
        return go_to(own_address(then, links.this_week()))
    proof = secrets.token_urlsafe(32)
    try:
        answer = _unkept(go_to(_provider(museum).asks_at(proof)))
    except ProviderError as problem:
        return refused_by_house(museum, then, problem)
    set_cookie(request.scope, answer.headers, SENT, f"{proof}.{then.encode().hex()}", "Lax")
    return answer


@router.get("/sign-in/house/back")
def back(request: Request, museum: MuseumDep, caller: CallerDep) -> Response:
    """Sign in whom the provider vouches for."""
    sent = request.cookies.get(cookie_name(request.scope, SENT), "")
    proof, _dot, hidden = sent.partition(".")
    then = _from_hex(hidden)
    try:
        address = _vouched(museum, proof, f"{request.url.path}?{request.url.query}")
        session = sign_in_by_house(museum.stores.register, address)
    except ProviderError as problem:
        answer = refused_by_house(museum, then, problem)
    else:
        answer = _unkept(go_to(own_address(then, links.this_week())))
        set_cookie(request.scope, answer.headers, SESSION, session, "Lax")
        set_cookie(request.scope, answer.headers, BY_HOUSE, "1", "Lax")
    set_cookie(request.scope, answer.headers, SENT, "", "Lax")
    return answer


@router.get("/sign-out/house")
def leave(request: Request, museum: MuseumDep) -> Response:
    """Send a browser that is signed out here to the provider, to be signed out there too."""
    try:
        address = _provider(museum).left_at(secrets.token_urlsafe(16))
    except ProviderError as problem:
        return refused_by_house(museum, "", problem)
    answer = _unkept(go_to(address or f"{links.sign_in()}?done=out"))
    set_cookie(request.scope, answer.headers, BY_HOUSE, "", "Lax")
    return answer


def _vouched(museum: Museum, proof: str, answer: str) -> str:
    provider = _provider(museum)
    if not proof:
        raise _problem("a browser that was not sent from here, or has waited too long")
    return provider.vouched_for(proof, provider.return_to.partition("/sign-in")[0] + answer)


def _provider(museum: Museum) -> HouseProvider:
    found = provider_of(museum.settings)
    if found is None:
        raise _problem("no provider")
    return found


def _problem(found: str) -> ProviderError:
    return ProviderError(
        read="the request",
        where="",
        found=found,
        expected="a browser that was sent to the house's provider from here",
        action="Begin at the page where one signs in.",
    )


def _from_hex(text: str) -> str:
    try:
        return bytes.fromhex(text).decode()
    except ValueError:
        return ""


def _unkept(answer: RedirectResponse) -> RedirectResponse:
    answer.headers["Cache-Control"] = "no-store"
    return answer
