"""What was said of a room's works at an hour, kept on disk for the next process that asks.

It holds while the room, its works and all rooms they hung in are as they were (by the numbers of
`service.storage.versions`), and the program is the same to the letter. After an older register was
put back the numbers are given out again: so the change that was newest before must still be on
record. What would not be read back as it was written is not kept.
"""

import json
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import fields, is_dataclass, replace
from datetime import UTC, datetime
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
from pydantic import TypeAdapter

from analysis.results import HISTORY_ARRAYS, History, Judgement, SlackCause
from service.errors import StoreError
from service.estimates.assessments import Assessed
from service.estimates.fingerprints import calculation
from service.storage import audit
from service.storage.results import Result

if TYPE_CHECKING:
    from service.answers.museum import Museum

NOW = "now"
MOST_WORKS = 100  # of a room: the hours of more would be tens of megabytes
KEEP_WEEKS = 8  # of each room, the latest
Made = Callable[[], Sequence[Assessed]]


def kept_answers(
    museum: "Museum", room_id: str, at_utc: datetime, make: Made, week: str = NOW
) -> tuple[Assessed, ...]:
    """Return what is said of a room's works at an hour, from disk where it still holds.

    None has draws or air; of a ``week`` each has its hours, of `NOW` the judgement alone.
    """
    results, name = museum.stores.results, f"answers/{room_id}/{week}"
    rests_on = _rests_on(museum, room_id, at_utc)
    kept = results.load(name, rests_on)
    if kept is not None and on_record(museum, kept.facts["after"]):
        return tuple(_read(kept))
    after = newest_change(museum)
    found = tuple(_told(one, hours=week != NOW) for one in make())
    with museum.stores.register.one_moment():  # as it is now, not as it was for who asks
        still = _rests_on(museum, room_id, at_utc) == rests_on
    if still and _may_be_kept(found):
        written = _written(found, after)
        read = tuple(_read(written))
        if _same(read, found):
            with suppress(StoreError):  # what cannot be kept is told all the same
                results.save(name, rests_on, written)
                _forget_older(museum, room_id, week)
                return read  # as any other process has it
    return found


def newest_change(museum: "Museum") -> list[Any]:
    """Return the number of the newest change to register or readings, and when it was written."""
    register = museum.stores.register
    number = audit.version(register)
    return [number, str(audit.written_utc(register, number))]


def on_record(museum: "Museum", change: Sequence[Any]) -> bool:
    """Return whether a change is still on record."""
    number, written = change
    return str(audit.written_utc(museum.stores.register, number)) == str(written)


def _may_be_kept(found: Sequence[Assessed]) -> bool:
    """Return whether answers are worth keeping; a work that failed is tried again."""
    return 0 < len(found) <= MOST_WORKS and not any(one.judgement.impossible for one in found)


def _rests_on(museum: "Museum", room_id: str, at_utc: datetime) -> str:
    """Return all that an answer rests on, as a text."""
    rooms, works = museum.concerned(room_id, at_utc)
    stamp = museum.versions().stamp(rooms=rooms, works=works)
    present = at_utc == museum.now()
    program = sorted(calculation().items())
    return json.dumps([at_utc.isoformat(), present, museum.settings.draws, stamp, program])


def _told(one: Assessed, *, hours: bool) -> Assessed:
    """Return what is told of a work, without what it was worked out with."""
    return Assessed(
        work=one.work,
        room_id=one.room_id,
        judgement=one.judgement,
        history=one.history if hours else None,
        last=one.last,
        known_until_utc=one.known_until_utc,
    )


def _forget_older(museum: "Museum", room_id: str, week: str) -> None:
    results, folder = museum.stores.results, f"answers/{room_id}"
    weeks = sorted(set(results.names_in(folder)) - {NOW, week})
    for old in weeks[: max(0, len(weeks) + 1 - KEEP_WEEKS)]:
        results.forget(f"{folder}/{old}")


# Answers as plain values and arrays, and back.


@cache
def _judgements() -> TypeAdapter[list[Judgement | None]]:
    return TypeAdapter(list[Judgement | None])


def _written(found: Sequence[Assessed], after: Sequence[Any]) -> Result:
    """Return answers as they are kept: each judgement twice, now and at the last reading."""
    said = [judged for one in found for judged in (one.judgement, one.last)]
    works = [
        {
            "room": one.room_id,
            "until": None if one.known_until_utc is None else one.known_until_utc.isoformat(),
            "hours": None if one.history is None else _of_the_whole(one.history),
        }
        for one in found
    ]
    histories = [one.history for one in found if one.history is not None]
    arrays = {
        name: np.concatenate([getattr(one, name) for one in histories])
        for name in HISTORY_ARRAYS
        if histories
    }
    plain = _judgements().dump_python(said, mode="json")
    return Result(arrays, {"after": list(after), "said": plain, "works": works})


def _of_the_whole(history: History) -> dict[str, Any]:
    return {
        "n": len(history.time_utc),
        "causes": {str(cause): value for cause, value in history.slack_causes.items()},
        "unmeasured_years": history.unmeasured_years,
    }


def _read(kept: Result) -> Iterator[Assessed]:
    """Yield the answers of a result."""
    said = _as_written(_judgements().validate_python(kept.facts["said"]))
    passed = 0
    for facts, judgement, last in zip(kept.facts["works"], said[::2], said[1::2], strict=True):
        hours, history = facts["hours"], None
        if hours is not None:
            rows = slice(passed, passed + hours["n"])
            history = _history(judgement.work_id, hours, kept.arrays, rows)
            passed = rows.stop
        until = facts["until"]
        yield Assessed(
            work=judgement.work,
            room_id=facts["room"],
            judgement=judgement,
            history=history,
            last=last,
            known_until_utc=None if until is None else datetime.fromisoformat(until),
        )


def _history(
    work_id: str, hours: Mapping[str, Any], arrays: Mapping[str, Any], rows: slice
) -> History:
    return History(
        work_id=work_id,
        **{name: arrays[name][rows] for name in HISTORY_ARRAYS},
        slack_causes={SlackCause(cause): value for cause, value in hours["causes"].items()},
        unmeasured_years=hours["unmeasured_years"],
    )


def _as_written(value: Any) -> Any:
    """Return a value with the zone of each time, and each number that is none, as written here."""
    if isinstance(value, datetime):
        return value.astimezone(UTC)
    if isinstance(value, float) and math.isnan(value):
        return math.nan  # the one, so that answers that are the same are equal
    if isinstance(value, list | tuple):
        return type(value)(_as_written(one) for one in value)
    if isinstance(value, dict):
        return {name: _as_written(one) for name, one in value.items()}
    if is_dataclass(value) and not isinstance(value, type):
        return replace(
            value, **{f.name: _as_written(getattr(value, f.name)) for f in fields(value)}
        )
    return value


def _same(one: Any, other: Any) -> bool:
    """Return whether two values are the same to the letter, in whatever order a set has them."""
    if isinstance(one, np.ndarray):
        return isinstance(other, np.ndarray) and _plain_array(one) == _plain_array(other)
    if isinstance(one, Mapping):
        return list(one) == list(other) and _same([*one.values()], [*other.values()])
    if isinstance(one, list | tuple):
        both = type(one) is type(other) and len(one) == len(other)
        return both and all(map(_same, one, other))
    if is_dataclass(one):
        if type(one) is not type(other):
            return False
        return all(_same(getattr(one, f.name), getattr(other, f.name)) for f in fields(one))
    return type(one) is type(other) and (one == other or repr(one) == repr(other))


def _plain_array(array: npt.NDArray[Any]) -> object:
    return array.tolist() if array.dtype.kind == "U" else (array.dtype, array.tobytes())
