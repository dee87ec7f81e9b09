"""The JSON interface: the same answers for other programs, described by OpenAPI."""

from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, File, Form, Query, UploadFile
from fastapi.responses import Response

from analysis.records.inspection_records import Inspection
from dashboards.pages.classes_page import borrowed_values
from dashboards.text.caveats_text import caveat_words
from dashboards.text.sentences import week_sentence
from service.answers.as_json import as_plain, half_time_json
from service.answers.bearing_in_mind import to_bear_in_mind
from service.answers.days_ahead import days_ahead, days_json
from service.answers.museum import Museum
from service.answers.reasons import WEEKS, as_json, hour_asked, reasons
from service.answers.rounds import answered_json, museum_round, round_as_sent
from service.intake.gateway import take_in_all
from service.notices.after_arrival import rooms_of
from service.notices.follow_up import follow_up_all
from service.notices.lines import as_json as notice_json, room_names
from service.records.record_json import (
    RoomRecordOut,
    WorkRecordOut,
    room_record_json,
    work_record_json,
)
from service.reports.journey_json import journeys_json
from service.reports.report_json import report_json
from service.storage.inspections import inspections
from service.storage.notices import notices
from service.web.drawn_pages import DrawnDep
from service.web.problems import problem_documents
from service.web.report_answer import JourneyOut, ReportOut
from service.web.responses import (
    DaysAheadOut,
    HalfTimeOut,
    NoticeOut,
    ReceiptOut,
    RoomOut,
    RoomWeekOut,
    RoundOut,
    WhyOut,
    WorkOut,
)
from service.web.routes.common import MuseumDep, upload_bytes
from service.web.routes.half_time import known_half_time
from service.web.routes.reports import asked_report

router = APIRouter(
    prefix="/api", tags=["stilltaut"], responses=problem_documents(401, 403, 404, 422, 500)
)
Json = dict[str, Any]


@router.get("/rooms", response_model=list[RoomOut])
def rooms(museum: MuseumDep) -> list[Json]:
    """Return the rooms that have readings."""
    return [{"room": r.room, "name": r.name, "store": r.store} for r in museum.rooms()]


@router.get("/rooms/{room_id:name}/weeks/{iso_week}", response_model=RoomWeekOut)
def room_week(museum: MuseumDep, room_id: str, iso_week: str) -> Json:
    """Return one week of a room: its sentence, events and judgements."""
    week = museum.room_week(room_id, iso_week)
    return {
        "room": room_id,
        "week": iso_week,
        "sentence": week_sentence(week),
        "coverage_pct": week.coverage.valid_pct,
        "events": [_event(event) for event in week.events],
        "judgements": [as_plain(judgement, museum.zone) for judgement in week.judgements],
    }


@router.get("/rooms/{room_id:name}/days", response_model=DaysAheadOut)
def room_days(museum: MuseumDep, room_id: str, what: str = "") -> Json:
    """Return a room's days to come as a band, with its works: as ``stilltaut plan days --json``."""
    return days_json(days_ahead(museum, room_id, what))


@router.get("/round", response_model=RoundOut)
def round_(museum: MuseumDep, drawn: DrawnDep, room: str | None = None) -> Response:
    """Return all works with what is said of each now, by room; those that hang in none apart.

    It is to the letter what ``stilltaut round --json`` prints.
    """
    return drawn.told(
        museum, ("api round", room), lambda: round_as_sent(museum, museum_round(museum, room))
    )


@router.get("/works/{work_id:name}", response_model=WorkOut)
def work(museum: MuseumDep, work_id: str) -> Json:
    """Return what can be said of one work now, what to bear in mind, and what people saw."""
    found = museum.work_over(work_id, WEEKS)
    borne = to_bear_in_mind(museum, found)
    seen = inspections(museum.stores.register, work_id, with_withdrawn=True)
    return answered_json(found, museum.zone) | {
        "room": found.room_id or None,
        "inspections": [_inspection_json(one) for one in seen],
        "bear_in_mind": [
            {"key": one.caveat, "sentence": caveat_words(one, museum.zone)} for one in borne
        ],
        "borrowed": borrowed_values(found.work),
    }


@router.get("/works/{work_id:name}/record", response_model=WorkRecordOut)
def known_of_work(museum: MuseumDep, work_id: str) -> Json:
    """Return everything the register holds of a work, each part in order of time."""
    return work_record_json(museum.stores.register, work_id)


@router.get("/rooms/{room_id:name}/record", response_model=RoomRecordOut)
def known_of_room(museum: MuseumDep, room_id: str) -> Json:
    """Return everything the register holds of a room, each part in order of time."""
    return room_record_json(museum.stores.register, room_id)


@router.get("/works/{work_id:name}/half-time", response_model=HalfTimeOut)
def half_time(museum: MuseumDep, work_id: str) -> Json:
    """Return how fast a work's frame follows its room, as far as a logger in it tells."""
    return half_time_json(known_half_time(museum, work_id))


@router.get("/works/{work_id:name}/journeys", response_model=list[JourneyOut])
def journeys(museum: MuseumDep, work_id: str) -> list[Json]:
    """Return what a work went through on its journeys, newest first: as ``stilltaut journey``."""
    return journeys_json(museum, work_id)


@router.get("/works/{work_id:name}/why", response_model=WhyOut)
def why(museum: MuseumDep, work_id: str, at: str = "") -> Json:
    """Return the chain behind a work at an hour: now, or at a time in the site's zone."""
    return as_json(reasons(museum, work_id, hour_asked(at, museum.zone) if at else None))


@router.get("/notices", response_model=list[NoticeOut])
def every_notice(museum: MuseumDep, open_only: bool = True) -> list[Json]:
    """Return notices, newest first."""
    names = room_names(museum.stores.register)
    found = notices(museum.stores.register, only_open=open_only)
    return [notice_json(one, names[one.room]) for one in found]


@router.get("/report", response_model=ReportOut)
def report(
    museum: MuseumDep,
    first: Annotated[str, Query(alias="from", description="First day, as 2026-03-01")] = "",
    last: Annotated[
        str, Query(alias="to", description="Last day; without both the last month")
    ] = "",
    reader: Annotated[str, Query(alias="for", description="director or facilities")] = "director",
) -> Json:
    """Return what a month, a quarter or other dates brought: as ``stilltaut report --json``."""
    found, _reader = asked_report(museum, {"from": first, "to": last})
    return report_json(museum, found, reader)


@router.post("/uploads", response_model=ReceiptOut)
def upload(
    museum: MuseumDep,
    file: Annotated[UploadFile, File()],
    logger: Annotated[str, Form()],
    zone: Annotated[str | None, Form()] = None,
    part: Annotated[str, Form()] = "",
) -> Json:
    """Take a logger's file in and return its receipt, with the notices it raised.

    Each file in an archive is an upload of its own, unless ``part`` names the one that is meant:
    the receipt is then of the last, and ``earlier`` holds those of the others.
    """
    taken = take_in_all(
        museum.stores,
        upload_bytes(museum, file),
        name=file.filename or "upload",
        logger_id=logger,
        zone=zone,
        part=part,
        by="interface",
    )
    every = [sensor.logger_id for one in taken.receipts for sensor in one.sensors]
    opened = _tell(museum, list(dict.fromkeys(every)))
    *others, last = (one.as_json() for one in taken.receipts)
    return last | {"notices": opened, "earlier": others, "left_aside": taken.left_aside}


def _tell(museum: Museum, loggers: list[str]) -> list[str]:
    changes = follow_up_all(museum, rooms_of(museum, loggers))
    return [notice.headline for notice in changes.opened]


def _inspection_json(one: Inspection) -> Json:
    """Return an inspection; ``released`` is null where the edges were not looked at."""
    return asdict(one) | {"at_utc": one.at_utc.isoformat()}


def _event(event: Any) -> Json:
    return {
        "kind": event.kind,
        "channel": event.channel,
        "start_utc": event.start_utc.isoformat(),
        "peak_utc": event.peak_utc.isoformat(),
        "end_utc": event.end_utc.isoformat(),
        "size": None if event.size != event.size else event.size,
        "cause": str(event.cause),
        "over": event.over,
    }
