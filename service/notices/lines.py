"""A notice of the register as the record that pages and letters print."""

from datetime import datetime
from typing import Any

from dashboards.lines import NoticeLine
from service.notices.told_judgement import noticed
from service.storage.notices import Notice


def notice_line(notice: Notice, room_name: str) -> NoticeLine:
    """Return a notice for a page or a letter, with the works as they were judged when told."""
    details = notice.details
    return NoticeLine(
        notice_id=str(notice.id),
        kind=notice.kind,
        room_id=notice.room,
        room_name=room_name,
        what=str(details.get("what", notice.headline)),
        since_utc=notice.since_utc,
        sensor=", ".join(details.get("sensors", ())),
        confirmed_by=str(details.get("confirmed_by", "")),
        works=tuple(noticed(work) for work in details.get("works", ())),
        felt=str(details.get("felt", "")),
        lead=str(details.get("lead", "")),
        do_now=tuple(details.get("do_now", ())),
        on_call=str(details.get("on_call", "")),
        ended_utc=notice.ended_utc,
        seen_by=notice.seen_by,
        seen_utc=notice.seen_utc,
        seen_reason=notice.seen_reason,
    )


def as_json(notice: Notice, room_name: str) -> dict[str, Any]:
    """Return a notice as values for scripts."""
    line = notice_line(notice, room_name)
    return {
        "id": notice.id,
        "kind": notice.kind,
        "room": notice.room,
        "room_name": room_name,
        "headline": notice.headline,
        "what": line.what,
        "since_utc": _iso(notice.since_utc),
        "ended_utc": _iso(notice.ended_utc),
        "sensor": line.sensor,
        "confirmed_by": line.confirmed_by,
        "works": [{"work_id": j.work_id, "title": j.title, "why": j.reason} for j in line.works],
        "felt": line.felt,
        "lead": line.lead,
        "do_now": list(line.do_now),
        "seen_by": notice.seen_by,
    }


def _iso(time: datetime | None) -> str | None:
    return None if time is None else time.isoformat()
