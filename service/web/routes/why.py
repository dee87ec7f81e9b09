"""Why a work is as it is at any hour."""

from datetime import datetime, timedelta

from fastapi import APIRouter
from fastapi.responses import HTMLResponse
from markupsafe import Markup

from analysis.answers.explain import Chain
from dashboards import links
from dashboards.charts.chain import chain_figure, chain_words
from dashboards.charts.style import inline_svg
from dashboards.lines import Choice
from dashboards.pages.work_pages import WhyPage
from dashboards.text.reasons import account, account_words, few_draws_words, reason_steps
from service.answers.reasons import Reasons, hour_asked, local_text, reasons
from service.web.routes.common import MuseumDep, shown

router = APIRouter()
STEPS = (
    ("week", timedelta(weeks=1)),
    ("day", timedelta(days=1)),
    ("hour", timedelta(hours=1)),
)

PICTURE_WORDS = (
    "Each bar runs from the 5 % to the 95 % point, the stroke is the middle; under it stands what "
    "decides it most. The three humidities share one scale."
)


@router.get("/works/{work_id:name}/why")
def why_page(museum: MuseumDep, work_id: str, at: str = "") -> HTMLResponse:
    """Show why a work is as it is at an hour, link by link."""
    zone = museum.zone
    explained = reasons(museum, work_id, hour_asked(at, zone) if at else None)
    chain = explained.chain
    return shown(
        WhyPage(
            zone=zone,
            work=explained.work,
            at_utc=explained.at_utc,
            at_local=local_text(explained.at_utc, zone)[:16],
            answer=explained.answer,
            mend=explained.mend,
            picture=None if chain is None else chain_picture(chain),
            picture_words="" if chain is None else PICTURE_WORDS,
            back=_back(explained, zone),
            on=_on(explained, zone),
            steps=[] if chain is None else reason_steps(chain),
            few="" if chain is None else few_draws_words(chain),
            account_words="" if chain is None else account_words(chain),
            account=None if chain is None else account(chain),
        )
    )


def chain_picture(chain: Chain) -> Markup:
    """Return the picture of a chain for a page."""
    return inline_svg(chain_figure(chain), chain_words(chain))


def _step(explained: Reasons, at_utc: datetime, zone: str, words: str) -> Choice:
    return Choice(links.why(explained.work.work_id, local_text(at_utc, zone)), words)


def _back(explained: Reasons, zone: str) -> list[Choice]:
    """Return the steps back that lead into the record."""
    first, last = explained.first_utc, explained.last_utc
    if first is None or last is None:
        return []
    if explained.at_utc > last:
        return [_step(explained, last, zone, "← the last hour")]
    return [
        _step(explained, explained.at_utc - step, zone, f"← {name}")
        for name, step in STEPS
        if explained.at_utc - step >= first
    ]


def _on(explained: Reasons, zone: str) -> list[Choice]:
    """Return the steps on that lead into the record, and the last hour."""
    first, last = explained.first_utc, explained.last_utc
    if first is None or last is None or explained.at_utc >= last:
        return []
    if explained.at_utc < first:
        return [_step(explained, first, zone, "the first hour →"), _now(explained)]
    steps = [
        _step(explained, explained.at_utc + step, zone, f"{name} →")
        for name, step in reversed(STEPS)
        if explained.at_utc + step <= last
    ]
    return [*steps, _now(explained)]


def _now(explained: Reasons) -> Choice:
    return Choice(links.why(explained.work.work_id), "now →")
