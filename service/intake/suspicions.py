"""What looks wrong about a file before anything of it is stored; said, and asked about."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import pandas as pd

from dashboards.text import wording
from dashboards.text.messages import _
from service.ingest.long.spilled import pieces_of
from service.storage.months import CHANNELS, SAME_WITHIN, Rows, merge_rows
from service.storage.readings import rows_of
from service.storage.spans import spans
from service.storage.stores import Stores
from service.storage.uploads import UploadState, uploads

# Above this a gallery's air is hardly what was measured. Common practice, no source.
HOT_C = 40.0
# A file for a logger seldom begins so long before all that is known of it.
LONG_BEFORE = timedelta(days=730)
AHEAD = timedelta(hours=1)
# So many equal values, to the last digit, are no chance.
ALIKE = 0.9
LEAST_ROWS = 12
PRESENT = (UploadState.RECEIVED, UploadState.STORED)


@dataclass(frozen=True)
class Doubt:
    """Something that looks wrong. ``asked``: nothing is stored until a person has said yes."""

    words: str
    asked: bool = True


@dataclass(frozen=True)
class Overlap:
    """How a file's readings meet those that a logger has already, in rows."""

    rows: int
    same: int
    conflicts: int

    @property
    def nothing_new(self) -> bool:
        """Whether every row is there already, with the same values."""
        return 0 < self.rows == self.same


def overlap(stores: Stores, logger_id: str, frame: pd.DataFrame) -> Overlap:
    """Return what a merge of readings into those of a logger would find; nothing is merged."""
    if not len(frame):
        return Overlap(0, 0, 0)
    there = _stored_rows(stores, logger_id, frame)
    report = merge_rows(there, rows_of(frame, logger_id))[1] if len(there) else None
    same, clash = (report.same, report.conflict_count) if report else (0, 0)
    return Overlap(len(frame), same, clash)


def known_already(stores: Stores, frames: Mapping[str, pd.DataFrame]) -> tuple[int, int]:
    """Return how many readings their logger has a value for already, and how many are new."""
    met = [overlap(stores, name, f) for name in frames for f in pieces_of(frames, name)]
    known = sum(one.same + one.conflicts for one in met)
    return known, sum(one.rows for one in met) - known


def doubts(
    stores: Stores,
    frames: Mapping[str, pd.DataFrame],
    *,
    sha256: str,
    now_utc: datetime,
    zone: str,
    compared: bool = True,
) -> tuple[Doubt, ...]:
    """Return what looks wrong, the gravest first.

    Parameters
    ----------
    frames : mapping of str to pandas.DataFrame
        Logger → the readings that would be merged into its own.
    sha256 : str
        Hash of the file's bytes.
    compared : bool
        Whether the file is held against what is stored already.
    """
    loggers = set(frames)
    found = [*_same_bytes(stores, sha256, loggers, zone)] if compared else []
    for logger_id in frames:
        kinds: dict[str, Doubt] = {}
        for frame in pieces_of(frames, logger_id):
            if not len(frame):
                continue
            some = [*_of_times(stores, logger_id, frame, now_utc, zone)]
            some += _of_values(logger_id, frame)
            if compared:
                some += _of_others(stores, logger_id, frame, loggers)
                some += _of_own(stores, logger_id, frame)
            for doubt in some:
                # Of a long file, looked at some months at a time, each doubt is told once.
                kinds.setdefault(_kind(doubt, logger_id), doubt)
        found += kinds.values()
    return tuple(sorted(found, key=lambda doubt: not doubt.asked))


def _kind(doubt: Doubt, logger_id: str) -> str:
    """Return the words of a doubt before its first figure."""
    return re.split(r"\d", doubt.words.replace(logger_id, ""))[0]


def alike_logger(
    stores: Stores, frame: pd.DataFrame, passed_over: set[str] | frozenset[str] = frozenset()
) -> str | None:
    """Return the logger that has nearly all of these readings already, with equal values."""
    if len(frame) < LEAST_ROWS:
        return None
    month = f"{frame.index[len(frame) // 2]:%Y-%m}"
    for span in spans(stores.register):
        if span.month == month and span.rows and span.logger not in passed_over:
            part = frame.loc[pd.Timestamp(span.first_utc) : pd.Timestamp(span.last_utc)]
            if len(part) >= LEAST_ROWS and _share_alike(stores, span.logger, part) >= ALIKE:
                return span.logger
    return None


def _share_alike(stores: Stores, logger_id: str, frame: pd.DataFrame) -> float:
    """Return the share of readings that a logger has at the same time with equal values."""
    there = _stored_rows(stores, logger_id, frame)
    wanted = rows_of(frame, logger_id)
    if not len(there):
        return 0.0
    place = np.minimum(np.searchsorted(there.time_ms, wanted.time_ms), len(there) - 1)
    equal = there.time_ms[place] == wanted.time_ms
    for channel in CHANNELS:
        ours, theirs = getattr(there, channel)[place], getattr(wanted, channel)
        equal &= (np.abs(ours - theirs) <= SAME_WITHIN) | np.isnan(theirs)
    return float(equal.mean())


def _stored_rows(stores: Stores, logger_id: str, frame: pd.DataFrame) -> Rows:
    first, last = frame.index[0], frame.index[-1] + pd.Timedelta(milliseconds=1)
    return rows_of(stores.readings.load(logger_id, first, last), logger_id)


def _same_bytes(stores: Stores, sha256: str, loggers: set[str], zone: str) -> Iterator[Doubt]:
    for one in uploads(stores.register, sha256=sha256, states=PRESENT):
        at = wording.day(one.received_utc, zone)
        if one.logger not in loggers:
            yield Doubt(_("The same file came in for {logger} on {at}.", logger=one.logger, at=at))


def _of_times(
    stores: Stores, logger_id: str, frame: pd.DataFrame, now_utc: datetime, zone: str
) -> Iterator[Doubt]:
    first, last = frame.index[0].to_pydatetime(), frame.index[-1].to_pydatetime()
    if last > now_utc + AHEAD:
        yield Doubt(
            _(
                "Its last reading is dated {last}, in the future. If it is a forecast, "
                "choose that in place of a logger.",
                last=wording.date_time(last, zone),
            )
        )
    known = stores.readings.span(logger_id)
    if known is not None and first < known[0] - LONG_BEFORE:
        yield Doubt(
            _(
                "It begins on {first}, years before the rest of {logger_id} ({known}).",
                first=wording.day(first, zone),
                logger_id=logger_id,
                known=wording.day(known[0], zone),
            )
        )


def _of_values(logger_id: str, frame: pd.DataFrame) -> Iterator[Doubt]:
    temp, rh = frame["temp_c"].dropna(), frame["rh_pct"].dropna()
    if len(temp) and float(temp.max()) > HOT_C:
        hottest = wording.number(float(temp.max()), 1)
        yield Doubt(
            _(
                "{logger_id}: temperature reaches {hottest} °C. Is the unit right?",
                logger_id=logger_id,
                hottest=hottest,
            )
        )
    if len(temp) and len(rh) and _swapped(float(temp.median()), float(rh.median())):
        yield Doubt(_("{logger_id}: temperature and humidity look exchanged.", logger_id=logger_id))
    both = frame.dropna(subset=["temp_c", "rh_pct"])
    if len(both) >= LEAST_ROWS and np.array_equal(both["temp_c"], both["rh_pct"]):
        yield Doubt(
            _(
                "{logger_id}: temperature and humidity are the same number in every row.",
                logger_id=logger_id,
            )
        )
    doubted = int((frame["flags"] != 0).sum())
    if doubted:
        words = wording.plural(doubted, "reading")
        yield Doubt(
            _("{logger_id}: {words} in doubt, kept and marked.", logger_id=logger_id, words=words),
            asked=False,
        )


def _swapped(temp_c: float, rh_pct: float) -> bool:
    """Whether the usual values would suit a gallery the other way round."""
    return temp_c >= 30.0 and 10.0 <= rh_pct <= 28.0


def _of_others(
    stores: Stores, logger_id: str, frame: pd.DataFrame, loggers: set[str]
) -> Iterator[Doubt]:
    other = alike_logger(stores, frame, loggers)
    if other is not None:
        yield Doubt(
            _(
                "{other} has nearly the same readings at the same times as {logger_id} here.",
                other=other,
                logger_id=logger_id,
            )
        )


def _of_own(stores: Stores, logger_id: str, frame: pd.DataFrame) -> Iterator[Doubt]:
    found = overlap(stores, logger_id, frame)
    clash = wording.number(found.conflicts)
    if found.conflicts and 2 * found.conflicts >= found.rows:
        yield Doubt(
            _(
                "{logger_id} has another value for {clash} of {rows} readings. The first "
                "value stays; is this the right logger and the right clock?",
                logger_id=logger_id,
                clash=clash,
                rows=wording.number(found.rows),
            )
        )
    elif found.conflicts:
        yield Doubt(
            _(
                "{logger_id} has another value for {clash} readings; it stays.",
                logger_id=logger_id,
                clash=clash,
            ),
            asked=False,
        )
    if found.nothing_new:
        yield Doubt(
            _("{logger_id} has all of these readings already.", logger_id=logger_id), asked=False
        )
