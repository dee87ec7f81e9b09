"""Notices: what has come up, and whether anybody is on it."""

from datetime import timedelta
from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import HTMLResponse, RedirectResponse

from analysis.errors import UnknownNameError
from dashboards import links
from dashboards.lines import NoticeLine
from dashboards.pages.page import NoticePage, NoticesPage
from dashboards.pages.search_page import SearchPage, search_answer
from dashboards.text.sentences import notices_answer
from service.answers.museum import Museum
from service.answers.searching import found_lines
from service.notices.lines import notice_lines
from service.storage.notices import mark_seen, take_back_seen
from service.web.routes.common import MuseumDep, go_to, shown

router = APIRouter()
LATELY = timedelta(days=60)


@router.get("/notices")
def every_notice(museum: MuseumDep) -> HTMLResponse:
    """Show open notices and those that ended lately."""
    lines = notice_lines(museum)
    waiting = [line for line in lines if line.ended_utc is None]
    since = museum.clock() - LATELY
    ended = [line for line in lines if line.ended_utc is not None and line.ended_utc > since]
    return shown(
        NoticesPage(zone=museum.zone, answer=notices_answer(waiting), open=waiting, ended=ended)
    )


@router.get("/search")
def search(museum: MuseumDep, asked: str = "") -> HTMLResponse:
    """Show what of the house holds the words that are asked for."""
    words = asked[:120]
    told = [one for one in notice_lines(museum) if _holds(one, words)]
    found = found_lines(museum, words)
    answer = search_answer(words, len(found) + len(told))
    return shown(SearchPage(answer=answer, asked=words, found=found, notices=told))


def _holds(line: NoticeLine, asked: str) -> bool:
    said = f"{line.room_name} {line.what}".casefold()
    return bool(asked.split()) and all(word in said for word in asked.casefold().split())


@router.get("/notices/{notice_id}")
def one_notice(museum: MuseumDep, notice_id: str) -> HTMLResponse:
    """Show one notice."""
    return shown(NoticePage(zone=museum.zone, notice=_named(museum, notice_id)))


@router.post("/notices/{notice_id}/seen")
def seen(
    museum: MuseumDep,
    notice_id: str,
    by: Annotated[str, Form()],
    reason: Annotated[str, Form()] = "",
) -> RedirectResponse:
    """Write down who has seen a notice, and what they know or will do."""
    line = _named(museum, notice_id)
    mark_seen(museum.stores.register, int(line.notice_id), by=by.strip(), reason=reason.strip())
    return go_to(links.notice(notice_id))


@router.post("/notices/{notice_id}/not-seen")
def not_seen(museum: MuseumDep, notice_id: str) -> RedirectResponse:
    """Take back that a notice was seen: it waits for a person again."""
    line = _named(museum, notice_id)
    take_back_seen(museum.stores.register, int(line.notice_id))
    return go_to(links.notice(notice_id))


def _named(museum: Museum, notice_id: str) -> NoticeLine:
    lines = {line.notice_id: line for line in notice_lines(museum)}
    if notice_id not in lines:
        raise UnknownNameError(read="notices", name=notice_id, known=lines)
    return lines[notice_id]
