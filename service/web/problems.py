"""What an error looks like on a page or in JSON: the only place that decides it."""

from collections.abc import Mapping
from dataclasses import replace
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, JSONResponse, Response
from starlette.exceptions import HTTPException

from analysis.errors import StilltautError, UnknownNameError
from dashboards.pages.page import ErrorPage
from dashboards.render import page_html
from dashboards.text.error_words import PARTS, error_words
from service.web.responses import Problem

# RFC 9457, "Problem Details for HTTP APIs"
PROBLEM_JSON = "application/problem+json"
NOT_THERE = "nothing"
SAID_OF = {
    400: "What was sent is no sound request; nothing was stored",
    401: "Nobody is signed in, and no token that counts was shown",
    403: "The account or token may not do this, or it was sent without encryption",
    404: "No such room, work, week or address",
    408: "What was sent did not come to its end in time; nothing was stored",
    413: "More than is taken at once; nothing was stored",
    415: "Neither JSON nor CSV; nothing was stored",
    422: "What was sent cannot be used; nothing was stored",
    429: "Too many within an hour: the header Retry-After says when it may be sent again",
    500: "Something went wrong here; nothing that was received is lost",
    503: "Too much at once: the header Retry-After says when it may be sent again",
}

EXPECTED = {
    400: "a sound request",
    405: "an address that takes what was sent",
    408: "a request that comes to its end in time; nothing was stored",
    413: "no more than is taken at once; nothing was stored",
}


def install_problem_pages(app: FastAPI) -> None:
    """Turn errors into pages that say what was found, what was expected and what to do."""
    app.add_exception_handler(StilltautError, _stilltaut)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(RequestValidationError, _form)
    app.add_exception_handler(Exception, _unexpected)


def problem_documents(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """Return how OpenAPI describes the problems of a route."""
    schema = Problem.model_json_schema()
    return {
        status: {"description": SAID_OF[status], "content": {PROBLEM_JSON: {"schema": schema}}}
        for status in statuses
    }


def wants_json(request: Request) -> bool:
    """Return whether the request came from a program rather than a browser."""
    asked = request.headers.get("accept", "")
    return request.url.path.startswith("/api/") or asked.startswith("application/json")


def error_answer(request: Request, page: ErrorPage) -> Response:
    """Return an error as a page, or as a problem document for a program."""
    if not wants_json(request):
        said: dict[str, Any] = {part: error_words(getattr(page, part)) for part in PARTS}
        return HTMLResponse(page_html(replace(page, **said)), status_code=page.status)
    parts = ("read", "where", "found", "expected", "action", "kept")
    problem = Problem(
        title=page.heading,
        status=page.status,
        detail=f"Found {page.found}; expected {page.expected}. {page.action}",
        instance=request.url.path,
        **{part: getattr(page, part) for part in parts},
    )
    return JSONResponse(problem.model_dump(), page.status, media_type=PROBLEM_JSON)


async def _stilltaut(request: Request, problem: Exception) -> Response:
    if not isinstance(problem, StilltautError):
        raise problem
    status = HTTPStatus.UNPROCESSABLE_ENTITY
    if isinstance(problem, UnknownNameError) and request.method == "GET":
        status = HTTPStatus.NOT_FOUND
    page = ErrorPage(
        status=status,
        heading="That could not be done.",
        read=problem.read,
        where=problem.where,
        found=problem.found,
        expected=problem.expected,
        action=problem.action,
        kept=str(getattr(problem, "kept", "")),
    )
    return error_answer(request, page)


async def _http(request: Request, problem: Exception) -> Response:
    if not isinstance(problem, HTTPException):
        raise problem
    missing = problem.status_code == HTTPStatus.NOT_FOUND
    page = ErrorPage(
        status=problem.status_code,
        heading="There is no such page." if missing else "That did not work.",
        read="the address",
        where=request.url.path,
        found="no page of this name" if missing else str(problem.detail).lower(),
        expected=EXPECTED.get(problem.status_code, "a page of this program"),
        action="Go back, or start again from this week.",
    )
    answer = error_answer(request, page)
    answer.headers.update(problem.headers or {})
    return answer


async def _form(request: Request, problem: Exception) -> Response:
    if not isinstance(problem, RequestValidationError):
        raise problem
    first = problem.errors()[0]
    name, missing = str(first["loc"][-1]), first["type"] == "missing"
    page = ErrorPage(
        status=HTTPStatus.UNPROCESSABLE_ENTITY,
        heading=f"“{name}” is missing." if missing else f"“{name}” could not be read.",
        read="what was sent",
        where=name,
        found=NOT_THERE if missing else f"“{first.get('input')}”",
        expected=_expected(first),
        action="Go back, correct it and send it again. Nothing was stored.",
    )
    return error_answer(request, page)


def _expected(fault: Mapping[str, Any]) -> str:
    """Return in words what a value should have been."""
    if fault["type"] == "missing":
        return "a value"
    return str(fault["msg"]).removeprefix("Input should be ").removeprefix("Value error, ")


async def _unexpected(request: Request, problem: Exception) -> Response:
    """Say that something went wrong here; the server writes the trace into its log."""
    page = ErrorPage(
        status=HTTPStatus.INTERNAL_SERVER_ERROR,
        heading="Something went wrong here.",
        read="the page",
        where=request.url.path,
        found=f"an unexpected {type(problem).__name__}",
        expected="an answer",
        action="Nothing that was received is lost. Try again; if it stays, tell whoever looks "
        "after this program the time and the address.",
    )
    return error_answer(request, page)
