"""Who asks: signed in, a program with a token, or anybody where the pages are open.

Every request passes here after its host and its origin were looked at. What it asks for is looked
up in `service.web.permissions` before any of it is read.
"""

import hashlib
import hmac
import secrets
from dataclasses import dataclass
from datetime import timedelta
from http import HTTPStatus
from ipaddress import ip_address
from typing import Annotated
from urllib.parse import urlsplit

from fastapi import Depends, HTTPException
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import MutableHeaders
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from analysis.errors import StilltautError
from dashboards import links
from dashboards.pages.page import ErrorPage
from dashboards.visitor import IN_HOUSE, OF_GROUP, Visitor, visited_by
from service.accounts.house_provider import known_by_address, provider_of
from service.accounts.roles import Role, role_named
from service.settings import Settings
from service.storage import audit
from service.storage.accounts.sessions import session_at_hand, session_user
from service.storage.accounts.users import User
from service.storage.register import Register
from service.storage.tokens import Scope as TokenScope, note_used, token_of
from service.web.permissions import READ, Permission, permission
from service.web.problems import error_answer, wants_json
from service.web.routes.common import FORM_FIELDS, FORM_TOKEN

OPEN, SIGN_IN = "open", "sign-in"
FORWARDED = ("forwarded", "x-forwarded-for", "x-forwarded-host", "via")
SESSION, FORMS = "stilltaut-session", "stilltaut-forms"
BY_HOUSE = "stilltaut-by-house"  # tells no secret: whoever signed in came by the house's provider
FORM_HEADER = "x-form-token"
OF_A_TOKEN = {TokenScope.LOOK: Role.LOOK, TokenScope.BRING_IN: Role.CARE}
FOR_PROGRAMS = ("/api/", "/metrics")
FREE = "/static/"  # the same for everybody
KEY = "stilltaut.caller"
# In the scope of a request to one house of a group: its name ("" at the group itself), and who is
# signed in at the group.
HOUSE, VOUCHED = "stilltaut.house", "stilltaut.vouched"


@dataclass(frozen=True)
class Vouched:
    """Somebody signed in at the group: the e-mail address it vouches for, and the session there."""

    email: str
    session: str


@dataclass(frozen=True)
class Caller:
    """Who asks, and what goes with it.

    ``proof`` is the secret of the browser (its session, or what its forms go by); what every form
    sends back is made from it. Empty: no browser, whose request carries no one's rights.
    """

    role: Role | None = None
    user: User | None = None
    session: str = ""
    proof: str = ""
    program: str = ""
    open: bool = False

    @property
    def form_token(self) -> str:
        """What the forms of this browser send back."""
        return form_token(self.proof) if self.proof else ""

    def may(self, asked: Permission | None) -> bool:
        """Whether this caller may do what a line of the table is about."""
        if asked is not None and asked.least is None:
            return True
        return self.role is not None and self.role.may(_least(asked))

    def needs(self, method: str, address: str) -> str:
        """Return the role that a request lacks; empty where this caller may make it."""
        if address.startswith(FREE):
            return ""
        asked = permission(method, address)
        return "" if self.may(asked) else str(_least(asked))


def _least(asked: Permission | None) -> Role:
    """Return the least role for a line of the table; what has no line is for administrators."""
    return Role.ADMINISTER if asked is None or asked.least is None else asked.least


def form_token(proof: str) -> str:
    """Return what a browser's forms send back: no page elsewhere can know it."""
    return hmac.new(proof.encode(), b"stilltaut form", hashlib.sha256).hexdigest()


def caller_of(request: Request) -> Caller:
    """Return who asks."""
    caller: Caller = request.scope[KEY]
    return caller


def cookie_name(scope: Scope, name: str) -> str:
    """Return a cookie's name: over TLS it is bound to this host by the browser itself.

    Houses of a group share the host, so that each has names of its own.
    """
    house = scope.get(HOUSE, "")
    own = f"{name}-{house}" if house and name != FORMS else name
    return f"__Host-{own}" if scope["scheme"] == "https" else own


def set_cookie(scope: Scope, headers: MutableHeaders, name: str, value: str, same: str) -> None:
    """Give a browser a cookie that no script can read; an empty one is taken away."""
    secure = "; Secure" if scope["scheme"] == "https" else ""
    gone = "" if value else "; Max-Age=0"
    headers.append(
        "set-cookie",
        f"{cookie_name(scope, name)}={value}; Path=/; HttpOnly; SameSite={same}{secure}{gone}",
    )


class Visitors:
    """ASGI middleware: finds out who asks, and lets in who may."""

    def __init__(self, app: ASGIApp, settings: Settings) -> None:
        self._app, self._settings = app, settings
        self._open = settings.access == OPEN

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on with who makes it, or answer it here."""
        if scope["type"] != "http" or scope["path"].startswith(FREE):
            await self._app(scope, receive, send)
            return
        request = Request(scope)
        caller, new = await self._caller(request)
        scope[KEY] = caller
        asked = permission(scope["method"], scope["path"])

        async def with_cookie(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                if new and headers.get("content-type", "").startswith("text/html"):
                    set_cookie(scope, headers, FORMS, new, "Strict")
                if scope["scheme"] == "https":
                    headers.setdefault("Strict-Transport-Security", "max-age=31536000")
            await send(message)

        with (
            visited_by(_shown(caller, request.scope)),
            audit.acting(_account(caller), _page(request)),
        ):
            refused = self._refused(request, caller, asked)
            await (refused or self._app)(scope, receive, with_cookie)

    async def _caller(self, request: Request) -> tuple[Caller, str]:
        """Return who asks, and a new secret for the forms of a browser that has none."""
        register = request.app.state.museum.stores.register
        forms = request.cookies.get(cookie_name(request.scope, FORMS), "")
        browser = "sec-fetch-mode" in request.headers
        new = "" if forms or (self._open and not browser) else secrets.token_urlsafe(32)
        if self._open:
            return Caller(Role.ADMINISTER, proof=forms or new, open=True), new
        found = self._at_hand(register, request)
        if found is None:
            found = await run_in_threadpool(self._known, register, request)
        return (found, "") if found else (Caller(proof=forms or new), new)

    def _at_hand(self, register: Register, request: Request) -> Caller | None:
        """Return who asks where the register need not be asked."""
        if "authorization" in request.headers:
            return None
        text = request.cookies.get(cookie_name(request.scope, SESSION), "")
        idle = timedelta(hours=self._settings.signed_in_h)
        user = session_at_hand(register, text, idle) if text else None
        role = role_named(user.role) if user else None
        return None if role is None else Caller(role, user, text, text)

    def _known(self, register: Register, request: Request) -> Caller | None:
        scheme, _, text = request.headers.get("authorization", "").partition(" ")
        if scheme.lower() == "bearer" and request.url.path.startswith(FOR_PROGRAMS):
            return _program(register, text.strip())
        text = request.cookies.get(cookie_name(request.scope, SESSION), "")
        idle = timedelta(hours=self._settings.signed_in_h)
        user = session_user(register, text, idle) if text else None
        role = role_named(user.role) if user else None
        if role is None:
            return vouched_caller(register, request.scope.get(VOUCHED))
        return Caller(role, user, text, text)

    def _refused(
        self, request: Request, caller: Caller, asked: Permission | None
    ) -> Response | None:
        if self._open and not from_this_machine(request):
            return _not_here(request)
        if self._open or (asked is None and caller.role is not None):
            return None  # an address that is none is said to be none
        if not self._open and not is_safe(request):
            return _in_the_open(request)
        if caller.may(asked):
            return None
        if caller.role is not None:
            return _not_yours(request, asked)
        return _sign_in_first(request)


def vouched_caller(register: Register, vouched: Vouched | None) -> Caller | None:
    """Return who of this house somebody is that the group vouches for, by e-mail address."""
    user = known_by_address(register, vouched.email) if vouched else None
    role = role_named(user.role) if user else None
    if vouched is None or role is None:
        return None
    return Caller(role, user, proof=vouched.session)


def _program(register: Register, text: str) -> Caller | None:
    """Return the program that shows a token; a gateway's token lets in nowhere but at its door."""
    found = token_of(register, text)
    role = OF_A_TOKEN.get(TokenScope(found.scope)) if found else None
    if found is None or role is None:
        return None
    note_used(register, found.number)
    return Caller(role, program=found.name)


def _shown(caller: Caller, scope: Scope) -> Visitor:
    user, house = caller.user, scope.get(HOUSE)
    return Visitor(
        account=user.user if user else "",
        name=user.full_name if user else "",
        role=str(caller.role or ""),
        open=caller.open,
        form_token=caller.form_token,
        needs=caller.needs,
        among="" if house is None else IN_HOUSE if house else OF_GROUP,
    )


def _account(caller: Caller) -> str:
    return caller.user.user if caller.user else f"token: {caller.program}" * bool(caller.program)


def _page(request: Request) -> str:
    """Return on which page something was done: where the form stood, or what a program asked."""
    from_page = urlsplit(request.headers.get("referer", ""))
    ours = from_page.netloc.lower() == request.headers.get("host", "").lower()
    return (from_page.path if ours and from_page.path else request.url.path)[:200]


async def require_form_token(request: Request) -> None:
    """Refuse a form of a browser that does not send back what this browser's forms carry.

    Raises
    ------
    HTTPException
        403, nothing having been stored.
    """
    caller = caller_of(request)
    if request.method in (*READ, "OPTIONS") or not caller.proof or caller.program:
        return
    if request.url.path == "/api/readings":
        return  # a token is shown, no cookie is looked at
    if caller.open and cookie_name(request.scope, FORMS) not in request.cookies:
        return  # a program on this machine, or a browser that was never here: no one's rights
    sent = request.headers.get(FORM_HEADER)
    if not sent:
        sent = str((await request.form(max_fields=FORM_FIELDS)).get(FORM_TOKEN, ""))
    if not hmac.compare_digest(sent.encode(), caller.form_token.encode()):
        raise HTTPException(HTTPStatus.FORBIDDEN, "a form of an earlier visit; nothing was stored")


async def require_permission(request: Request) -> None:
    """Refuse what stands in no line of the table to everybody but an administrator."""
    caller = caller_of(request)
    if not caller.may(permission(request.method, request.url.path)):
        raise HTTPException(HTTPStatus.FORBIDDEN, "an address that your account may not ask for")


CHECKED = [Depends(require_permission), Depends(require_form_token)]
CallerDep = Annotated[Caller, Depends(caller_of)]


def is_safe(request: Request) -> bool:
    """Whether what is sent cannot be read on the way: by TLS, or without leaving this machine."""
    return request.url.scheme == "https" or from_this_machine(request)


def from_this_machine(request: Request) -> bool:
    """Whether a request came from this machine itself, not through a proxy on it."""
    host = request.client.host if request.client else ""
    if any(name in request.headers for name in FORWARDED):
        return False
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return False


def _sign_in_first(request: Request) -> Response:
    if request.method in READ and not wants_json(request):
        query = f"?{request.url.query}" if request.url.query else ""
        return RedirectResponse(links.sign_in(f"{request.url.path}{query}"), HTTPStatus.SEE_OTHER)
    answer = error_answer(
        request,
        _error(request, HTTPStatus.UNAUTHORIZED, "Sign in first.", "nobody signed in",
               "an account, or a token of this program", "Sign in and send it again."),
    )  # fmt: skip
    answer.headers["WWW-Authenticate"] = "Bearer"
    return answer


def _not_yours(request: Request, asked: Permission | None) -> Response:
    return error_answer(
        request,
        _error(request, HTTPStatus.FORBIDDEN, "Your account may not do this.",
               "an account that may not", f"one that may {_least(asked)}",
               "Ask whoever administers this service."),
    )  # fmt: skip


def _not_here(request: Request) -> Response:
    return error_answer(
        request,
        _error(request, HTTPStatus.FORBIDDEN, "These pages are open on their own machine only.",
               "a request from another machine, or through a proxy", "one from this machine",
               "Whoever runs this program can let people sign in: STILLTAUT_ACCESS=sign-in."),
    )  # fmt: skip


def _in_the_open(request: Request) -> Response:
    return error_answer(
        request,
        _error(request, HTTPStatus.FORBIDDEN, "This was sent without encryption.",
               "a request that anybody on the way can read", "one through TLS",
               "Ask for the address that begins with https."),
    )  # fmt: skip


def _error(
    request: Request, status: HTTPStatus, heading: str, found: str, expected: str, action: str
) -> ErrorPage:
    stored = "" if request.method in READ else " Nothing was stored."
    return ErrorPage(
        status=status,
        heading=heading,
        read="the request",
        where=request.url.path,
        found=found,
        expected=expected,
        action=action + stored,
    )


def require_safe_settings(settings: Settings) -> None:
    """Refuse to be served to others without sign-in and without encryption.

    Raises
    ------
    StilltautError
        With the setting that is missing.
    """
    if settings.access not in (OPEN, SIGN_IN):
        raise _unsafe("STILLTAUT_ACCESS", repr(settings.access), f"{OPEN} or {SIGN_IN}")
    if bool(settings.tls_cert) != bool(settings.tls_key):
        raise _unsafe("STILLTAUT_TLS_CERT, STILLTAUT_TLS_KEY", "one without the other", "both")
    wide = not _is_loopback(settings.host)
    if settings.access == OPEN and (wide or settings.proxy):
        where = "STILLTAUT_HOST" if wide else "STILLTAUT_PROXY"
        found = settings.host if wide else settings.proxy
        raise _unsafe(where, f"{found}, and nobody signs in", "this machine alone: 127.0.0.1, or "
                      "STILLTAUT_ACCESS=sign-in")  # fmt: skip
    provider_of(settings)
    if wide and not settings.tls_cert and not settings.proxy:
        raise _unsafe("STILLTAUT_HOST", f"{settings.host} without encryption",
                      "a certificate (STILLTAUT_TLS_CERT, STILLTAUT_TLS_KEY) or the proxy that "
                      "ends TLS (STILLTAUT_PROXY)")  # fmt: skip


def _unsafe(where: str, found: str, expected: str) -> StilltautError:
    return StilltautError(
        read="settings",
        where=where,
        found=found,
        expected=expected,
        action="Set it and start again; nothing was served.",
    )


def _is_loopback(host: str) -> bool:
    try:
        return host == "localhost" or ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False
