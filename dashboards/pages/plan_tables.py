"""The figures of a plan as tables, for the pages and, line by line, for the command."""

from collections.abc import Sequence

from analysis.planning.mounting import MountingCurve
from analysis.planning.sealing import SealingComparison
from analysis.planning.seasonal import ScheduleYear
from analysis.planning.spacer import Clearance
from analysis.results import Range
from dashboards.lines import Table
from dashboards.text.plan_text import build_words, schedule_words
from dashboards.text.wording import duration, percent, range_words, with_unit


def mounting_table(curve: MountingCurve) -> Table:
    """Return months slack, months overtight and load, mounted as usual and mounted damp."""
    headings = ("Mounted at", "Months slack", "Months overtight", "Peak load", "Of capacity",
                "Damp: slack", "Damp: overtight", "Damp: of capacity",
                "Chance of best")  # fmt: skip
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
        headings, rows, "The year, by humidity at mounting; ranges 5–95 %", tuple(range(1, 9))
    )


def sealing_table(found: SealingComparison) -> Table:
    """Return the builds compared."""
    headings = ("Frame", "Half-time", "RH in the frame", "Months slack", "Overtight", "Look first")
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
    return Table(headings, rows, "The last year, in each build", (1, 2, 3, 4, 5))


def _duration(hours: Range) -> str:
    ends = f"{duration(hours.low)} to {duration(hours.high)}"
    return f"{duration(hours.mid)} ({ends})"


def clearance_table(found: Clearance) -> Table:
    """Return the clearance sum, term by term."""
    terms = (
        ("Spacer", found.spacer_mm),
        ("less waves, at the worst hour of the year", found.wave_mm),
        ("less bow of the glazing", found.glazing_bow_mm),
        ("less bow of the panel", found.panel_bow_mm),
        ("Clearance", found.clearance_mm),
        ("Depth needed for the clearance agreed", found.needed_mm),
    )
    rows = [
        (name, "not known" if value is None else range_words(value, "mm", 1))
        for name, value in terms
    ]
    agreed = with_unit(found.agreed_minimum_mm, "mm", 1)
    return Table(("Term", "5–95 %"), [*rows, ("Agreed least clearance", agreed)],
                 "The clearance sum", (1,))  # fmt: skip


def schedule_table(years: Sequence[ScheduleYear]) -> Table:
    """Return a year as it was and under each schedule."""
    headings = ("Set points", "A day in the room", "A day in the frame", "Months slack",
                "Overtight", "Look first")  # fmt: skip
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
    return Table(headings, rows, "The last year, as it was and under the schedule",
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
