"""A report on paper, with the air of the rooms that did not keep to their bands."""

from dataclasses import asdict

import pandas as pd
from matplotlib.figure import Figure

from analysis.air.time_weights import hourly_grid
from analysis.limits.lenders_terms import Kept
from analysis.series import readings_frame, usable
from dashboards.charts.period import period_chart, period_words
from dashboards.sheets.report_sheet import report_sheet
from dashboards.sheets.typesetting import sheet_pdf
from dashboards.text import wording
from dashboards.text.messages import _
from service.answers.museum import Museum
from service.reports.period_report import PeriodReport
from service.reports.report_words import report_words
from service.reports.room_dates import RoomDates


def report_pdf(museum: Museum, found: PeriodReport, reader: str) -> bytes:
    """Return a report as PDF, in the order of its reader."""
    words = report_words(museum, found, reader)
    drawn = [
        one for one in found.rooms if one.now.band is not None and one.now.kept is not Kept.MET
    ]
    made = _("Made {when}.", when=wording.date_time(museum.clock(), museum.zone))
    sheet = report_sheet(
        asdict(words),
        words.parts,
        {one.room.name: _air(one, found) for one in drawn if len(one.now.air.frame) > 1},
        museum.site.name,
        made,
    )
    return sheet_pdf(sheet)


def _air(one: RoomDates, found: PeriodReport) -> tuple[Figure, str]:
    frame, dates = one.now.air.frame, found.dates
    hours = {name: hourly_grid(usable(frame, name)) for name in ("temp_c", "rh_pct")}
    index = pd.DatetimeIndex(hours["rh_pct"].index.union(hours["temp_c"].index))
    hourly = readings_frame(index, **{name: mean.reindex(index) for name, mean in hours.items()})
    picture = period_chart(hourly, dates.start_utc, dates.end_utc, found.zone, one.now.band)
    return picture, period_words(frame)
