"""The days to come of a room and of its works, in sentences."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

import numpy as np
import pandas as pd

from analysis.forecast.room_ahead import RoomAhead
from analysis.forecast.work_ahead import WorkAhead
from dashboards.file_lines import Receipt
from dashboards.text import wording
from dashboards.text.messages import _

WORTH_SAYING = 0.02
NOT_OF_NOW = timedelta(hours=3)


def days_answer(
    room_name: str, ahead: RoomAhead, works: Mapping[str, tuple[str, WorkAhead]], what_if: str
) -> str:
    """Return what a room's next days will do to it and to its works, in one sentence."""
    low, high = float(ahead.rh_low_pct.min()), float(ahead.rh_high_pct.max())
    changed = f"{wording.capital(what_if)}, " if what_if else ""
    air = _(
        "{changed}{room_name} is likely to stay at {low}",
        changed=changed,
        room_name=room_name,
        low=wording.span(low, high, "%RH"),
    )
    shown = [title for title, work in works.values() if work.p_worst > 0.5]
    if not works:
        return _("{air}; no work there can be told of.", air=air)
    if not shown:
        return _("{air}, and waves are not likely to show on any of its works.", air=air)
    return _(
        "{air}; waves are more likely than not to show on {shown}.",
        air=air,
        shown=wording.listed(shown),
    )


def basis(
    issued: datetime | None,
    from_utc: datetime,
    now_utc: datetime,
    zone: str,
    outdoors_until: datetime | None = None,
) -> list[str]:
    """Return what the days rest on, and where they begin if that is not the present.

    ``outdoors_until`` is when outdoors was last read, where something else stands in since then.
    """
    said = (
        _("There is no forecast: this is what an ordinary week of this season would do.")
        if issued is None
        else _("By the forecast of outdoor air made {time}.", time=wording.date_time(issued, zone))
    )
    known = [said]
    if outdoors_until is not None:
        known.append(
            _(
                "The air outdoors was last read {time}. Since then what it usually does at this "
                "time of the year stands in, and the band is wider for it.",
                time=wording.date_time(outdoors_until, zone),
            )
        )
    if now_utc - from_utc <= NOT_OF_NOW:
        return known
    if outdoors_until is not None:
        begin = _(
            "The days begin with the room’s last reading, {time}.",
            time=wording.date_time(from_utc, zone),
        )
        return [*known, begin]
    begin = _(
        "The days begin with the last hour at which both the room and the air outdoors were "
        "measured, {time}.",
        time=wording.date_time(from_utc, zone),
    )
    return [*known, begin]


def forecast_kept(receipt: Receipt, zone: str) -> str:
    """Return what became of a file that was brought in as a forecast."""
    return _(
        "{times} of outdoor air to come, from {first} to {last}; made {made}. It is kept apart; "
        "none of it became a reading.",
        times=wording.capital(wording.plural(receipt.new, "time")),
        **{
            name: "" if time is None else wording.date_time(time, zone)
            for name, time in (
                ("first", receipt.first_utc),
                ("last", receipt.last_utc),
                ("made", receipt.forecast_utc),
            )
        },
    )


def foretold_sentence(
    works: Sequence[tuple[str, str, datetime]], issued: datetime, now_utc: datetime, zone: str
) -> str:
    """Return on which works waves will be likelier than not, as (title, room, hour), first first.

    Empty where there are none.
    """
    if not works:
        return ""
    each = [
        _("{title} ({room}) from {time}", title=title, room=room, time=_at(at, now_utc, zone))
        for title, room, at in sorted(works, key=lambda one: one[2])
    ]
    return _(
        "By the forecast made {made}, waves are more likely than not to show on {works}.",
        made=wording.date_time(issued, zone),
        works=wording.listed(each),
    )


def _at(time_utc: datetime, now_utc: datetime, zone: str) -> str:
    if time_utc - now_utc > timedelta(days=6):
        return wording.date_time(time_utc, zone)
    return wording.day_time(time_utc, zone)


def each_work(works: Mapping[str, tuple[str, WorkAhead]], zone: str) -> list[str]:
    """Return a sentence for each work, the likeliest to show waves first."""
    said = []
    for title, work in sorted(works.values(), key=lambda one: -np.nan_to_num(one[1].p_worst)):
        if work.worst_utc is None:
            said.append(_("{title}: cannot tell.", title=title))
        elif work.p_worst < WORTH_SAYING:
            said.append(_("{title}: waves are hardly to be expected.", title=title))
        else:
            when = pd.Timestamp(work.worst_utc).tz_localize("UTC").to_pydatetime()
            chance = wording.percent(work.p_worst)
            at = wording.day_time(when, zone)
            said.append(
                _(
                    "{title}: likeliest to show waves {at} ({chance}).",
                    title=title,
                    at=at,
                    chance=chance,
                )
            )
    return said


def assumed(record_days: float, as_now: bool) -> list[str]:
    """Return what is taken for granted."""
    lines = [
        _(
            "How the room follows outdoor air was learned from {record_days} days of its own "
            "record; the ribbon holds the errors it made on days that it had not seen.",
            record_days=wording.number(record_days),
        ),
        _("Plant, doors and visitors go on as they did in the record."),
    ]
    if not as_now:
        lines.append(
            _(
                "What is changed was not learned: its pace is assumed, from slow to fast, and the "
                "ribbon holds both. Plant and its controls are the engineer's."
            )
        )
    return lines
