"""One form of the register kept: added or corrected, looked at as a whole, or not at all."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from analysis.records import BY_FILE
from analysis.records.inspection_records import Measured
from analysis.records.room_records import Placement
from analysis.records.work_records import Hanging
from service.register.possible import require_no_new_problem
from service.register.register_files import take_line
from service.storage.loggers import placements
from service.storage.records import (
    correct_line,
    key_of,
    line_at,
    put_record,
    require_new,
    take_out_line,
    values_of,
)
from service.storage.register import Register, now_utc
from service.storage.works import withdraw_measured, work_record


def save_entry(
    register: Register,
    file: str,
    values: Mapping[str, Any],
    *,
    who: str,
    was: Mapping[str, Any] | None = None,
) -> None:
    """Add an entry, or correct the one that ``was`` names; the same again changes nothing.

    Parameters
    ----------
    values : mapping of str to value
        All that is known of the entry; when correcting, whatever is left out is unknown.

    Raises
    ------
    OutOfRangeError
        If a value is not as its field is declared, another entry has its key, or it states what
        cannot be; nothing is changed then.
    UnknownNameError
        If the entry to be corrected is not there, or a name is not known.
    StoreError
        If the register refuses it.
    """
    with register.writing():
        if line_at(register, file, key_of(file, values)) == dict(values):
            return
        if was is None:
            require_new(register, file, values)
            _end_the_earlier(register, file, values, who)
            take_line(register, file, values, who)
        else:
            correct_line(register, file, was, values, by=who)
        _require_possible(register, file, values)


def save_like(register: Register, values: Mapping[str, Any], like: str, *, who: str) -> None:
    """Add a work that is held, framed and hung as another is now; all of it or nothing.

    Raises
    ------
    OutOfRangeError
        As `save_entry` does.
    UnknownNameError
        If there is no such other work.
    """
    with register.writing():
        save_entry(register, "works.csv", values, who=who)
        other = work_record(register, like)
        own = {"work_id": values["work_id"], "note": ""}
        for mounting in other.mountings[-1:]:
            save_entry(register, "mounts.csv", values_of(mounting) | own, who=who)
        for framing in other.framings[-1:]:
            save_entry(register, "frames.csv", values_of(framing) | own, who=who)
        for hanging in other.hangings[-1:]:
            save_entry(register, "hangings.csv", values_of(hanging) | own, who=who)


def take_out_entry(
    register: Register, file: str, key: Mapping[str, Any], *, why: str, who: str
) -> None:
    """Take an entry out of the record; what stays must still be possible."""
    with register.writing():
        take_out_line(register, file, key, why=why, by=who)
        _require_possible(register, file, key)


def save_measured(
    register: Register,
    stated: tuple[Measured, ...],
    *,
    who: str,
    was: Measured | None = None,
) -> None:
    """Keep one or several numbers that were measured together, or correct one; all or none."""
    with register.writing():
        for one in stated:
            there = line_at(register, "overrides.csv", _measured_key(one))
            if there == values_of(one):
                continue
            if was is not None:
                values, key = values_of(one), _measured_key(was)
                correct_line(register, "overrides.csv", key, values, by=who)
            elif there is None or there["withdrawn"]:
                put_record(register, one, by=who)
            else:
                require_new(register, "overrides.csv", values_of(one))
        require_no_new_problem(register, stated[0].work_id)


def withdraw_number(register: Register, one: Measured, *, why: str, who: str) -> None:
    """Withdraw a measured number; what stays must still be possible without it."""
    with register.writing():
        withdraw_measured(
            register, one.work_id, one.name, one.from_utc, why=why, by=who, at_utc=now_utc()
        )
        require_no_new_problem(register, one.work_id)


def _require_possible(register: Register, file: str, values: Mapping[str, Any]) -> None:
    """Refuse an entry that makes a work's facts impossible; a logger merely hangs with one."""
    if file != "placements.csv" and values.get("work_id"):
        require_no_new_problem(register, str(values["work_id"]))


def _measured_key(one: Measured) -> dict[str, Any]:
    return {name: getattr(one, name) for name in BY_FILE["overrides.csv"].key}


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
