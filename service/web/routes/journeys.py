"""A work's journeys: their page, their sheet, and the form of a crate."""

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response
from markupsafe import Markup
from matplotlib.figure import Figure

from analysis.errors import UnknownNameError
from analysis.records.cells import text_of
from dashboards import links
from dashboards.charts.journey import journey_chart, journey_words
from dashboards.charts.style import inline_svg
from dashboards.lines import Choice
from dashboards.pages.journey_page import JourneyLine, JourneyPage
from dashboards.sheets.journey_sheet import journey_sheet
from dashboards.sheets.typesetting import sheet_pdf
from dashboards.text import wording
from dashboards.text.messages import _
from dashboards.text.reports import journey_text as text
from service.answers.museum import Museum
from service.records.crate_form import asked_crate, sent_crate
from service.reports.journey import Journey, answer_of, journey_sentences, journeys
from service.storage.works import work_record
from service.web.routes.common import (
    JobsDep,
    MuseumDep,
    form_texts,
    saved_at,
    sent_back,
    sent_file,
    shown,
    shown_or_taken,
)

router = APIRouter()


@router.get("/works/{work_id:name}/journey")
def journey_page(
    museum: MuseumDep, work_id: str, saved: str = "", journey: int = 1, table: str = ""
) -> Response:
    """Show what a work went through on its journeys; ``table`` asks for one's stays as a file."""
    found = journeys(museum, work_id)
    answer = text.journeys_words(len(found))
    page = JourneyPage(
        work_id=work_id,
        title=work_record(museum.stores.register, work_id).print.title,
        answer=f"{answer} {answer_of(found[0])}" if found else answer,
        journeys=[_line(museum, one, number) for number, one in enumerate(found, 1)],
        cautions=[_(words) for words in text.CAUTIONS],
        saved=_("Written down.") if saved else "",
    )
    stays = page.journeys[journey - 1].table if 1 <= journey <= len(found) else None
    return shown_or_taken(museum, page, stays, f"{work_id}-journey-{journey}", table)


@router.get("/works/{work_id:name}/journey/crate")
def ask_crate(museum: MuseumDep, work_id: str, was: str = "") -> HTMLResponse:
    """Show the form of a crate."""
    return shown(asked_crate(museum, work_id, was))


@router.post("/works/{work_id:name}/journey/crate")
async def write_crate(request: Request, museum: MuseumDep, jobs: JobsDep, work_id: str) -> Response:
    """Keep when a work was packed, and when its crate was opened."""
    page = sent_crate(museum, work_id, await form_texts(request))
    if page is not None:
        return sent_back(page)
    jobs.wake()
    return saved_at(links.journey(work_id), "written")


@router.get("/works/{work_id:name}/journey/{number}.pdf")
def journey_on_paper(museum: MuseumDep, work_id: str, number: int) -> Response:
    """Send one journey as PDF, counted from the newest."""
    found = journeys(museum, work_id)
    if not 1 <= number <= len(found):
        known = [str(place) for place in range(1, len(found) + 1)]
        raise UnknownNameError(read="journeys", name=str(number), known=known)
    one = found[number - 1]
    words = {
        "title": _("What did “{title}” go through?", title=one.work.title),
        "number": work_id,
        "house": museum.site.name,
        "answer": answer_of(one),
        "picture_words": journey_words(one.said),
        "cautions": [_(said) for said in text.CAUTIONS],
        "made": _("Made {when}.", when=wording.date_time(museum.clock(), museum.zone)),
    }
    table = text.stays_table(one.said, museum.zone)
    sheet = journey_sheet(words, table, journey_sentences(museum, one), _picture(museum, one))
    return sent_file(sheet_pdf(sheet), f"journey-{work_id}-{number}.pdf")


def _line(museum: Museum, one: Journey, number: int) -> JourneyLine:
    away = one.away
    first = wording.day_only(away[0].from_utc, museum.zone)
    last = wording.day_only(away[-1].to_utc or one.until_utc, museum.zone)
    return JourneyLine(
        heading=wording.capital(wording.joined(first, last)),
        answer=answer_of(one),
        picture=None
        if one.readings.empty
        else Markup(inline_svg(_picture(museum, one), journey_words(one.said))),
        picture_words=journey_words(one.said),
        table=text.stays_table(one.said, museum.zone),
        sentences=journey_sentences(museum, one),
        corrections=[
            Choice(
                links.crate_form(one.work.work_id, text_of(stay.from_utc)),
                _(
                    "Correct or complete {crate}, packed {day}",
                    crate=said.name,
                    day=wording.day_only(said.from_utc, museum.zone),
                ),
            )
            for stay, said in zip(one.stays, one.said, strict=True)
            if said.kind == "crate"
        ],
        paper=links.journey_sheet(one.work.work_id, number),
    )


def _picture(museum: Museum, one: Journey) -> Figure:
    times = [at for stay in one.stays for at in (stay.arrived_utc, stay.opened_utc) if at]
    span = (one.since_utc, one.until_utc, museum.zone)
    return journey_chart(one.said, times, one.readings, one.history, span)
