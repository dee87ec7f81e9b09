"""A report in words: the plain summary, who is asked for what, and the parts in order of reader."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from analysis.errors import UnknownNameError
from analysis.limits.lenders_terms import Kept
from analysis.parameters import parameter
from analysis.results import Band, Coverage, Listing
from dashboards.lines import Table
from dashboards.pages.report_page import ReportPart
from dashboards.text import sentences, wording
from dashboards.text.event_words import undated_sentence
from dashboards.text.messages import _
from dashboards.text.reports import report_text as text
from service.answers.museum import Museum
from service.climate.room_instruments import age_sentences
from service.reports.excursions import Excursion
from service.reports.kept_hours import WorkHours
from service.reports.period_report import PeriodReport
from service.reports.room_dates import AirOver, RoomDates

NEEDING = (Listing.LOOK_FIRST, Listing.CANNOT_TELL)
# Two readers, one set of facts: only the order is another.
ORDER = {
    "director": ("works", "excursions", "limits", "trend", "done", "lessons", "instruments"),
    "facilities": ("excursions", "limits", "trend", "lessons", "works", "done", "instruments"),
}
FIRST_ASKED = {
    "director": ("director", "care", "facilities", "incidents", "notices", "readers",
                 "instruments"),
    "facilities": ("facilities", "readers", "instruments", "incidents", "notices", "care",
                   "director"),
}  # fmt: skip


@dataclass(frozen=True)
class ReportWords:
    """A report in words; ``asks`` holds who is asked, and for what."""

    question: str
    answer: str
    summary: Sequence[str]
    asks: Sequence[tuple[str, str]]
    parts: Sequence[ReportPart]
    cautions: Sequence[str]


def report_words(museum: Museum, found: PeriodReport, reader: str) -> ReportWords:
    """Return a report in words, ordered for one of its readers.

    Raises
    ------
    UnknownNameError
        If there is no such reader.
    """
    if reader not in ORDER:
        raise UnknownNameError(read="readers of a report", name=reader, known=ORDER)
    made = {key: make(museum, found) for key, make in PARTS.items()}
    asked = list(_asks(found))
    return ReportWords(
        question=text.question_words(text.dates_words(found.dates.first, found.dates.last)),
        answer=_excursions_sentence(found),
        summary=_summary(found),
        asks=[
            (text.ASKED[who], wording.capital("; ".join(mine)) + ".")
            for who in FIRST_ASKED[reader]
            if (mine := [what for whom, what in asked if whom == who])
        ],
        parts=[made[key] for key in ORDER[reader]],
        cautions=[_(text.CAUTION), wording.capital(_("room climate and loans are confidential."))],
    )


def report_lines(words: ReportWords) -> Iterator[str]:
    """Yield a report as lines of plain text, tables as columns apart by a bar."""
    yield words.question
    yield from ("", words.answer, *words.summary)
    for who, what in words.asks:
        yield f"  {who}: {what}"
    for part in words.parts:
        yield ""
        yield part.heading.upper()
        yield from part.sentences
        if part.table is not None and part.table.rows:
            for row in (part.table.headings, *part.table.rows):
                yield "  " + " | ".join(row)
        if part.how:
            yield part.how
    yield ""
    yield from words.cautions


def _excursions_sentence(found: PeriodReport) -> str:
    works = {work for one in found.excursions for work in one.hours}
    rooms = {one.room.room for one in found.excursions}
    return text.excursions_words(
        len(found.excursions), len(rooms), len(works), found.excursion_hours
    )


def _summary(found: PeriodReport) -> list[str]:
    """Return what else happened and what was done, before all figures."""
    untold = found.untold
    said = [
        text.so_far_words(found.dates.over),
        text.untold_words(sum(one.untold_h for one in untold), len(untold)),
        *_bands_sentences(found),
        _at_the_end(sentences.round_sentence(found.works, found.zone)),
        *_done_sentences(found),
    ]
    return [one for one in said if one]


def _at_the_end(said: str) -> str:
    return _("At the end: {said}", said=wording.uncapital(said))


def _bands_sentences(found: PeriodReport) -> list[str]:
    """Return which rooms kept to their bands, and which were surely outside for a while."""
    names: dict[str, list[str]] = {}
    for one in found.rooms:
        names.setdefault(_standing(one.now), []).append(one.room.name)
    outside = [
        (
            one.room.name,
            one.now.verdict.shares.outside_pct / 100.0,
            one.now.verdict.longest_run.hours,
        )
        for one in found.rooms
        if one.now.verdict is not None and one.now.verdict.longest_run.start_utc is not None
    ]
    return [text.bands_words(names, _required()), text.surely_outside_words(outside)]


def _required() -> str:
    """Return for how much of the time a room must be inside its band to have kept to it."""
    return wording.share(parameter("record_rules", "bands", "required_share").value / 100.0)


def _standing(air: AirOver) -> str:
    """Return how a room stands to its band, as `bands_words` takes it."""
    if air.band is None:
        return "without"
    if air.kept is not Kept.CANNOT_TELL:
        return "met" if air.kept is Kept.MET else "broken"
    near = air.enough and air.verdict is not None and not air.verdict.not_judged
    return "near" if near else "little"


def _done_sentences(found: PeriodReport) -> list[str]:
    done = found.done
    return text.done_words(
        {
            "looks": done.looks,
            "looked_at": done.looked_at,
            "notices": len(done.notices),
            "unseen": len(done.unseen),
            "opened": len(done.opened),
            "closed": len(done.closed),
        }
    )


def _asks(found: PeriodReport) -> Iterator[tuple[str, str]]:
    """Yield who is asked for what; nothing is asked that the record does not call for."""
    first = [_quoted(one) for one in found.listed(Listing.LOOK_FIRST)]
    unsure = [_quoted(one) for one in found.listed(Listing.CANNOT_TELL)]
    unknown = [_when_where(one, found.zone) for one in found.costing["unknown"]]
    little = [one.room.name for one in found.rooms if not one.now.enough]
    unchecked = sorted({name for one in found.rooms for name in one.unchecked})
    for one in found.by_outcome.get(Kept.NOT_MET, []):
        if one.now.verdict is not None and one.now.verdict.longest_run.start_utc is not None:
            run, outside = one.now.verdict.longest_run.hours, one.now.verdict.shares.outside_pct
            yield "facilities", text.longest_words(one.room.name, run, outside / 100.0)
    yield from _asked("care", "look", first)
    yield from _asked("care", "unsure", unsure)
    yield from _asked("facilities", "explain", unknown)
    yield from _asked("readers", "readings", little)
    yield from _asked("instruments", "check", unchecked)
    yield from _asked("incidents", "close", _waiting(found))
    if found.done.unseen:
        many = wording.plural(len(found.done.unseen), "notice")
        yield from _asked("notices", "unseen", [many])
    without = [one.room.name for one in found.by_outcome.get(None, [])]
    yield from _asked("director", "agree", without)
    yield from _asked("director", "review", _to_review(found))


def _asked(who: str, what: str, names: Sequence[str]) -> Iterator[tuple[str, str]]:
    if names:
        yield who, text.ask_words(what, names)


def _quoted(one: WorkHours) -> str:
    return _("“{title}”", title=one.title)


def _when_where(one: Excursion, zone: str) -> str:
    return text.excursion_name(one.room.name, wording.date_time(one.since_utc, zone))


def _waiting(found: PeriodReport) -> list[str]:
    names = {one.room.room: one.room.name for one in found.rooms}
    return [text.incident_name(one.id, names.get(one.room, one.room)) for one in found.done.waiting]


def _to_review(found: PeriodReport) -> list[str]:
    due = [(one.room.name, one.record.band_review) for one in found.rooms if one.record]
    return [name for name, day in due if day is not None and day < found.dates.end_utc]


def _works_part(museum: Museum, found: PeriodReport) -> ReportPart:
    names = {room.room: room.name for room in museum.every_room()}
    needing = [one for one in found.works if one.listing in NEEDING or one.waves_h or one.asked]
    rows = [
        (
            one.title,
            names.get(one.room, _("not hung")),
            _(sentences.LISTING_WORDS[one.listing]),
            wording.number(one.waves_h),
            wording.percent(one.highest),
            wording.number(one.untold_h),
            ", ".join(wording.number(look.grade) for look in one.looks) or wording.NONE,
        )
        for one in needing
    ]
    return _part(
        "works",
        [text.changed_words(one.title, one.before, one.after) for one in found.done.changed],
        Table(text.tables()["works"], rows, figures=(3, 4, 5)),
        _(text.WORKS_HOW),
    )


def _excursions_part(museum: Museum, found: PeriodReport) -> ReportPart:
    zone = found.zone
    rows = [
        (
            one.room.name,
            wording.date_time(one.since_utc, zone),
            undated_sentence(one.event),
            _on_record(one),
            wording.number(len(one.hours)),
            wording.number(one.work_hours),
        )
        for one in sorted(found.excursions, key=lambda one: -one.work_hours)
    ]
    costs = [
        text.cost_words(
            kind,
            len(many),
            len({work for one in many for work in one.hours}),
            sum(one.work_hours for one in many),
        )
        for kind, many in found.costing.items()
        if many or (kind == "plant" and found.excursions)
    ]
    return _part(
        "excursions",
        [
            *costs,
            text.other_hours_words(found.other_hours),
            text.away_hours_words(found.away_hours),
        ],
        Table(text.tables()["excursions"], rows, figures=(4, 5)),
        _(text.COUNTED_HOW),
    )


def _on_record(one: Excursion) -> str:
    if one.entry is not None:
        return one.entry.title
    if one.incident is None:
        return _("nothing")
    return one.incident.cause or text.incident_name(one.incident.id, one.room.name)


def _limits_part(museum: Museum, found: PeriodReport) -> ReportPart:
    rows = [
        (
            one.room.name,
            _band(one.now.band),
            _outcome(one.now),
            *_outside(one.now),
            *_measured(one.now),
        )
        for one in found.rooms
    ]
    return _part(
        "limits",
        [*_new_bands(found), *_left_out(found)],
        Table(text.tables()["limits"], rows, figures=(3, 4, 5, 6)),
        _(text.BAND_HOW, share=_required()),
    )


def _new_bands(found: PeriodReport) -> Iterator[str]:
    """Yield which bands hold only since some day of the dates, against which all were judged."""
    for one in found.rooms:
        since = None if one.record is None else one.record.band_since
        if since is not None and since > found.dates.start_utc:
            day = wording.day_only(since, found.zone)
            yield _(
                "The band of {room} holds since {day}; the days before are held against it too.",
                room=one.room.name,
                day=day,
            )


def _left_out(found: PeriodReport) -> Iterator[str]:
    """Yield how many readings of each room were doubted, and so not reckoned with."""
    for one in found.rooms:
        doubted = max((coverage.flagged for coverage in one.now.measured.values()), default=0)
        if doubted:
            yield _(
                "{room}: {readings} doubted and left out.",
                room=one.room.name,
                readings=wording.plural(doubted, "reading"),
            )


def _band(band: Band | None) -> str:
    return wording.NONE if band is None else text.band_words(band)


def _outcome(air: AirOver) -> str:
    return _("no band") if air.band is None else text.KEPT[air.kept]


def _outside(air: AirOver) -> tuple[str, str]:
    if air.verdict is None:
        return wording.NONE, wording.NONE
    run = air.verdict.longest_run
    outside = wording.share(air.verdict.shares.outside_pct / 100.0)
    return outside, wording.duration(run.hours) if run.start_utc else wording.NONE


def _measured(air: AirOver) -> tuple[str, str]:
    rh, temp = (_share_of(air.measured.get(name)) for name in ("rh_pct", "temp_c"))
    return rh, temp


def _share_of(one: Coverage | None) -> str:
    return wording.NONE if one is None else wording.share(one.valid_pct / 100.0)


def _trend_part(museum: Museum, found: PeriodReport) -> ReportPart:
    rows, apart = [], []
    earlier = found.dates.a_year_before(found.zone)
    for one in found.rooms:
        short = next((d for d in ((one.now, found.dates), (one.before, earlier))
                      if not d[0].measured["rh_pct"].enough), None)  # fmt: skip
        if short is None:
            rows.append(_compared(one))
            continue
        little = short[0].measured["rh_pct"]
        when = text.dates_words(short[1].first, short[1].last)
        apart.append(
            text.unmatched_words(
                one.room.name, little.valid_pct / 100.0, little.needed_pct / 100.0, when
            )
        )
    return _part("trend", apart, Table(text.tables()["trend"], rows, figures=(1, 2, 3, 4, 5, 6)))


def _compared(one: RoomDates) -> tuple[str, ...]:
    both = (one.now, one.before)
    means = (wording.number(air.mean_rh_pct, 1) for air in both)
    ends = (text.points(air.low_rh_pct, air.high_rh_pct) for air in both)
    return (one.room.name, *means, *ends, *(_outside(air)[0] for air in both))


def _done_part(museum: Museum, found: PeriodReport) -> ReportPart:
    done = found.done
    named = {
        "actions": done.actions,
        "checked": done.checked,
        "mounted": done.mounted,
        "framed": done.framed,
        "hung": done.hung,
        "planned": [one.title for one in done.planned],
    }
    said = [words for what, names in named.items() if (words := text.named_words(what, names))]
    return _part("done", said or [_("Nothing else was written down.")])


def _lessons_part(museum: Museum, found: PeriodReport) -> ReportPart:
    names = {room.room: room.name for room in museum.every_room()}
    said = [
        text.waiting_words(text.incident_name(one.id, names[one.room]), one.noticed)
        for one in found.done.waiting
    ]
    said += [
        text.lesson_words(text.incident_name(one.id, names[one.room]), one.lesson)
        for one in found.done.closed
    ]
    return _part("lessons", said or [text.no_lesson_words()])


def _instruments_part(museum: Museum, found: PeriodReport) -> ReportPart:
    said = []
    for one in found.rooms:
        names = sorted(one.now.air.loggers)
        ages = age_sentences(museum.stores, names, found.dates.end_utc, found.zone)
        said.append(f"{one.room.name}: {ages or _('Nothing was measured.')}")
    return _part("instruments", said)


def _part(key: str, said: Sequence[str], table: Table | None = None, how: str = "") -> ReportPart:
    return ReportPart(key, text.HEADINGS[key], [one for one in said if one], table, how)


PARTS: Mapping[str, Callable[[Museum, PeriodReport], ReportPart]] = {
    "works": _works_part,
    "excursions": _excursions_part,
    "limits": _limits_part,
    "trend": _trend_part,
    "done": _done_part,
    "lessons": _lessons_part,
    "instruments": _instruments_part,
}
