"""What the pages' tables hold, as tables to be taken away: the same answers, in numbers."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import UTC, timedelta

import numpy as np
import pandas as pd

from analysis.air.moist_air import dew_point_c
from analysis.errors import UnknownNameError
from analysis.results import History, Judgement, RoomWeek
from analysis.series import flag_words, usable
from dashboards.text.messages import N_, _
from service.answers.days_ahead import days_ahead
from service.answers.limit_lines import limit_lines
from service.answers.museum import Museum
from service.answers.rounds import round_lines
from service.notices.lines import notice_lines
from service.storage.incidents import incidents
from service.tables import register_tables
from service.tables.table_files import Cell, FileTable

YEAR = timedelta(days=366)
WEEKS = 57  # of a work's hours: thirteen months
# Columns of a work's hours: what is read, its heading, and the points of a range.
ONE, RANGE = (), ("5 %", "50 %", "95 %")
TOLD = (
    ("p_slack", N_("chance that it is slack [0 to 1]"), ONE),
    ("p_visible", N_("chance that waves show [0 to 1]"), ONE),
    ("p_clearance", N_("chance that it is near the glazing [0 to 1]"), ONE),
    ("p_hinges", N_("chance that hinges give way [0 to 1]"), ONE),
    ("frame_rh_pct", N_("RH in the frame, {point} point [%]"), RANGE),
    ("print_rh_pct", N_("RH at the print, {point} point [%]"), RANGE),
    ("headroom_up_pct", N_("RH to spare before it is slack, {point} point [%]"), RANGE),
)


def house_table(museum: Museum, what: str) -> FileTable:
    """Return a table of the whole house by name, or raise `UnknownNameError`."""
    if what not in OF_THE_HOUSE:
        raise UnknownNameError(read="tables", name=what, known=OF_THE_HOUSE)
    return OF_THE_HOUSE[what](museum)


def _round(museum: Museum) -> FileTable:
    headings = (
        _("list"), _("work"), _("title"), _("room"), _("place"), _("state"),
        _("chance that waves show now [0 to 1]"), _("chance within the week [0 to 1]"),
        _("RH at the print, middle [%]"), _("RH to spare, middle [%]"),
        _("look again by"), _("last grade [0 to 4]"), _("last seen"), _("judged for"),
    )  # fmt: skip
    lists = round_lines(museum, museum.now())
    rows = [
        (_(which.value), *_work(line.judgement), line.room_name, line.place,
         *_chances(line.judgement), line.judgement.look_again_utc,
         line.last_grade, line.last_seen_utc, line.judgement.at_utc)
        for which, lines in lists.items()
        for line in lines
    ]  # fmt: skip
    return FileTable("round", headings, rows)


def _work(judgement: Judgement) -> tuple[Cell, ...]:
    return judgement.work_id, judgement.title


def _chances(judgement: Judgement) -> tuple[Cell, ...]:
    sheet, spare = judgement.print_rh_pct, judgement.headroom_up_pct
    return (
        _(judgement.state.value),
        judgement.p_visible_now,
        judgement.p_visible_week,
        None if sheet is None else sheet.mid,
        None if spare is None else spare.mid,
    )


def _notices(museum: Museum) -> FileTable:
    headings = (
        _("notice"), _("kind"), _("room"), _("what"), _("since"), _("over since"), _("works"),
        _("seen by"), _("seen at"),
    )  # fmt: skip
    rows = [
        (one.notice_id, one.kind, one.room_name, one.what, one.since_utc, one.ended_utc,
         "; ".join(work.title for work in one.works), one.seen_by, one.seen_utc)
        for one in notice_lines(museum)
    ]  # fmt: skip
    return FileTable("notices", headings, rows)


def _incidents(museum: Museum) -> FileTable:
    headings = (
        _("incident"), _("room"), _("noticed"), _("first outside"), _("last outside"), _("opened"),
        _("cause"), _("how far it is known"), _("closed"), _("lesson"),
    )  # fmt: skip
    rows = [
        (one.id, one.room, one.noticed, one.first_utc, one.last_utc, one.opened_utc, one.cause,
         one.cause_state, one.closed_utc, one.lesson)
        for one in incidents(museum.stores.register)
    ]  # fmt: skip
    return FileTable("incidents", headings, rows)


def _limits(museum: Museum) -> FileTable:
    headings = (
        _("room"), _("limit"), _("edition"), _("verdict"), _("outside [% of the time judged]"),
        _("longest run outside [h]"), _("what was found"), _("judged by"),
    )  # fmt: skip
    rows = [
        (one.room_name, one.limit, one.edition, one.verdict, one.outside_pct,
         one.longest_outside_h, one.sentence, one.basis)
        for one in limit_lines(museum)
    ]  # fmt: skip
    return FileTable("limits", headings, rows)


OF_THE_HOUSE: Mapping[str, Callable[[Museum], FileTable]] = {
    "round": _round,
    "notices": _notices,
    "incidents": _incidents,
    "limits": _limits,
    "works": register_tables.works_table,
    "calendar": register_tables.calendar_table,
    "instruments": register_tables.instruments_table,
    "checks": register_tables.checks_table,
    "side-by-side": register_tables.beside_table,
    "measure": register_tables.measure_table,
    "numbers": register_tables.numbers_table,
    "statements": register_tables.statements_table,
}


def week_table(week: RoomWeek, what: str) -> FileTable:
    """Return what a week's chart is drawn from: ``air`` or ``works``; or raise."""
    tables = {"air": _air, "works": _hours_of_works}
    if what not in tables:
        raise UnknownNameError(read="tables of a week", name=what, known=tables)
    return tables[what](week)


def _air(week: RoomWeek) -> FileTable:
    headings = (
        _("time"), _("relative humidity [%]"), _("air temperature [°C]"), _("dew point [°C]"),
        _("doubts"),
    )  # fmt: skip
    frame = week.readings
    columns = [frame[name].to_numpy(float) for name in ("rh_pct", "temp_c", "dew_point_c")]
    rows = (
        (at.to_pydatetime(), float(rh), float(temp), float(dew), flag_words(int(flags)))
        for at, rh, temp, dew, flags in zip(
            frame.index, *columns, frame["flags"].to_numpy(), strict=True
        )
    )
    return FileTable(f"{week.room_id}-{week.iso_week}-air", headings, rows)


def _hours_of_works(week: RoomWeek) -> FileTable:
    rows = (
        (work_id, week.works[work_id].title, *row)
        for work_id, history in week.histories.items()
        for row in _hours(history)
    )
    headings = (_("work"), _("title"), *_hour_headings())
    return FileTable(f"{week.room_id}-{week.iso_week}-works", headings, rows)


def year_table(museum: Museum, room_id: str) -> FileTable:
    """Return the hours of a room's last year: means of readings, hours without one empty."""
    end = museum.now()
    frame = museum.readings(room_id).frame
    inside = frame[frame.index > pd.Timestamp(end - YEAR)]
    fit = pd.DataFrame({name: usable(inside, name) for name in ("rh_pct", "temp_c")})
    hours = fit.resample("1h").mean()
    dew = dew_point_c(hours["temp_c"], hours["rh_pct"].clip(upper=100.0))
    counts = inside["rh_pct"].resample("1h").count()
    headings = (
        _("hour from"), _("relative humidity, mean [%]"), _("air temperature, mean [°C]"),
        _("dew point [°C]"), _("readings"),
    )  # fmt: skip
    rows = (
        (at.to_pydatetime(), float(rh), float(temp), float(point), int(many))
        for at, rh, temp, point, many in zip(
            hours.index, hours["rh_pct"], hours["temp_c"], dew, counts, strict=True
        )
    )
    return FileTable(f"{room_id}-year", headings, rows)


def ahead_table(museum: Museum, room_id: str, what: str) -> FileTable:
    """Return the hours to come of a room, as its picture shows them."""
    found = days_ahead(museum, room_id, what)
    ahead = found.ahead
    headings = (
        _("time"), *(_("relative humidity, {point} point [%]", point=p) for p in RANGE),
        *(_("air temperature, {point} point [°C]", point=p) for p in RANGE),
        _("relative humidity as it is run now [%]"),
    )  # fmt: skip
    times = [at.to_pydatetime() for at in pd.DatetimeIndex(ahead.time_utc).tz_localize("UTC")]
    columns = (
        ahead.rh_low_pct, ahead.rh_pct, ahead.rh_high_pct,
        ahead.temp_low_c, ahead.temp_c, ahead.temp_high_c, found.usual.rh_pct,
    )  # fmt: skip
    rows = zip(times, *(column.tolist() for column in columns), strict=True)
    return FileTable("-".join(filter(None, (room_id, "days", what))), headings, rows)


def work_table(museum: Museum, work_id: str) -> FileTable:
    """Return the hours of one work, as far back as thirteen months."""
    history = museum.work_over(work_id, WEEKS).history
    return FileTable(
        f"{work_id}-hours", _hour_headings(), [] if history is None else _hours(history)
    )


def _hour_headings() -> Sequence[str]:
    told = [_(words, point=point) for _name, words, points in TOLD for point in (points or ("",))]
    return (_("time"), *told, _("why nothing is told"))


def _hours(history: History) -> Iterator[tuple[Cell, ...]]:
    """Yield the hours of a history; a chance that is not told is an empty cell."""
    times = [at.astimezone(UTC) for at in pd.DatetimeIndex(history.time_utc).tz_localize("UTC")]
    columns = [np.atleast_2d(getattr(history, name).T) for name, _words, _points in TOLD]
    values = np.vstack(columns).T
    for at, row, refused in zip(times, values.tolist(), history.refused.tolist(), strict=True):
        yield (at, *row, refused)
