"""What is to be corrected: notices whose readings were taken back after the letter had gone."""

import math
from collections.abc import Iterable
from datetime import datetime, timedelta

from service.notices.air_back import RoomRecord
from service.notices.causes import AIR, Cause
from service.notices.rules import End, Known

# What was told longer ago than a quarter and its grace is history, and no letter corrects it.
LATELY = timedelta(days=138)


def corrections(known: Iterable[Known], record: RoomRecord, now_utc: datetime) -> list[End]:
    """Return the notices that ended or were told as past, and that no reading shows any more.

    Open ones are judged by `service.notices.rules`.

    Parameters
    ----------
    known : iterable of Known
        A room's notices.
    record : RoomRecord
        Its readings as they are now.
    now_utc : datetime
        The present.
    """
    return [
        End(one.notice_id, _withdrawn(one), one.ended_utc)
        for one in known
        if one.ended_utc is not None and _to_be_corrected(one, record, now_utc)
    ]


def _to_be_corrected(one: Known, record: RoomRecord, now_utc: datetime) -> bool:
    if one.withdrawn or one.kind not in AIR or math.isnan(one.level_rh_pct):
        return False
    if one.reported_utc is None or now_utc - one.reported_utc > LATELY:
        return False
    return not record.was_beyond(
        one.since_utc, one.level_rh_pct, rising=one.rising, until_utc=one.until_utc
    )


def _withdrawn(one: Known) -> Cause:
    return Cause(
        one.kind,
        one.room,
        one.since_utc,
        one.until_utc,
        one.shape,
        level_rh_pct=one.level_rh_pct,
        past=one.past,
        withdrawn=True,
    )
