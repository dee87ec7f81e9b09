"""A report as values that can stand in JSON: its figures and its words."""

from dataclasses import asdict
from typing import Any

from service.answers.museum import Museum
from service.reports.excursions import Excursion
from service.reports.kept_hours import WorkHours
from service.reports.period_report import PeriodReport
from service.reports.report_words import report_words
from service.reports.room_dates import AirOver, RoomDates


def report_json(museum: Museum, found: PeriodReport, reader: str) -> dict[str, Any]:
    """Return a report as values that can stand in JSON: its figures and its words."""
    words = report_words(museum, found, reader)
    return figures(found) | {"for": reader} | asdict(words)


def figures(found: PeriodReport) -> dict[str, Any]:
    """Return the figures of a report as values that can stand in JSON."""
    return {
        "first": found.dates.first.isoformat(),
        "last": found.dates.last.isoformat(),
        "over": found.dates.over,
        "rooms": [_room(one) for one in found.rooms],
        "excursions": [_excursion(one) for one in found.excursions],
        "works": [_work(one) for one in found.works],
        "excursion_work_hours": found.excursion_hours,
        "other_work_hours": found.other_hours,
        "away_work_hours": found.away_hours,
        "looks": found.done.looks,
        "notices": len(found.done.notices),
        "notices_unseen": len(found.done.unseen),
        "incidents_opened": len(found.done.opened),
        "incidents_closed": len(found.done.closed),
        "incidents_open_at_end": [one.id for one in found.done.waiting],
    }


def _room(one: RoomDates) -> dict[str, Any]:
    return {
        "room": one.room.room,
        "name": one.room.name,
        "band": None if one.now.band is None else one.now.band.name,
        **_air(one.now),
        "a_year_before": _air(one.before),
        "loggers_unchecked": list(one.unchecked),
    }


def _air(air: AirOver) -> dict[str, Any]:
    verdict = air.verdict
    return {
        "outcome": None if air.band is None else air.kept.value,
        "outside_pct": None if verdict is None else _known(verdict.shares.outside_pct),
        "longest_outside_h": None if verdict is None else verdict.longest_run.hours,
        "measured_pct": {name: one.valid_pct for name, one in air.measured.items()},
        "mean_rh_pct": _known(air.mean_rh_pct),
        "low_rh_pct": _known(air.low_rh_pct),
        "high_rh_pct": _known(air.high_rh_pct),
    }


def _excursion(one: Excursion) -> dict[str, Any]:
    return {
        "room": one.room.room,
        "kind": one.event.kind,
        "since_utc": one.since_utc.isoformat(),
        "until_utc": None if one.until_utc is None else one.until_utc.isoformat(),
        "from_value": _known(one.event.from_value),
        "peak_value": _known(one.event.peak_value),
        "likely_cause": str(one.event.cause),
        "in_the_calendar": "" if one.entry is None else one.entry.title,
        "incident": None if one.incident is None else one.incident.id,
        "hours_by_work": dict(one.hours),
    }


def _work(one: WorkHours) -> dict[str, Any]:
    return {
        "work_id": one.work_id,
        "title": one.title,
        "room": one.room or None,
        "listing": one.listing.value,
        "waves_h": one.waves_h,
        "told_h": one.told_h,
        "untold_h": one.untold_h,
        "highest_chance": _known(one.highest),
        "grades": [look.grade for look in one.looks],
    }


def _known(value: float) -> float | None:
    return value if value == value else None
