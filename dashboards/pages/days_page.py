"""The page of a room's days to come: question, answer, picture, works, and what it rests on."""

from collections.abc import Mapping, Sequence
from datetime import datetime

import numpy as np
import pandas as pd

from analysis.forecast.room_ahead import RoomAhead
from analysis.forecast.work_ahead import WorkAhead
from dashboards import links
from dashboards.charts.days_ahead import days_figure
from dashboards.charts.style import inline_svg
from dashboards.lines import FormField, Table
from dashboards.pages.page import PlanPage
from dashboards.text import wording

WORTH_SAYING = 0.02


def days_page(
    room_name: str,
    ahead: RoomAhead,
    usual: RoomAhead,
    works: Mapping[str, tuple[str, WorkAhead]],
    form: Sequence[FormField],
    *,
    zone: str,
    record_days: float,
    issued: datetime | None,
    what_if: str = "",
) -> PlanPage:
    """Return the page of a room's next days; ``what_if`` says what is changed, or is empty."""
    answer = _answer(room_name, ahead, works, what_if)
    picture, narrow = (days_figure(ahead, usual, zone, narrow=phone) for phone in (False, True))
    return PlanPage(
        question=f"What will the next days do to {room_name}?",
        answer=answer,
        form=form,
        picture=inline_svg(picture, answer),
        picture_narrow=inline_svg(narrow, answer),
        picture_words="Ribbon: what is expected to hold the air in nine cases of ten.",
        reasons=[_basis(issued, zone), *_each_work(works, zone)],
        table=_table(ahead, zone),
        assumed=_assumed(record_days, ahead is usual),
        upload=links.plan("days-forecast"),
    )


def _answer(
    room_name: str, ahead: RoomAhead, works: Mapping[str, tuple[str, WorkAhead]], what_if: str
) -> str:
    low, high = float(ahead.rh_low_pct.min()), float(ahead.rh_high_pct.max())
    changed = f"{wording.capital(what_if)}, " if what_if else ""
    air = f"{changed}{room_name} is likely to stay at {wording.span(low, high, '%RH')}"
    shown = [title for title, work in works.values() if work.p_worst > 0.5]
    if not works:
        return f"{air}; no work there can be told of."
    if not shown:
        return f"{air}, and waves are not likely to show on any of its works."
    return f"{air}; waves are more likely than not to show on {wording.listed(shown)}."


def _basis(issued: datetime | None, zone: str) -> str:
    if issued is None:
        return "There is no forecast: this is what an ordinary week of this season would do."
    return f"By the forecast of outdoor air issued {wording.date_time(issued, zone)}."


def _each_work(works: Mapping[str, tuple[str, WorkAhead]], zone: str) -> list[str]:
    said = []
    for title, work in sorted(works.values(), key=lambda one: -np.nan_to_num(one[1].p_worst)):
        if work.worst_utc is None:
            said.append(f"{title}: cannot tell.")
        elif work.p_worst < WORTH_SAYING:
            said.append(f"{title}: waves are hardly to be expected.")
        else:
            when = pd.Timestamp(work.worst_utc).tz_localize("UTC").to_pydatetime()
            chance = wording.percent(work.p_worst)
            at = wording.day_time(when, zone)
            said.append(f"{title}: likeliest to show waves {at} ({chance}).")
    return said


def _table(ahead: RoomAhead, zone: str) -> Table:
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
    headings = ("Day", "Humidity, mean", "Humidity, 5–95 %", "Temperature, 5–95 %")
    return Table(headings, rows, "The room's next days", (1, 2, 3))


def _assumed(record_days: float, as_now: bool) -> list[str]:
    lines = [
        f"How the room follows outdoor air was learned from {wording.number(record_days)} days "
        "of its own record; the ribbon holds the errors it made on days that it had not seen.",
        "Plant, doors and visitors go on as they did in the record.",
    ]
    if not as_now:
        lines.append(
            "What is changed was not learned: its pace is assumed, from slow to fast, and the "
            "ribbon holds both. Plant and its controls are the engineer's."
        )
    return lines
