"""Climate statements for lenders: what the form asks, judged as every limit is, set and kept."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from analysis.air.coverage import coverage, silences
from analysis.errors import OutOfRangeError
from analysis.limits.lenders_terms import Kept, kept, lenders_limit
from analysis.limits.published_limits import Definition
from analysis.limits.verdict import LimitVerdict, judge
from analysis.parameters import parameter
from analysis.records import Field, Kind
from analysis.results import Band, Coverage
from dashboards.charts.period import period_chart, period_words
from dashboards.sheets.statement_sheet import statement_sheet
from dashboards.sheets.typesetting import sheet_pdf
from dashboards.text import wording
from dashboards.text.messages import _
from dashboards.text.reports import statement_text as text
from service.answers.limit_lines import JudgedAir, judged_air
from service.answers.museum import Museum
from service.climate.room_instruments import age_sentences
from service.storage import statements as store
from service.storage.incidents import incidents

LEAST_GAP_H = 2.0  # a shorter silence is not worth a line of its own
DAY = timedelta(days=1)


@dataclass(frozen=True)
class Judged:
    """A room's air over the dates, held against the lender's terms."""

    air: JudgedAir
    band: Band
    verdict: LimitVerdict
    measured: Mapping[str, Coverage]
    start_utc: datetime
    end_utc: datetime

    @property
    def kept(self) -> Kept:
        """Return whether the terms were met."""
        return kept(self.verdict, list(self.measured.values()))


def asked_fields(museum: Museum) -> tuple[Field, ...]:
    """Return what the form of a statement asks."""
    rooms = tuple((room.room, room.name) for room in museum.rooms())
    percent: dict[str, Any] = {"kind": Kind.NUMBER, "unit": "%RH", "low": 0.0, "high": 100.0}
    degrees: dict[str, Any] = {"kind": Kind.NUMBER, "unit": "°C", "low": -40.0, "high": 60.0}
    return (
        Field(name="room", label=_("Room"), kind=Kind.CHOICE, choices=rooms, needed=True),
        Field(name="from_utc", label=_("From"), kind=Kind.WHEN, needed=True),
        Field(name="to_utc", label=_("Up to and with"), kind=Kind.WHEN, needed=True,
              help=_("Whole days are judged, from the first to the last; a time is not needed.")),
        Field(name="lender", label=_("Lender"), needed=True, example=_("a museum")),
        Field(name="works", label=_("Works"), kind=Kind.NOTE, help=_("As the loan names them.")),
        Field(name="low_rh_pct", label=_("Humidity, at least"), needed=True, **percent),
        Field(name="high_rh_pct", label=_("Humidity, at most"), needed=True, **percent),
        Field(name="change_rh_pct", label=_("Humidity, change in 24 hours, at most"), **percent),
        Field(name="low_temp_c", label=_("Temperature, at least"), **degrees),
        Field(name="high_temp_c", label=_("Temperature, at most"), **degrees),
        Field(name="change_temp_c", label=_("Temperature, change in 24 hours, at most"),
              kind=Kind.NUMBER, unit="K", low=0.0, high=60.0),
        Field(name="definition", label=_("How 24 hours are counted"), kind=Kind.CHOICE, needed=True,
              choices=text.definitions()),
    )  # fmt: skip


def judged(museum: Museum, asked: Mapping[str, Any]) -> Judged:
    """Return a room's air over the dates against what a lender asks.

    Raises
    ------
    OutOfRangeError
        If the dates or the limits cannot be.
    """
    start, end = _dates(museum, asked)
    band = Band(
        _("the lender’s terms"), asked["low_rh_pct"], asked["high_rh_pct"],
        low_temp_c=asked.get("low_temp_c"), high_temp_c=asked.get("high_temp_c"),
    )  # fmt: skip
    limit = lenders_limit(
        band,
        change_rh_pct=asked.get("change_rh_pct"),
        change_temp_c=asked.get("change_temp_c"),
        definition=Definition(asked["definition"]),
    )
    air = judged_air(museum, asked["room"], start, end)
    verdict = judge(
        limit, air.frame, museum.zone, uncertainty_rh_pct=air.uncertainty_rh_pct,
        uncertainty_temp_c=air.uncertainty_temp_c, how=air.how,
    )  # fmt: skip
    measured = {name: coverage(air.frame, start, end, column=name) for name in limit.variables}
    return Judged(air, band, verdict, measured, start, end)


def _dates(museum: Museum, asked: Mapping[str, Any]) -> tuple[datetime, datetime]:
    """Return the instants at which the first day begins and the last one ends."""
    zone = ZoneInfo(museum.zone)
    first, last = (asked[name].astimezone(zone).date() for name in ("from_utc", "to_utc"))
    start, end = (datetime(d.year, d.month, d.day, tzinfo=zone) for d in (first, last + DAY))
    if last < first or start >= museum.clock():
        raise OutOfRangeError(
            read="the statement",
            where="to_utc",
            found=wording.joined(wording.date_words(first), wording.date_words(last)),
            expected="a first day that has begun, and a last day not before it",
            action="Correct the dates.",
        )
    return start, end


def issue_statement(
    museum: Museum, asked: Mapping[str, Any], *, by: str, corrects: int | None = None, why: str = ""
) -> int:
    """Judge, set and keep a statement; return its number.

    Raises
    ------
    OutOfRangeError
        If what is asked cannot be, or the statement to be corrected has been corrected already.
    UnknownNameError
        If there is no statement to correct.
    """
    found = judged(museum, asked)
    old = None if corrects is None else store.statement(museum.stores.register, corrects)
    picture = period_chart(found.air.frame, found.start_utc, found.end_utc, museum.zone, found.band)
    return store.issue(
        museum.stores.register,
        room=asked["room"],
        at_utc=museum.clock(),
        by=by,
        asked={
            name: value.isoformat() if isinstance(value, datetime) else value
            for name, value in asked.items()
        },
        facts_of=lambda number: _facts(museum, asked, found, number, old, by=by, why=why),
        sheet_of=lambda facts: sheet_pdf(statement_sheet(facts, picture)),
        corrects=corrects,
        why=why,
    )


def _facts(
    museum: Museum, asked: Mapping[str, Any], found: Judged, number: int,
    old: store.Issued | None, *, by: str, why: str,
) -> dict[str, Any]:  # fmt: skip
    """Return everything that a statement says."""
    zone = museum.zone
    dates = wording.joined(
        wording.day_only(found.start_utc, zone), wording.day_only(found.end_utc - DAY / 24, zone)
    )
    lines = _lines(museum, asked, found, dates)
    changes = []
    if old is not None:
        changes = text.change_words(old.facts["lines"], lines)
        if old.facts["answer"] != _answer(found):
            changes.append(_("Before: “{answer}”", answer=old.facts["answer"]))
        changes = [_("Why: {why}", why=why), *changes]
    made = _("issued {when} by {who}", when=wording.date_time(museum.clock(), zone), who=by)
    return {
        "title": text.title_words(found.air.room.name, dates, found.kept),
        "kept": found.kept.value,
        "number": text.number_words(number, None if old is None else old.id),
        "house": museum.site.name,
        "answer": _answer(found),
        "changes_heading": ""
        if old is None
        else _("What differs from statement {old}", old=old.id),
        "changes": changes,
        "lines": lines,
        "table": asdict(text.checks_table(found.verdict, zone)),
        "picture_words": period_words(found.air.frame),
        "gaps_heading": _("When nothing was measured"),
        "gaps": text.gap_words(_gaps(found), zone),
        "cautions": [_(text.CONFIDENTIAL), _(text.CAUTION)],
        "sign": [_(words) for words in text.SIGN],
        "made": made,
    }


def _answer(found: Judged) -> str:
    least = min(found.measured.values(), key=lambda one: one.valid_pct)
    return text.answer_words(found.kept, found.verdict, least)


def _gaps(found: Judged) -> list[tuple[datetime, datetime]]:
    step_h = max(one.interval_s for one in found.measured.values()) / 3600.0
    least = max(LEAST_GAP_H, parameter("quality", "gap", "intervals").value * step_h)
    if step_h != step_h:
        least = LEAST_GAP_H
    return silences(found.air.frame, found.start_utc, found.end_utc, least_h=least)


def _lines(
    museum: Museum, asked: Mapping[str, Any], found: Judged, dates: str
) -> list[tuple[str, str]]:
    zone, verdict = museum.zone, found.verdict
    names = sorted(found.air.loggers)
    definition = dict(text.definitions())[asked["definition"]]
    rules = text.checks_table(verdict, zone).rows
    quantities = {"rh_pct": _("Humidity"), "temp_c": _("Temperature")}
    measured = [text.measured_words(quantities[n], one) for n, one in found.measured.items()]
    happened = [
        f"{wording.date_time(one.first_utc or one.opened_utc, zone)}: {one.noticed}"
        for one in incidents(museum.stores.register, asked["room"])
        if found.start_utc <= (one.first_utc or one.opened_utc) < found.end_utc
    ]
    lines = [
        (_("Room"), found.air.room.name),
        (_("Dates"), dates),
        (_("Lender"), asked["lender"]),
        (_("Works"), asked.get("works", "")),
        (_("Asked"), "; ".join(f"{row[0]}: {row[1]}" for row in rules)),
        (_("How 24 hours are counted"), definition),
        (_("Measured"), "; ".join(measured) + "."),
        (_("Loggers"), wording.listed(names) + "." + found.air.words),
        (_("Calibration"), age_sentences(museum.stores, names, found.end_utc, zone)),
        (
            _("Uncertainty of a reading"),
            text.uncertainty_words(
                verdict.uncertainty_rh_pct,
                verdict.uncertainty_temp_c,
                rh_stated=found.air.uncertainty_rh_pct is not None,
                temp_stated=found.air.uncertainty_temp_c is not None,
            ),
        ),
        (_("Incidents on record"), "; ".join(happened) or _("none")),
    ]
    return [(name, words) for name, words in lines if words]


def statement_lines(museum: Museum) -> Sequence[tuple[store.Issued, int | None]]:
    """Return all statements, newest first, each with the number of the one in its place."""
    every = store.statements(museum.stores.register)
    newer = {one.corrects: one.id for one in every}
    return [(one, newer.get(one.id)) for one in every]
