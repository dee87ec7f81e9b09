"""Plans as pages: question, answer, picture, reasons, table, and what was assumed."""

from collections.abc import Sequence
from dataclasses import replace

from analysis.planning.hanging import HangingTable
from analysis.planning.mount_sheet import MountSheet
from analysis.planning.mounting import MountingCurve
from analysis.planning.sealing import SealingComparison
from analysis.planning.seasonal import ScheduleYear
from analysis.planning.spacer import Clearance
from analysis.results import Range
from dashboards.charts.hanging import hanging_figure, hanging_narrow
from dashboards.charts.mount_sheet import panel_drawing
from dashboards.charts.mounting import mounting_figure
from dashboards.charts.sealing import sealing_figure
from dashboards.charts.seasons import seasons_figure
from dashboards.charts.spacer import section_figure
from dashboards.charts.style import inline_svg
from dashboards.lines import FormField, Table
from dashboards.pages.page import MountSheetPage, PlanPage
from dashboards.text import hanging_text
from dashboards.text.bench_sheet import BOXES, CAUTIONS, blocks
from dashboards.text.messages import N_, _
from dashboards.text.plan_text import (
    SET_POINT_CAUTIONS,
    build_words,
    clearance_answer,
    mounting_answer,
    mounting_assumed,
    mounting_reasons,
    schedule_answer,
    schedule_words,
    sealing_answer,
    sealing_assumed,
    sealing_reasons,
    sealing_warnings,
)
from dashboards.text.wording import duration, joined, number, percent, range_words, with_unit

MOST_CELLS = 120  # of the picture of where to hang: more would be too heavy for a phone
BOW = (
    N_("Bow of glazing and panel: no published figures were found; see the sources."),
    N_("The range of the sum takes every term at its worst, or best, at once."),
)


PLANNED = (
    N_("The coming year is like the last one."),
    N_("What inspections taught of the work is used; the frame and the mount are as they are now."),
)


def mounting_page(curve: MountingCurve, form: Sequence[FormField]) -> PlanPage:
    """Return the page of the humidity to mount at."""
    return PlanPage(
        question=_("At what RH to mount {title}?", title=curve.work.title),
        answer=mounting_answer(curve),
        form=form,
        picture=inline_svg(mounting_figure(curve), mounting_answer(curve)),
        picture_narrow=inline_svg(mounting_figure(curve, narrow=True), mounting_answer(curve)),
        picture_words=_(
            "Line: the middle of the draws; ribbon: 5–95 %; wash: humidities that may be the "
            "best. Our model, not a published rule; a curve, not a command: the mounting RH is a "
            "conservator's choice."
        ),
        reasons=mounting_reasons(curve),
        table=mounting_table(curve),
        assumed=mounting_assumed(curve),
    )


def hanging_job_page(
    answer: str, form: Sequence[FormField], begin: str, *, waits: bool
) -> PlanPage:
    """Return the page of where to hang a whole collection while there is no table yet."""
    return PlanPage(
        question=_("Where to hang the works?"),
        answer=answer,
        form=form,
        picture=None,
        picture_words="",
        reasons=(),
        table=None,
        assumed=(),
        begin=begin,
        waits=waits,
    )


def hanging_page(table: HangingTable, title: str, form: Sequence[FormField]) -> PlanPage:
    """Return the page of where to hang; ``title`` is that of the one work asked for, or empty."""
    answer = hanging_text.answer(table)
    most = MOST_CELLS // max(len(table.places), 1)
    drawn = replace(table, rows=table.rows[:most])  # those to which the place matters most
    left_out = [_("Left out: {work}.", work=words) for words in hanging_text.left_out(table)]
    return PlanPage(
        question=_("Where to hang {title}?", title=title)
        if title
        else _("Where to hang the works?"),
        answer=answer,
        form=form,
        picture=inline_svg(hanging_figure(drawn), answer),
        picture_narrow=inline_svg(hanging_narrow(drawn), answer),
        picture_words=_(
            "The darker a cell, the larger the share of the last year in which the round would "
            "have said “look first” there; beneath, how much of it for which cause."
        )
        + _only_some(len(drawn.rows), len(table.rows)),
        reasons=[*hanging_text.notes(table), *left_out],
        table=hanging_text.figures(table),
        assumed=hanging_text.assumed(),
    )


def _only_some(drawn: int, every: int) -> str:
    if drawn == every:
        return ""
    return " " + _(
        "Drawn are the {many} works to which the place matters most; the table has all.",
        many=number(drawn),
    )


def sealing_page(found: SealingComparison, form: Sequence[FormField]) -> PlanPage:
    """Return the page of whether to seal a frame."""
    return PlanPage(
        question=_("Should the frame of {title} be sealed?", title=found.work.title),
        answer=sealing_answer(found),
        form=form,
        picture=inline_svg(sealing_figure(found), sealing_answer(found)),
        picture_narrow=inline_svg(sealing_figure(found, narrow=True), sealing_answer(found)),
        picture_words=_("The same year of the room inside each frame."),
        warnings=sealing_warnings(found),
        reasons=sealing_reasons(found),
        table=sealing_table(found),
        assumed=sealing_assumed(found),
    )


def spacer_page(found: Clearance, title: str, form: Sequence[FormField]) -> PlanPage:
    """Return the page of the depth of a spacer."""
    return PlanPage(
        question=_("How deep a spacer does {title} need?", title=title),
        answer=clearance_answer(found),
        form=form,
        picture=inline_svg(section_figure(found), clearance_answer(found)),
        picture_words=_(
            "The frame cut through, its depth to scale: each term at its middle, and dashed at "
            "its worst."
        ),
        reasons=(),
        table=clearance_table(found),
        assumed=[_(words) for words in BOW],
    )


def seasons_page(years: Sequence[ScheduleYear], title: str, form: Sequence[FormField]) -> PlanPage:
    """Return the page of set points; without years it asks what would change."""
    asked = len(years) > 1
    answer = (
        schedule_answer(years)
        if asked
        else _("Say what would change, and its last year is worked out again with it.")
    )
    picture = inline_svg(seasons_figure(years[0], years[-1]), answer) if asked else None
    small = inline_svg(seasons_figure(years[0], years[-1], narrow=True), answer) if asked else None
    return PlanPage(
        question=_("What would other set points do to {title}?", title=title),
        answer=answer,
        form=form,
        picture=picture,
        picture_narrow=small,
        picture_words=_("Above the room, below the air in front of the print."),
        reasons=(),
        table=schedule_table(years) if asked else None,
        cautions=[_(words) for words in SET_POINT_CAUTIONS],
        assumed=[_(words) for words in PLANNED] if asked else (),
    )


def mount_sheet_page(sheet: MountSheet, paper: str, form: Sequence[FormField]) -> MountSheetPage:
    """Return the mount sheet as a page; ``paper`` is the address of the sheet to print."""
    words = _("The panel with its print and hinges, to scale, and its edge cut through.")
    return MountSheetPage(
        work=sheet.work,
        drawing=inline_svg(panel_drawing(sheet), words),
        blocks=blocks(sheet),
        cautions=[_(words) for words in CAUTIONS],
        form=form,
        boxes=[_(words) for words in BOXES],
        paper=paper,
    )


# The figures of a plan as tables, for the pages and, line by line, for the command.


def mounting_table(curve: MountingCurve) -> Table:
    """Return months slack, months overtight and load, mounted as usual and mounted damp."""
    headings = (
        _("Mounted at"),
        _("Months slack"),
        _("Months overtight"),
        _("Peak load"),
        _("Of capacity"),
        _("Damp: slack"),
        _("Damp: overtight"),
        _("Damp: of capacity"),
        _("Chance of best"),
    )
    rows = [
        (
            with_unit(point.rh_pct, "%RH", 1),
            range_words(point.year.months_slack, "", 1),
            range_words(point.year.months_overtight, "", 1),
            range_words(point.year.peak_load_n_m, "N/m"),
            range_words(point.year.peak_load_pct, "%"),
            range_words(point.damp.months_slack, "", 1),
            range_words(point.damp.months_overtight, "", 1),
            range_words(point.damp.peak_load_pct, "%"),
            percent(point.p_best),
        )
        for point in curve.points
    ]
    return Table(
        headings, rows, _("The year, by humidity at mounting; ranges 5–95 %"), tuple(range(1, 9))
    )


def sealing_table(found: SealingComparison) -> Table:
    """Return the builds compared."""
    headings = (
        _("Frame"),
        _("Half-time"),
        _("RH in the frame"),
        _("Months slack"),
        _("Overtight"),
        _("Look first"),
    )
    rows = [
        (
            build_words(build),
            _duration(build.half_time_h),
            range_words(build.frame_rh_pct, "%RH"),
            range_words(build.year.months_slack, "", 1),
            range_words(build.year.months_overtight, "", 1),
            with_unit(100.0 * build.year.look_first.share, "%"),
        )
        for build in found.builds
    ]
    return Table(headings, rows, _("The last year, in each build"), (1, 2, 3, 4, 5))


def _duration(hours: Range) -> str:
    ends = joined(duration(hours.low), duration(hours.high))
    return f"{duration(hours.mid)} ({ends})"


def clearance_table(found: Clearance) -> Table:
    """Return the clearance sum, term by term."""
    terms = (
        (_("Spacer"), found.spacer_mm),
        (_("less waves, at the worst hour of the year"), found.wave_mm),
        (_("less bow of the glazing"), found.glazing_bow_mm),
        (_("less bow of the panel"), found.panel_bow_mm),
        (_("Clearance"), found.clearance_mm),
        (_("Depth needed for the clearance agreed"), found.needed_mm),
    )
    rows = [
        (name, _("not known") if value is None else range_words(value, "mm", 1))
        for name, value in terms
    ]
    agreed = with_unit(found.agreed_minimum_mm, "mm", 1)
    return Table((_("Term"), "5–95 %"), [*rows, (_("Agreed least clearance"), agreed)],
                 _("The clearance sum"), (1,))  # fmt: skip


def schedule_table(years: Sequence[ScheduleYear]) -> Table:
    """Return a year as it was and under each schedule."""
    headings = (_("Set points"), _("A day in the room"), _("A day in the frame"), _("Months slack"),
                _("Overtight"), _("Look first"))  # fmt: skip
    rows = [
        (
            schedule_words(year.schedule),
            with_unit(year.room_swing_pct, "%RH", 1),
            with_unit(year.frame_swing_pct, "%RH", 1),
            range_words(year.year.months_slack, "", 1),
            range_words(year.year.months_overtight, "", 1),
            with_unit(100.0 * year.year.look_first.share, "%"),
        )
        for year in years
    ]
    return Table(headings, rows, _("The last year, as it was and under the schedule"),
                 (1, 2, 3, 4, 5))  # fmt: skip


def table_lines(table: Table) -> list[str]:
    """Return a table as lines of text: the first cell, then each figure with its heading."""
    return [
        f"{row[0]}: " + ", ".join(
            cell if len(row) == 2 else f"{heading.lower()} {cell}"
            for heading, cell in zip(table.headings[1:], row[1:], strict=True)
        )
        for row in table.rows
    ]  # fmt: skip
