"""What is proposed for a file that waits: its logger, names for new ones, its room's rhythm."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import timedelta
from pathlib import PurePath

from analysis.answers.rhythm import rhythm_of_first
from analysis.records.room_records import RHYTHM_WORDS, Place, Room
from dashboards.lines import Choice
from dashboards.text import wording
from dashboards.text.messages import _
from service.answers.museum import Museum
from service.climate.presence import read_outs, rhythm_stated
from service.ingest.read import FileReading
from service.intake.import_options import NEW
from service.intake.suspicions import alike_logger
from service.intake.taking_in import PRESENT
from service.storage import loggers, places
from service.storage.records import put_record
from service.storage.uploads import names_and_loggers

DAY = timedelta(days=1)


def proposed_logger(museum: Museum, name: str, reading: FileReading) -> tuple[str, str]:
    """Return the logger that a file's contents or name speak for, and why; empty: none."""
    longest = max(reading.sensors.values(), key=len)
    if reading.understanding.time.zone is not None and len(longest):
        alike = alike_logger(museum.stores, longest)
        if alike:
            return alike, _("{alike} has these readings already.", alike=alike)
    return suggested_logger(museum, name)


def suggested_logger(museum: Museum, name: str) -> tuple[str, str]:
    """Return the one logger that a file's name speaks for, and why; empty where none does."""
    stem, register = _stem(name), museum.stores.register
    came = [one for alike, one in names_and_loggers(register, PRESENT) if _stem(alike) == stem]
    if len(set(came)) == 1 and stem:
        return came[-1], _("Files of this name came from {logger} before.", logger=came[-1])
    named = [
        one.logger
        for one in loggers.loggers(register)
        if one.logger.casefold() in name.casefold() and len(one.logger) > 1
    ]
    if len(named) == 1:
        return named[0], _("Its name speaks of {named}.", named=named[0])
    return "", ""


def _stem(name: str) -> str:
    """Return a file's name without figures: what stays the same from week to week.

    Examples
    --------
    >>> _stem("north_2026-W11.csv") == _stem("North_2026-W12.csv")
    True
    """
    return "".join(sign for sign in name.casefold() if sign.isalpha())


def with_new_names(museum: Museum, stated: Mapping[str, str], file_name: str) -> dict[str, str]:
    """Return what was said of a file, with the names a new logger and its room may have.

    While the house has no logger at all, the file is proposed to come from a new one in a new room.
    """
    proposed = {"new_logger": name_in(file_name)}
    if not stated.get("logger") and not loggers.loggers(museum.stores.register):
        proposed |= {"logger": NEW}
        if not museum.every_room():
            proposed |= {"room": NEW}
    return proposed | dict(stated)


def name_in(file_name: str) -> str:
    r"""Return a name for a logger from a file's: without its ending and what no name may hold.

    Examples
    --------
    >>> name_in("exports/North gallery #2.csv")
    'North gallery 2'
    """
    stem = PurePath(file_name).name.split(".")[0]
    return " ".join("".join(" " if sign in '/\\?#"%' else sign for sign in stem).split())[:60]


def asked_rhythm(
    stated: Mapping[str, str], reading: FileReading | None
) -> tuple[Sequence[Choice], str]:
    """Return how often a room may be read, the proposed one chosen, and why it is proposed."""
    times = [frame.index for frame in (reading.sensors if reading else {}).values() if len(frame)]
    if not times:
        return (), ""
    span = max(one.max() for one in times) - min(one.min() for one in times)
    proposed = rhythm_of_first(span.to_pytimedelta())
    chosen = stated.get("rhythm", "" if proposed is None else proposed.value)
    not_said = Choice("", _("not known yet: it is taken from the gaps between its files"), False)
    choices = [not_said, *(Choice(value, words) for value, words in RHYTHM_WORDS.items())]
    days = wording.duration(span / DAY * 24.0)
    why = "" if proposed is None else _("This file holds {days}.", days=days)
    return [replace(one, chosen=one.value == chosen) for one in choices], why


def is_first_of_its_room(museum: Museum, stated: Mapping[str, str], logger: str) -> bool:
    """Return whether a file's room has neither a rhythm nor a file that could show one."""
    register = museum.stores.register
    hung = [one.room for one in loggers.placements(register, logger)] if logger else []
    name = hung[-1] if hung else stated.get("room", "")
    room = next((one for one in museum.every_room() if one.room == name), None)
    return not hung if room is None else _is_new(museum, room)


def keep_rhythm(museum: Museum, logger: str, rhythm: str) -> None:
    """Write down how often a logger's room is read, where nothing has shown it yet."""
    register = museum.stores.register
    for placed in loggers.placements(register, logger) if rhythm else ():
        room = places.room_named(register, placed.room)
        if placed.place == Place.ROOM_AIR and _is_new(museum, room):
            put_record(register, replace(room, rhythm=rhythm), by="page")


def _is_new(museum: Museum, room: Room) -> bool:
    brought = read_outs(museum.stores.register, room.room, museum.clock())
    return rhythm_stated(room) is None and not brought
