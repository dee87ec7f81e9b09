"""One form of the register kept: added or corrected, looked at as a whole, or not at all."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from service.after_arrival import after_arrival
from service.jobs import Jobs
from service.museum import Museum
from service.storage.loggers import Placement, placements
from service.storage.possible import require_possible_work
from service.storage.records import values_of
from service.storage.register import Register
from service.storage.register_edits import correct_line, line_at, require_new, take_out_line
from service.storage.register_sheets import SHEETS
from service.storage.works import Hanging, Measured, work_record


def save_entry(
    register: Register,
    file: str,
    values: Mapping[str, Any],
    *,
    who: str,
    was: Mapping[str, Any] | None = None,
) -> None:
    """Add an entry, or correct the one that ``was`` names.

    Parameters
    ----------
    values : mapping of str to value
        All that is known of the entry; when correcting, whatever is left out is unknown.

    Raises
    ------
    OutOfRangeError
        If another entry has its key, or it states what cannot be; nothing is changed then.
    UnknownNameError
        If the entry to be corrected is not there, or a name is not known.
    StoreError
        If the register refuses it.
    """
    with register.writing():
        if was is None:
            require_new(register, file, values)
            _end_the_earlier(register, file, values, who)
            SHEETS[file].take(register, dict(values), who)
        else:
            correct_line(register, file, was, values, by=who)
        if values.get("work_id") and file != "placements.csv":
            require_possible_work(register, str(values["work_id"]))


def take_out_entry(
    register: Register, file: str, key: Mapping[str, Any], *, why: str, who: str
) -> None:
    """Take an entry out of the record; what stays must still be possible."""
    with register.writing():
        take_out_line(register, file, key, why=why, by=who)
        if file != "placements.csv" and key.get("work_id"):
            require_possible_work(register, str(key["work_id"]))


def save_measured(
    register: Register, stated: tuple[Measured, ...], *, who: str, was: Measured | None = None
) -> None:
    """Keep one or several numbers that were measured together, or correct one; all or none."""
    with register.writing():
        for one in stated:
            there = line_at(register, "overrides.csv", _measured_key(one))
            if was is not None:
                values, key = values_of(one), _measured_key(was)
                correct_line(register, "overrides.csv", key, values, by=who)
            elif there is None or there["withdrawn"]:
                SHEETS["overrides.csv"].take(register, values_of(one), who)
            else:
                require_new(register, "overrides.csv", values_of(one))
            require_possible_work(register, one.work_id)


def judge_anew(museum: Museum, jobs: Jobs, rooms: tuple[str, ...] | None = None) -> None:
    """Let works be judged and notices brought up to date, while the page answers at once."""
    jobs.start("judging the works anew", lambda _: after_arrival(museum, rooms))


def _measured_key(one: Measured) -> dict[str, Any]:
    return {"work_id": one.work_id, "name": one.name, "from_utc": one.from_utc}


def _end_the_earlier(register: Register, file: str, values: Mapping[str, Any], who: str) -> None:
    """End where a work or a logger hung until it was hung elsewhere."""
    begins: datetime | None = values.get("from_utc")
    if begins is None or file not in ("hangings.csv", "placements.csv"):
        return
    owner = "work_id" if file == "hangings.csv" else "logger"
    name = str(values[owner])
    every: Sequence[Hanging | Placement] = (
        work_record(register, name).hangings
        if file == "hangings.csv"
        else placements(register, name)
    )
    for one in every:
        if one.to_utc is None and (one.from_utc is None or one.from_utc < begins):
            key = {owner: name, "from_utc": one.from_utc}
            correct_line(register, file, key, {"to_utc": begins}, by=who)
