"""Gateways: batches of readings sent under a token, and the page on which tokens are made."""

from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Form, HTTPException, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse

from dashboards import links
from dashboards.file_lines import TokenLine
from dashboards.pages.page import Gateways
from service.answers.museum import Museum
from service.intake.gateway import ENDINGS, MOST_BYTES, BusyError, Gate, answer_json, take_batch
from service.intake.previews import logger_choices
from service.intake.receipts import UploadReceipt
from service.storage.tokens import (
    PER_HOUR,
    Scope,
    Token,
    make_program_token,
    make_token,
    revoke_token,
    token_of,
    tokens,
)
from service.web.problems import problem_documents
from service.web.responses import BatchOut, Problem
from service.web.routes.common import JobsDep, MuseumDep, go_to, shown
from service.web.visitors import caller_of, is_safe

router = APIRouter()
pages = APIRouter()
GATE = Gate()


@router.post(
    "/api/readings",
    tags=["stilltaut"],
    response_model=BatchOut,
    responses=problem_documents(401, 403, 413, 415, 422, 429, 500, 503),
)
async def batch(request: Request, museum: MuseumDep, jobs: JobsDep) -> JSONResponse:
    """Take a batch of readings in: JSON or CSV, for the logger of the token that is shown.

    Send ``Authorization: Bearer TOKEN``. Once this is answered with 200 the readings are stored for
    good. Sending the same again changes nothing. 429 and 503 say after how many seconds the same
    batch may be sent again.
    """
    _require_safe(request)
    token = await run_in_threadpool(_token, museum, request.headers.get("authorization", ""))
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind not in ENDINGS:
        raise HTTPException(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, f"a batch of {kind or 'no'} type")
    data = await _body(request)
    try:
        taken = await run_in_threadpool(_taken, museum, token, data, kind)
    except BusyError as busy:
        return _later(busy)
    jobs.wake()
    return JSONResponse(answer_json(taken))


@pages.get("/gateways")
def gateways(request: Request, museum: MuseumDep) -> HTMLResponse:
    """Show the tokens there are, and the form that makes one."""
    return _page(museum, request)


@pages.post("/gateways")
def make(
    request: Request,
    museum: MuseumDep,
    logger: Annotated[str, Form()],
    by: Annotated[str, Form()],
    per_hour: Annotated[int, Form()] = PER_HOUR,
) -> HTMLResponse:
    """Make a token and show it, this once."""
    _, text = make_token(museum.stores.register, logger, by=by.strip(), per_hour=per_hour)
    return _page(museum, request, text)


@pages.post("/gateways/programs")
def make_for_program(
    request: Request,
    museum: MuseumDep,
    name: Annotated[str, Form()],
    scope: Annotated[Scope, Form()],
    by: Annotated[str, Form()],
) -> HTMLResponse:
    """Make a token for a program that asks the JSON interface, and show it, this once."""
    _, text = make_program_token(museum.stores.register, name, scope, by=by.strip())
    return _page(museum, request, text)


@pages.post("/gateways/{number}/revoke")
def revoke(
    request: Request, museum: MuseumDep, number: int, by: Annotated[str, Form()]
) -> RedirectResponse:
    """Let a token count no more."""
    revoke_token(museum.stores.register, number, by=by.strip())
    return go_to(links.gateways())


def _page(museum: Museum, request: Request, text: str = "") -> HTMLResponse:
    answer = shown(
        Gateways(
            zone=museum.zone,
            token=text,
            tokens=[
                TokenLine(one.number, one.logger, one.per_hour, one.made_utc, one.used_utc, one.by,
                          one.revoked_utc is not None, one.name, one.scope)
                for one in tokens(museum.stores.register)
            ],
            loggers=logger_choices(museum),
            open=caller_of(request).open,
            address=f"{str(request.base_url).rstrip('/')}/api/readings",
        )
    )  # fmt: skip
    if text:
        answer.headers["Cache-Control"] = "no-store"
    return answer


def _token(museum: Museum, header: str) -> Token:
    scheme, _, text = header.partition(" ")
    found = token_of(museum.stores.register, text.strip()) if scheme.lower() == "bearer" else None
    if found is None or found.scope != Scope.READINGS:
        raise HTTPException(
            HTTPStatus.UNAUTHORIZED,
            "no token that counts",
            headers={"WWW-Authenticate": "Bearer"},
        )
    return found


def _taken(museum: Museum, token: Token, data: bytes, kind: str) -> UploadReceipt:
    with GATE.entered(museum.stores.register, token):
        return take_batch(museum, token, data, kind)


async def _body(request: Request) -> bytes:
    """Return the bytes of a batch; one too large is refused before it is read to its end."""
    parts: list[bytes] = []
    size = 0
    async for part in request.stream():
        size += len(part)
        if size > MOST_BYTES:
            raise HTTPException(
                HTTPStatus.REQUEST_ENTITY_TOO_LARGE, f"more than {MOST_BYTES // 2**20} MB"
            )
        parts.append(part)
    return b"".join(parts)


def _later(busy: BusyError) -> JSONResponse:
    status = HTTPStatus.TOO_MANY_REQUESTS if busy.too_many else HTTPStatus.SERVICE_UNAVAILABLE
    wait = str(max(1, round(busy.after_s)))
    problem = Problem(
        title="Not now.",
        status=status,
        detail=f"{busy.found}. {busy.action}",
        instance="/api/readings",
        read=busy.read,
        where=busy.where,
        found=busy.found,
        expected=busy.expected,
        action=busy.action,
    ).model_dump()
    return JSONResponse(
        problem, status, headers={"Retry-After": wait}, media_type="application/problem+json"
    )


def _require_safe(request: Request) -> None:
    """Refuse a token that travels in the open: beyond this machine only TLS is let in."""
    if not is_safe(request):
        raise HTTPException(HTTPStatus.FORBIDDEN, "a token sent without encryption")
