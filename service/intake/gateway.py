"""Readings that gateways send by themselves, batch by batch, through the same reading and store."""

import contextlib
import threading
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import partial
from typing import Any

import numpy as np
import pandas as pd

from analysis.errors import StilltautError
from service.answers.museum import Museum
from service.errors import Answer, NotUnderstoodError, QuestionError
from service.ingest.choice import Choice
from service.ingest.files.opened import PART, files_in
from service.ingest.files.packed import Member, is_archive
from service.ingest.read import FileReading
from service.intake.arrivals import Asked, by_logger
from service.intake.receipts import Outcome, UploadReceipt
from service.intake.suspicions import doubts
from service.intake.taking_in import remembered_choice, remembered_sensors, take_in
from service.storage.loggers import logger_named
from service.storage.originals import sha256_of
from service.storage.register import Register
from service.storage.stores import Stores
from service.storage.tokens import Token, let_in

MOST_BYTES = 4 * 1024 * 1024


AT_ONCE = 4
ENDINGS = {"application/json": "json", "application/x-ndjson": "json", "text/csv": "csv"}


class BusyError(StilltautError):
    """More comes in than can be taken; the sender is to wait and send the same again.

    ``too_many`` tells that it is the sender who sends too often.
    """

    def __init__(self, *, found: str, after_s: float, too_many: bool = False) -> None:
        self.after_s, self.too_many = after_s, too_many
        super().__init__(
            read="batch",
            where="",
            found=found,
            expected="a sender that waits",
            action=f"Send the same batch again in {max(1, round(after_s))} seconds.",
        )


@dataclass
class Gate:
    """Lets in so many batches at once to one process, and so many an hour under each token."""

    at_once: int = AT_ONCE
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _inside: int = 0

    @contextlib.contextmanager
    def entered(
        self, register: Register, token: Token, now: datetime | None = None
    ) -> Iterator[None]:
        """Let a batch in while the block runs.

        Raises
        ------
        BusyError
            With the time to wait: too many at once, or under the token within an hour.
        """
        with self._lock:
            if self._inside >= self.at_once:
                raise BusyError(found=f"{self._inside} batches in hand already", after_s=2.0)
            self._inside += 1
        try:
            wait_s = let_in(register, token.number, now)
            if wait_s:
                words = f"more than {token.per_hour} batches within an hour"
                raise BusyError(found=words, after_s=wait_s, too_many=True)
            yield
        finally:
            with self._lock:
                self._inside -= 1


def take_batch(museum: Museum, token: Token, data: bytes, kind: str) -> UploadReceipt:
    """Take a batch in for the logger of a token; once this returns it is stored for good.

    The same readings again, in the same batch or another, change nothing.

    Raises
    ------
    StilltautError
        If it is not understood, or holds what a person should look at first; nothing is stored.
    """
    register, logger_id = museum.stores.register, token.logger
    known = logger_named(register, logger_id)
    sha256 = sha256_of(data)

    def look(reading: FileReading) -> None:
        frames = by_logger(reading, logger_id, {})
        if set(frames) != {logger_id}:
            raise _too_many(reading)
        found = doubts(
            museum.stores,
            frames,
            sha256=sha256,
            now_utc=museum.clock(),
            zone=museum.zone,
            compared=False,  # of two values for one time the first stays, as with every file
        )
        asked = [doubt.words for doubt in found if doubt.asked]
        if asked:
            raise _doubtful(reading, asked)

    return take_in(
        museum.stores,
        data,
        name=f"{logger_id} {sha256[:12]}.{ENDINGS[kind]}",
        logger_id=logger_id,
        choice=Choice(zone=known.zone if known and known.zone else None),
        sensors={},
        by=f"gateway, token {token.number}",
        remember=False,
        on_read=look,
    )


def answer_json(taken: UploadReceipt) -> Mapping[str, Any]:
    """Return what a gateway is told of a batch that is stored."""
    again = taken.outcome is Outcome.ALREADY_THERE
    return {
        "upload": taken.upload,
        "rows": taken.rows,
        "added": 0 if again else taken.added + taken.filled,
        "same": taken.rows if again else taken.same,
        "conflicts": 0 if again else taken.conflicts,
    }


def _too_many(reading: FileReading) -> QuestionError:
    return QuestionError(
        read=reading.understanding.file,
        where="sensors",
        found=", ".join(map(repr, reading.sensors)),
        expected="readings of the one logger that the token is for",
        action="Send each logger's readings under its own token.",
    )


def _doubtful(reading: FileReading, asked: list[str]) -> QuestionError:
    return QuestionError(
        read=reading.understanding.file,
        where="readings",
        found=" ".join(asked),
        expected="readings that nobody needs to look at first",
        action="Check the gateway's clock and units; bring such readings in as a file.",
    )


# An archive that another program sends for one logger: each file in it is an upload of its own.

Frames = Mapping[str, pd.DataFrame]


@dataclass(frozen=True)
class TakenFiles:
    """What became of the files that came at once: a receipt each, and those without readings."""

    receipts: tuple[UploadReceipt, ...]
    left_aside: tuple[str, ...] = ()


def take_in_all(
    stores: Stores, data: bytes, *, name: str, logger_id: str, zone: str | None, part: str, by: str
) -> TakenFiles:
    """Take in a file, or each file with readings in an archive, for one logger.

    All are read before anything is stored. Files that give one time two values are of different
    sensors: then one must be named.

    Parameters
    ----------
    part : str
        The file in the archive that is meant, or the sheet of a workbook; "" for all.

    Raises
    ------
    StilltautError
        If none can be read, or a question is open; nothing is stored then, but what was received.
    """
    keep = partial(take_in, logger_id=logger_id, zone=zone, by=by, keep_unread=True)
    if part or not is_archive(data):
        columns = {PART: part} if part else None
        return TakenFiles((keep(stores, data, name=name, columns=columns),))
    stores.originals.keep(data)
    asked = _asked(stores, logger_id, zone)
    read: list[tuple[Member, Frames]] = []
    problems: list[NotUnderstoodError] = []
    for member in files_in(name, data):
        try:
            reading = asked.read(member.name, member.data)
        except NotUnderstoodError as problem:
            problems.append(problem)
            continue
        read.append((member, by_logger(reading, logger_id, asked.sensors)))
    if not read:
        raise problems[0]
    _require_one_sensor(name, read)
    receipts = tuple(keep(stores, one.data, name=one.name) for one, _ in read)
    return TakenFiles(receipts, tuple(problem.read for problem in problems))


def _asked(stores: Stores, logger_id: str, zone: str | None) -> Asked:
    choice: Choice | None = remembered_choice(stores, logger_id)
    return Asked(zone, choice=choice, sensors=remembered_sensors(stores, logger_id) or {})


def _require_one_sensor(name: str, read: Sequence[tuple[Member, Frames]]) -> None:
    """Raise if two files of an archive cannot both be of the logger they are sent for."""
    for place, (member, frames) in enumerate(read):
        for other, others in read[:place]:
            if any(_apart(frames[key], others[key]) for key in set(frames) & set(others)):
                raise _which(name, [one for one, _ in read], member, other)


def _apart(one: pd.DataFrame, other: pd.DataFrame) -> bool:
    """Return whether two records run side by side with other times, or with other values."""
    if not len(one) or not len(other):
        return False
    if one.index[-1] < other.index[0] or other.index[-1] < one.index[0]:
        return False
    both = one.index.intersection(other.index)
    if not len(both):
        return True
    pairs = ((one.loc[both, c].to_numpy(), other.loc[both, c].to_numpy()) for c in MEASURED)
    return any(bool(np.any((a != b) & np.isfinite(a) & np.isfinite(b))) for a, b in pairs)


MEASURED = ("temp_c", "rh_pct")


def _which(name: str, every: Sequence[Member], one: Member, other: Member) -> QuestionError:
    names = [member.name.removeprefix(f"{name}/") for member in every]
    return QuestionError(
        read=name,
        where="the files in it",
        found=f"{one.name} and {other.name}, which run side by side and say different things",
        expected="files of one logger, one after the other",
        action="Send the files one by one, each for its logger; or name the one that is meant in "
        f"the field 'part', for example {names[0]}.",
        answers=[Answer(f"the file {text}", {PART: text}) for text in names[:20]],
    )
