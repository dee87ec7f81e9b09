"""How fast a frame follows its room: the page, "use this half-time", and taking it back."""

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import RedirectResponse, Response
from markupsafe import Markup

from dashboards import links
from dashboards.charts.half_time import (
    half_time_figure,
    half_time_words,
    profile_figure,
    profile_words,
)
from dashboards.charts.style import inline_svg
from dashboards.pages.page import HalfTimePage
from dashboards.text import half_time_text as text
from dashboards.text.messages import N_, Worded
from service.answers.museum import Museum
from service.estimates.half_times import FrameHalfTime, half_time_of_frame, take_back, use_half_time
from service.jobs import Jobs
from service.web.routes.common import JobsDep, MuseumDep, go_to, shown_or_taken

router = APIRouter()
Text = Annotated[str, Form()]
SAVED = Worded(
    {
        "used": N_("Written down: the estimate uses it from now on."),
        "taken-back": N_("Taken back: it no longer counts, and stays in the record."),
    }
)


@router.get("/works/{work_id:name}/half-time")
def page(museum: MuseumDep, work_id: str, saved: str = "", table: str = "") -> Response:
    """Show what a logger in the frame says of it, or how to get such a record."""
    known = known_half_time(museum, work_id)
    pictures = museum.cached(("half-time pictures", work_id), lambda: _pictures(museum, known))
    made = HalfTimePage(
        zone=museum.zone,
        work=known.work,
        answer=text.answer_words(known.work, known.found, known.default_h),
        facts=_facts(museum, known),
        picture=pictures[0],
        picture_words="" if known.found is None else half_time_words(known.found),
        profile=pictures[1],
        profile_words="" if known.found is None else profile_words(known.found),
        statements=statements(known),
        table=text.table(known.work, known.found, known.default_h),
        use_from_utc=_use_from(known),
        why_not=known.why_not,
        in_use=_in_use(museum, known),
        fitted_in_use=known.fitted_in_use,
        how=() if known.found else text.how_to_measure(known.work, known.default_h),
        saved=SAVED.get(saved, ""),
    )
    return shown_or_taken(museum, made, made.table, f"half-time-{work_id}", table)


@router.post("/works/{work_id:name}/half-time/use")
def use(museum: MuseumDep, jobs: JobsDep, work_id: str, by: Text) -> RedirectResponse:
    """Write the fitted half-time down for the work, with its origin."""
    use_half_time(museum.stores, work_id, by=by.strip(), at_utc=museum.now())
    return _with_answer(jobs, work_id, "used")


@router.post("/works/{work_id:name}/half-time/take-back")
def back(museum: MuseumDep, jobs: JobsDep, work_id: str, by: Text, why: Text) -> RedirectResponse:
    """Take the half-time in use out of the count."""
    take_back(museum.stores, work_id, by=by.strip(), why=why.strip(), at_utc=museum.now())
    return _with_answer(jobs, work_id, "taken-back")


def known_half_time(museum: Museum, work_id: str) -> FrameHalfTime:
    """Return what is known of a frame's half-time, from memory while nothing has changed."""
    at = museum.now()
    return museum.cached(
        ("half-time", work_id, at), lambda: half_time_of_frame(museum.stores, work_id, at)
    )


def statements(known: FrameHalfTime) -> list[str]:
    """Return what must be said along with a fit; its result is the answer above it."""
    if known.found is None:
        return []
    warmer = [text.warmth_words(known.warmer)] if known.to_use else []
    return [*text.statements(known.found), *warmer, text.apart_words(known.near)]


def _with_answer(jobs: Jobs, work_id: str, what: str) -> RedirectResponse:
    jobs.wake()
    return go_to(f"{links.half_time(work_id)}?saved={what}")


def _pictures(museum: Museum, known: FrameHalfTime) -> tuple[Markup | None, Markup | None]:
    if known.found is None:
        return None, None
    return (
        inline_svg(half_time_figure(known.found, museum.zone), half_time_words(known.found)),
        inline_svg(profile_figure(known.found, known.default_h), profile_words(known.found)),
    )


def _facts(museum: Museum, known: FrameHalfTime) -> str:
    if known.record is None or known.found is None:
        return ""
    times = known.found.pair.time_utc
    return text.facts_words(
        known.record.placement.logger,
        museum.room(known.record.room).name,
        (times[0].to_pydatetime(), times[-1].to_pydatetime()),
        museum.zone,
    )


def _in_use(museum: Museum, known: FrameHalfTime) -> str:
    if known.in_use is None:
        return ""
    stated = known.work.overrides["half_time_h"]
    return text.in_use_words(stated, known.in_use.from_utc, museum.zone)


def _use_from(known: FrameHalfTime) -> datetime | None:
    """Return from when the fit would be used; None where it is not offered, or used already."""
    return None if known.to_use is None or known.up_to_date else known.to_use.from_utc
