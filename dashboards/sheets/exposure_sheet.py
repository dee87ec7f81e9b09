"""What a work has been exposed to, month by month, wherever it hung."""

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from analysis.results import History
from analysis.works import Work
from dashboards.lines import Table
from dashboards.look_lines import InspectionLine
from dashboards.sheets.typesetting import Sheet
from dashboards.text import wording
from dashboards.text.dates import month_of
from dashboards.text.messages import _
from dashboards.text.sentences import CAUTION

LIKELY = 0.5


def exposure_table(
    history: History | None,
    looks: Sequence[InspectionLine],
    zone: str,
    rooms: dict[tuple[int, int], str],
) -> Table:
    """Return one row a month: where, how much is told, frame and print, chances, what was seen."""
    headings = (
        _("Month"), _("Where"), _("Told, h"), _("RH in the frame, %"), _("RH at the print, %"),
        _("Slack likelier than not, h"), _("Waves likelier than not, h"), _("Looks"),
    )  # fmt: skip
    rows = [] if history is None else list(_months(history, looks, zone, rooms))
    return Table(headings=headings, rows=rows, figures=(2, 3, 4, 5, 6))


def _months(
    history: History, looks: Sequence[InspectionLine], zone: str, rooms: dict[tuple[int, int], str]
) -> Iterator[tuple[str, ...]]:
    times = pd.DatetimeIndex(history.time_utc).tz_localize("UTC").tz_convert(ZoneInfo(zone))
    years, months = np.asarray(times.year), np.asarray(times.month)
    for year, number in dict.fromkeys(zip(years.tolist(), months.tolist(), strict=True)):
        within = (years == year) & (months == number)
        here = within & (history.refused == "") & np.isfinite(history.p_slack)
        seen = [
            f"{wording.number(one.grade)} ({wording.day_only(one.at_utc, zone)})"
            for one in looks
            if month_of(one.at_utc, zone) == (year, number)
        ]
        yield (
            wording.month_year(date(year, number, 1)),
            rooms.get((year, number), ""),
            wording.number(int(here.sum())),
            _ends(history.frame_rh_pct[here]),
            _ends(history.print_rh_pct[here]),
            wording.number(int((history.p_slack[here] > LIKELY).sum())),
            wording.number(int((history.p_visible[here] > LIKELY).sum())),
            "; ".join(seen) or "–",
        )


def _ends(values: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> str:
    """Return the lowest 5 % and highest 95 % point of the hours of a month."""
    if not np.isfinite(values).any():
        return "–"
    return wording.joined(
        wording.number(float(np.nanmin(values[:, 0]))),
        wording.number(float(np.nanmax(values[:, 2]))),
    )


def exposure_answer(history: History | None) -> str:
    """Return in a sentence or two what the hours of a work come to."""
    told = np.zeros(0, dtype=np.bool_)
    if history is not None:
        told = (history.refused == "") & np.isfinite(history.p_slack)
    if history is None or not told.any():
        return _("Of none of its hours anything can be told: no readings, or too little is known.")
    said = _(
        "Over {told} h the print was probably at {ends} %RH: for {slack} h it was likelier "
        "slack than not, for {waves} h waves were likelier than not.",
        told=wording.number(int(told.sum())),
        ends=_ends(history.print_rh_pct[told]),
        slack=wording.number(int((history.p_slack[told] > LIKELY).sum())),
        waves=wording.number(int((history.p_visible[told] > LIKELY).sum())),
    )
    untold = len(told) - int(told.sum())
    more = _("Of {hours} nothing can be told.", hours=f"{wording.number(untold)} h")
    return f"{said} {more}" if untold else said


def exposure_sheet(work: Work, table: Table, answer: str, house: str, made: str) -> Sheet:
    """Return the history of a work's exposure as a sheet."""
    facts = {
        "title": _("What has “{title}” been exposed to?", title=work.title),
        "house": house,
        "number": work.work_id,
        "answer": answer,
        "table": asdict(table),
        "basis": _(
            "Hours by local month. RH: lowest 5 % and highest 95 % point of the estimate within "
            "the month. A month without figures was not measured, or nothing can be told of it."
        ),
        "caution": _(CAUTION),
        "made": made,
    }
    return Sheet("exposure", facts, {})
