"""An archive that another program sends for one logger: each file in it is an upload of its own."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import pandas as pd

from service.errors import Answer, NotUnderstoodError, QuestionError
from service.ingest.choice import Choice
from service.ingest.files.opened import PART, files_in
from service.ingest.files.packed import Member, is_archive
from service.intake.arrivals import Asked, by_logger
from service.intake.receipts import UploadReceipt
from service.intake.taking_in import remembered_choice, remembered_sensors, take_in
from service.storage.stores import Stores

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
