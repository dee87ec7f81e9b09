"""A month, a quarter or other dates as a whole: as a page, on paper."""

from collections.abc import Callable, Mapping

from fastapi import APIRouter, Request
from fastapi.responses import Response

from dashboards import links
from dashboards.lines import Choice
from dashboards.pages.report_page import ReportPage
from dashboards.text.reports.report_text import READERS, dates_words
from service.answers.museum import Museum
from service.reports.period import Period, last_whole_month, period_between, usual_periods
from service.reports.period_report import PeriodReport, period_report
from service.reports.report_paper import report_pdf
from service.reports.report_words import report_words
from service.web.routes.common import MuseumDep, sent_file, shown_or_taken

router = APIRouter()
FIRST_READER = "director"


@router.get("/report")
def report(request: Request, museum: MuseumDep, part: str = "", table: str = "") -> Response:
    """Show what a month, a quarter or other dates brought, and what they ask of whom.

    ``table`` asks for the table of one ``part`` as a file, ``csv`` or ``xlsx``.
    """
    found, reader = asked_report(museum, request.query_params)
    words = report_words(museum, found, reader)
    dates = found.dates
    tables = {one.key: one.table for one in words.parts}
    page = ReportPage(
        question=words.question,
        answer=words.answer,
        summary=words.summary,
        asks=words.asks,
        parts=words.parts,
        readers=[
            Choice(_address(links.report, dates, one), READERS[one], one == reader)
            for one in READERS
        ],
        usual=[_choice(one, dates, reader) for one in _usual(museum)],
        first=dates.first.isoformat(),
        last=dates.last.isoformat(),
        reader=reader,
        paper=_address(links.report_sheet, dates, reader),
        cautions=words.cautions,
        address=_address(links.report, dates, reader),
    )
    return shown_or_taken(museum, page, tables.get(part), f"report-{part}", table)


@router.get("/report.pdf")
def report_on_paper(request: Request, museum: MuseumDep) -> Response:
    """Send the same as PDF."""
    found, reader = asked_report(museum, request.query_params)
    name = f"report-{found.dates.first.isoformat()}-{found.dates.last.isoformat()}-{reader}.pdf"
    return sent_file(report_pdf(museum, found, reader), name)


def asked_report(museum: Museum, query: Mapping[str, str]) -> tuple[PeriodReport, str]:
    """Return the report that an address asks for (the last whole month if it names no dates)."""
    first, last = query.get("from", ""), query.get("to", "")
    if first or last:
        dates = period_between(first, last, museum.zone, museum.clock())
    else:
        dates = last_whole_month(museum.zone, museum.clock())
    return period_report(museum, dates), query.get("for", FIRST_READER)


def _usual(museum: Museum) -> list[Period]:
    """Return the dates asked for most, those before the first reading left out."""
    begun = museum.first()
    usual = [
        one.so_far(museum.clock(), museum.zone)
        for one in usual_periods(museum.zone, museum.clock())
    ]
    return [one for one in usual if begun is not None and one.end_utc > begun]


def _choice(one: Period, shown: Period, reader: str) -> Choice:
    words = dates_words(one.first, one.last)
    return Choice(_address(links.report, one, reader), words, one == shown)


def _address(of: Callable[..., str], dates: Period, reader: str) -> str:
    return of(**{"from": dates.first.isoformat(), "to": dates.last.isoformat(), "for": reader})
