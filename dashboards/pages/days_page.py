"""The page of a room's days to come: question, answer, picture, works, and what it rests on."""

from collections.abc import Mapping, Sequence
from datetime import datetime

import pandas as pd

from analysis.forecast.room_ahead import RoomAhead
from analysis.forecast.work_ahead import WorkAhead
from dashboards import links
from dashboards.charts.days_ahead import days_figure
from dashboards.charts.readout import values_script
from dashboards.charts.style import inline_svg
from dashboards.charts.week_values import ahead_line
from dashboards.lines import FormField, Table
from dashboards.pages.page import PlanPage
from dashboards.text import wording
from dashboards.text.days_text import assumed, basis, days_answer, each_work
from dashboards.text.messages import _


def days_page(
    room_name: str,
    ahead: RoomAhead,
    usual: RoomAhead,
    works: Mapping[str, tuple[str, WorkAhead]],
    form: Sequence[FormField],
    *,
    zone: str,
    record_days: float,
    from_utc: datetime,
    now_utc: datetime,
    issued: datetime | None,
    forecast: str = "",
    what_if: str = "",
    outdoors_until: datetime | None = None,
) -> PlanPage:
    """Return the page of a room's next days; ``what_if`` says what is changed, or is empty.

    ``forecast`` is the name of the forecast in use, empty where there is none.
    """
    answer = days_answer(room_name, ahead, works, what_if)
    picture, narrow = (days_figure(ahead, usual, zone, narrow=phone) for phone in (False, True))
    return PlanPage(
        question=_("What will the next days do to {room_name}?", room_name=room_name),
        answer=answer,
        form=form,
        picture=inline_svg(picture, answer),
        picture_narrow=inline_svg(narrow, answer),
        picture_words="",  # the picture carries its key
        values=values_script(ahead_line(ahead, usual, zone)),
        reasons=[*basis(issued, from_utc, now_utc, zone, outdoors_until), *each_work(works, zone)],
        table=days_table(ahead, zone),
        assumed=assumed(record_days, ahead is usual),
        forecast_wanted=True,
        take_back=links.forecast_taken_back(forecast) if forecast else "",
    )


def days_table(ahead: RoomAhead, zone: str) -> Table:
    """Return the room's next days, a row a day."""
    wall = pd.DatetimeIndex(ahead.time_utc).tz_localize("UTC").tz_convert(zone)
    frame = pd.DataFrame(
        {
            "low": ahead.rh_low_pct,
            "middle": ahead.rh_pct,
            "high": ahead.rh_high_pct,
            "cool": ahead.temp_low_c,
            "warm": ahead.temp_high_c,
        },
        index=wall.normalize(),
    )
    days = frame.groupby(level=0).agg(
        {"low": "min", "middle": "mean", "high": "max", "cool": "min", "warm": "max"}
    )
    names = [wording.day_heading(day.date()) for day in pd.DatetimeIndex(days.index)]
    figures = days.to_numpy().tolist()
    rows = [
        (
            name,
            wording.with_unit(middle, "%RH"),
            wording.span(low, high, "%RH"),
            wording.span(cool, warm, "°C"),
        )
        for name, (low, middle, high, cool, warm) in zip(names, figures, strict=True)
    ]
    headings = (_("Day"), _("Humidity, mean"), _("Humidity, 5–95 %"), _("Temperature, 5–95 %"))
    return Table(headings, rows, _("The room's next days"), (1, 2, 3))
