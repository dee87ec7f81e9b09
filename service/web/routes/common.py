"""What every route needs: the museum, the jobs, a page as a response."""

import re
from collections.abc import Mapping
from http import HTTPStatus
from typing import Annotated
from urllib.parse import quote, unquote

from fastapi import Depends, Query, Request, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.convertors import Convertor, register_url_convertor

from analysis.errors import NotEnoughError, OutOfRangeError, UnknownNameError
from dashboards.lines import Table
from dashboards.render import Page, page_html
from dashboards.text.wording import number
from service.answers.museum import Museum
from service.jobs import Jobs
from service.records.record_parts import Part
from service.tables.plain_tables import plain_table
from service.tables.table_files import FileTable, table_bytes


class NameConvertor(Convertor[str]):
    """One part of an address as a name; undoes the second quoting of those that need it."""

    regex = "[^/]+"

    def convert(self, value: str) -> str:
        """Return the name that stands in an address."""
        return unquote(value)

    def to_string(self, value: str) -> str:
        """Return a name as it stands in an address."""
        return value


register_url_convertor("name", NameConvertor())


def _museum(request: Request) -> Museum:
    museum: Museum = request.app.state.museum
    return museum


def _jobs(request: Request) -> Jobs:
    jobs: Jobs = request.app.state.jobs
    return jobs


MB = 1024 * 1024
FORM_TOKEN = "form_token"
# A form of many files has some fields for each of their columns.
FORM_FIELDS = 40_000
MuseumDep = Annotated[Museum, Depends(_museum)]
JobsDep = Annotated[Jobs, Depends(_jobs)]
# How many entries of a long list to pass over.
Passed = Annotated[int, Query(ge=0, description="How many entries of the list to pass over")]


def shown(page: Page) -> HTMLResponse:
    """Return a page as a response."""
    return HTMLResponse(page_html(page))


MEDIA = {
    "svg": "image/svg+xml",
    "png": "image/png",
    "pdf": "application/pdf",
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


def sent_file(data: bytes, name: str) -> Response:
    """Send a file to look at or to keep; its ending says its kind.

    A name with letters that a header cannot carry is sent as RFC 6266 has it.
    """
    ending = name.rpartition(".")[2]
    plain = re.sub(r"[^A-Za-z0-9._-]", "_", name)
    way = "inline" if ending in ("svg", "png", "pdf") else "attachment"
    said = f"{way}; filename=\"{plain}\"; filename*=UTF-8''{quote(name, safe='')}"
    return Response(data, media_type=MEDIA[ending], headers={"Content-Disposition": said})


def sent_table(museum: Museum, table: FileTable, ending: str) -> Response:
    """Send a table to be taken away, as ``csv`` or ``xlsx``."""
    return sent_file(table_bytes(table, ending, museum.zone), f"{table.name}.{ending}")


def shown_or_taken(
    museum: Museum, page: Page, table: Table | None, name: str, ending: str
) -> Response:
    """Return a page; where an ending is asked for, the page's table as a file of that name."""
    if not ending:
        return shown(page)
    if table is None:
        raise NotEnoughError(
            read="the table of a page", where=name, found="no table",
            expected="a page that has one now", action="Look at the page: it says why.",
        )  # fmt: skip
    return sent_table(museum, plain_table(table, name), ending)


def sent_back(page: Page) -> HTMLResponse:
    """Return a form that holds what was typed, and says what is wrong with it."""
    return HTMLResponse(page_html(page), status_code=HTTPStatus.UNPROCESSABLE_ENTITY)


def saved_at(address: str, done: str) -> RedirectResponse:
    """Send the browser to a page that says what was done."""
    return go_to(f"{address}?saved={done}")


async def form_texts(request: Request) -> dict[str, str]:
    """Return the fields of a form as they were typed."""
    sent = (await request.form(max_fields=FORM_FIELDS)).items()
    return {name: str(value) for name, value in sent if name != FORM_TOKEN}


def part_of(slug: str, parts: Mapping[str, Part]) -> Part:
    """Return the part of a record of that name, or raise `UnknownNameError`."""
    if slug not in parts:
        raise UnknownNameError(read="parts of a record", name=slug, known=parts)
    return parts[slug]


def go_to(address: str) -> RedirectResponse:
    """Send the browser on after a form was sent, so that a reload does not send it again."""
    return RedirectResponse(address, status_code=303)


def own_address(address: str, otherwise: str) -> str:
    """Return an address sent along with a form if it is one of this program's, else another."""
    own = address.startswith("/") and not address.startswith("//")
    return address if own and "\\" not in address and address.isprintable() else otherwise


def upload_bytes(museum: Museum, file: UploadFile) -> bytes:
    """Return the bytes of an upload, or raise `OutOfRangeError` when it is too large."""
    limit = museum.settings.upload_limit_mb
    data = file.file.read(limit * MB + 1)
    if len(data) > limit * MB:
        raise OutOfRangeError(
            read=file.filename or "the upload",
            where="size",
            found=f"more than {number(limit)} MB",
            expected=f"at most {number(limit)} MB",
            action="Export a shorter span, or raise STILLTAUT_UPLOAD_LIMIT_MB. Nothing was stored.",
        )
    return data
