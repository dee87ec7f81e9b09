"""One work: is it still taut, why, what people saw, how it is built. And the round."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from importlib.resources import files
from itertools import takewhile
from typing import Annotated

import numpy as np
from fastapi import APIRouter, Depends
from fastapi.responses import Response
from markupsafe import Markup

from analysis.answers.explain import Chain
from analysis.answers.work_changes import work_changes
from analysis.learning.grades import CALL
from analysis.records.inspection_records import Inspection
from analysis.results import Range
from analysis.simulation.drawn_parameters import UNITS
from dashboards import links
from dashboards.charts.chain import chain_figure, chain_words
from dashboards.charts.readout import AIR, values_script
from dashboards.charts.strips import page_key
from dashboards.charts.style import inline_svg
from dashboards.charts.week_values import history_line
from dashboards.charts.work import days_of, work_chart, work_words
from dashboards.lines import Choice, RoundLine, Table
from dashboards.look_lines import InspectionLine, LearnedLine
from dashboards.pages.classes_page import borrowed_words
from dashboards.pages.page import RoundPage
from dashboards.pages.round_walk import (
    RoundPart,
    RoundRoom,
    SavedLook,
    by_room,
    next_to_walk,
    part_of_round,
)
from dashboards.pages.work_pages import WhyPage, WorkPage
from dashboards.text.caveats_text import caveat_words
from dashboards.text.judgement_text import LEAVE_IT, change_sentence
from dashboards.text.look_text import narrowed_words, saved_words
from dashboards.text.messages import N_, Worded, _
from dashboards.text.parameters import PARAMETER_WORDS, learned_words, shown as as_read
from dashboards.text.reasons import account, account_words, few_draws_words, reason_steps
from dashboards.text.sentences import round_sentence
from service.answers.bearing_in_mind import to_bear_in_mind
from service.answers.museum import Museum
from service.answers.reasons import WEEKS, Reasons, hour_asked, local_text, reasons, reasons_for
from service.answers.rounds import last_answer, look_answered, round_lines
from service.estimates.assessments import Assessed
from service.storage.inspections import inspections
from service.storage.works import work_at
from service.tables.plain_tables import plain_table
from service.web.drawn_pages import DrawnDep
from service.web.routes.common import MuseumDep, Passed, sent_table, shown, shown_or_taken
from service.web.routes.week import ahead_words, clock_words, readings_words

router = APIRouter()


SAVED = Worded(
    {
        "seen": N_("Written down. Thank you."),
        "loose": N_(
            "Written down. Thank you. Do not press it back; leave it hanging as it is and call a "
            "conservator."
        ),
        "withdrawn": N_("Withdrawn: it no longer counts."),
    }
)


@dataclass(frozen=True)
class JustSaved:
    """What a look that was just written down is named by, as an address has it."""

    saved: str = ""
    of: str = ""
    look: str = ""


@router.get("/round")
def round_page(
    museum: MuseumDep,
    drawn: DrawnDep,
    just: Annotated[JustSaved, Depends()],
    room: str = "",
    after: Passed = 0,
    whole: str = "",
) -> Response:
    """Show the round of one room, of as many rooms of the house as a page holds, or whole."""
    name = ("round", room, after, whole)
    if just != JustSaved():
        return shown(the_round(museum, just, *name[1:]))
    return drawn.shown(museum, name, lambda: the_round(museum, just, *name[1:]))


def the_round(museum: Museum, just: JustSaved, room: str, after: Passed, whole: str) -> RoundPage:
    """Return the page of the round."""
    now = museum.now()
    lists = round_lines(museum, now, room or None)
    every = [line.judgement for lines in lists.values() for line in lines]
    rooms = [Choice(r.room, r.name, r.room == room) for r in museum.rooms()]
    walked = by_room(lists, rooms)
    part = part_of_round(
        walked,
        after,
        lambda passed: links.round_(after=passed),
        links.round_,
        whole=bool(room or whole),
    )
    return RoundPage(
        zone=museum.zone,
        at_utc=now,
        room_id=room,
        rooms=rooms,
        answer=round_sentence(every, museum.zone),
        part=part,
        here=links.round_(room, part.leaf.after, whole=bool(whole)),
        saved="" if just.look else SAVED.get(just.saved, ""),
        last=saved_look(museum, walked, part, just),
        clock=clock_words(museum),
        readings=[(r.words, said) for r in rooms if (said := readings_words(museum, r.value))],
    )


@router.get("/round-worker.js")
def worker() -> Response:
    """Send the small program that keeps the round on a phone; it may see the whole site."""
    path = files("dashboards") / "static" / "round-worker.js"
    return Response(path.read_bytes(), media_type="text/javascript")


def saved_look(
    museum: Museum, walked: Sequence[RoundRoom], part: RoundPart, just: JustSaved
) -> SavedLook | None:
    """Return what has just been written down on the round and where to go next, or None."""
    work_id, look = just.of, just.look
    known = inspections(museum.stores.register, work_id) if look else ()
    seen = next((one for one in known if inspection_id(one) == look), None)
    if seen is None:
        return None
    title = work_at(museum.stores.register, work_id).title
    following = next_to_walk(walked, work_id)
    return SavedLook(
        words=saved_words(title, seen.grade, seen.released),
        undo=links.withdraw_inspection(work_id, look),
        next_work_id="" if following is None else following.judgement.work_id,
        next_words=""
        if following is None
        else f"{following.judgement.title}, {following.room_name}",
        caution=LEAVE_IT if seen.released or seen.grade == CALL else "",
        next_page="" if following is None else _page_of(following, walked, part),
    )


def _page_of(line: RoundLine, walked: Sequence[RoundRoom], part: RoundPart) -> str:
    """Return the address of the page of the round that holds a work; empty: this one."""
    if part.holds(line.judgement.work_id):
        return ""
    there = (line.room_id, line.room_name)
    before = takewhile(lambda room: (room.room_id, room.room_name) != there, walked)
    return links.round_(after=sum(room.many for room in before))


@router.get("/works/{work_id:name}")
def work_page(museum: MuseumDep, work_id: str, saved: str = "", table: str = "") -> Response:
    """Show one work; ``table`` asks for what was learned of it as a file."""
    found = museum.work_over(work_id, WEEKS)
    if table:
        return sent_table(museum, plain_table(_learned_table(found), f"{work_id}-learned"), table)
    seen = inspection_lines(museum, work_id)
    newest = next(iter(reversed(inspections(museum.stores.register, work_id))), None)
    room = museum.room(found.room_id) if found.room_id else None
    chain, stretch = museum.cached(("chain", work_id, museum.now()), lambda: _chain(museum, found))
    return shown(
        WorkPage(
            zone=museum.zone,
            work=found.work,
            room_id=found.room_id,
            room_name=room.name if room else "",
            judgement=found.judgement,
            chain=chain,
            stretch=stretch,
            history=museum.cached(
                ("work chart", work_id, museum.now()), lambda: _history(museum, found, seen)
            ),
            history_words=_history_words(found),
            values=museum.cached(
                ("work values", work_id, museum.now()), lambda: _values(museum, found)
            ),
            inspections=seen,
            answered=""
            if newest is None
            else look_answered(newest, found.judgement, museum.clock()),
            last_answer=last_answer(found, museum.zone),
            taught=taught_sentences(found, sum(not one.withdrawn for one in seen)),
            key=page_key(),
            learned=learned_lines(found),
            saved=SAVED.get(saved, ""),
            bear_in_mind=[
                *(caveat_words(one, museum.zone) for one in to_bear_in_mind(museum, found)),
                *borrowed_words(found.work),
            ],
            ahead=ahead_words(museum, found.room_id, work_id=work_id) if found.room_id else "",
            life=[
                change_sentence(one, museum.zone) for one in work_changes(found.work, found.earlier)
            ],
        )
    )


def inspection_lines(museum: Museum, work_id: str) -> tuple[InspectionLine, ...]:
    """Return a work's inspections, newest first, withdrawn ones among them."""
    found = inspections(museum.stores.register, work_id, with_withdrawn=True)
    return tuple(inspection_line(one) for one in reversed(found))


def inspection_id(inspection: Inspection) -> str:
    """Return what names an inspection in an address: its time and who looked."""
    return f"{inspection.at_utc.isoformat()}~{inspection.by}"


def inspection_line(one: Inspection) -> InspectionLine:
    """Return a look as the pages print it."""
    return InspectionLine(
        inspection_id=inspection_id(one),
        at_utc=one.at_utc,
        grade=one.grade,
        by=one.by,
        wave_mm=one.wave_mm,
        place=one.place,
        lamp_side=one.lamp_side,
        note=one.note if not one.withdrawn else f"{one.note} Withdrawn: {one.withdrawn}".strip(),
        withdrawn=bool(one.withdrawn),
        released=one.released,
        finding=one.finding,
        photograph=one.photograph,
    )


def _learned_table(found: Assessed) -> Table:
    """Return what was learned of a work, before and now."""
    ranges = [(line, (line.before, line.after)) for line in learned_lines(found)]
    rows = [(line.name, *(learned_words(one, line.unit) for one in two)) for line, two in ranges]
    return Table((_("Of this work"), _("Before"), _("Now")), rows, "", (1, 2))


def learned_lines(found: Assessed) -> list[LearnedLine]:
    """Return the parameters that inspections changed, before and after."""
    if found.learned is None:
        return []
    return [
        _learned(name, found.learned.before[name], found.learned.after[name])
        for name in found.learned.before
    ]


# What may stand in the record; where it does not, looks may teach it.
RECORDED = {
    "mounted_rh_pct": "mounted_rh_pct",
    "closing_rh_pct": "closing_rh_pct",
    "hinge_free_length_mm": "hinge_free_length_mm",
    "gap_mm": "spacer_mm",
}


def taught_sentences(found: Assessed, many: int) -> list[str]:
    """Return what so many inspections taught of what nobody recorded of a work."""
    lines = (
        {}
        if found.learned is None
        else dict(zip(found.learned.before, learned_lines(found), strict=True))
    )
    return [
        narrowed_words(
            line.name,
            many,
            learned_words(line.before, line.unit),
            learned_words(line.after, line.unit),
        )
        for name, fact in RECORDED.items()
        if (line := lines.get(name)) is not None
        and line.narrowed
        and getattr(found.work, fact) is None
        and name not in found.work.overrides
    ]


def _learned(name: str, before: Range, after: Range) -> LearnedLine:
    first, unit = as_read(name, UNITS[name], before)
    return LearnedLine(
        name=PARAMETER_WORDS.get(name, name),
        unit=unit,
        before=first,
        after=as_read(name, UNITS[name], after)[0],
    )


def _chain(museum: Museum, found: Assessed) -> tuple[Markup | None, str]:
    """Return the picture of the chain at the hour that is judged, and where the stretch went."""
    chain = reasons_for(museum, found, found.judgement.at_utc).chain
    return (None, "") if chain is None else (chain_picture(chain), account_words(chain))


def _history_words(found: Assessed) -> str:
    if found.history is None or not len(found.history.time_utc):
        return ""
    return work_words(found.work, found.history, found.earlier)


def _history(museum: Museum, found: Assessed, seen: Sequence[InspectionLine]) -> Markup | None:
    if found.history is None or not np.isfinite(found.history.print_rh_pct).any():
        return None
    counted = [one for one in seen if not one.withdrawn]
    chart = work_chart(found.work, found.history, museum.zone, counted, found.earlier)
    return inline_svg(chart, _history_words(found))


def _values(museum: Museum, found: Assessed) -> Markup:
    """Return what can be read along the history of a work, hour by hour."""
    history = found.history
    if history is None or not np.isfinite(history.print_rh_pct).any():
        return Markup()
    scale = days_of(history, museum.zone)
    return values_script({AIR: history_line(found.judgement.title, history, scale)})


# Why a work is as it is at any hour.

STEPS = (
    (N_("week"), timedelta(weeks=1)),
    (N_("day"), timedelta(days=1)),
    (N_("hour"), timedelta(hours=1)),
)


PICTURE_WORDS = N_(
    "Each bar runs from the 5 % to the 95 % point, the stroke is the middle; under it stands what "
    "decides it most. The three humidities share one scale."
)


@router.get("/works/{work_id:name}/why")
def why_page(museum: MuseumDep, work_id: str, at: str = "", table: str = "") -> Response:
    """Show why a work is as it is at an hour, link by link."""
    zone = museum.zone
    explained = reasons(museum, work_id, hour_asked(at, zone) if at else None)
    chain = explained.chain
    page = WhyPage(
        zone=zone,
        work=explained.work,
        at_utc=explained.at_utc,
        at_local=local_text(explained.at_utc, zone)[:16],
        answer=explained.answer,
        mend=explained.mend,
        picture=None if chain is None else chain_picture(chain),
        picture_words="" if chain is None else _(PICTURE_WORDS),
        back=_back(explained, zone),
        on=_on(explained, zone),
        steps=[] if chain is None else reason_steps(chain),
        few="" if chain is None else few_draws_words(chain),
        account_words="" if chain is None else account_words(chain),
        account=None if chain is None else account(chain),
    )
    return shown_or_taken(museum, page, page.account, f"stretch-{work_id}", table)


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
        return [_step(explained, last, zone, _("← the last hour"))]
    return [
        _step(explained, explained.at_utc - step, zone, f"← {_(name)}")
        for name, step in STEPS
        if explained.at_utc - step >= first
    ]


def _on(explained: Reasons, zone: str) -> list[Choice]:
    """Return the steps on that lead into the record, and the last hour."""
    first, last = explained.first_utc, explained.last_utc
    if first is None or last is None or explained.at_utc >= last:
        return []
    if explained.at_utc < first:
        return [_step(explained, first, zone, _("the first hour →")), _now(explained)]
    steps = [
        _step(explained, explained.at_utc + step, zone, f"{_(name)} →")
        for name, step in reversed(STEPS)
        if explained.at_utc + step <= last
    ]
    return [*steps, _now(explained)]


def _now(explained: Reasons) -> Choice:
    return Choice(links.why(explained.work.work_id), "now →")
