"""A clock that was set within a file: found, named, and shifted only where a person says so."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from service.errors import Answer, QuestionError, remark
from service.ingest.evidence import limit
from service.ingest.table import Floats, Table
from service.ingest.times.timebase import DAY_US, HOUR_US, SECOND_US, Micros
from service.ingest.times.timestamps import Bools, Times

AS_WRITTEN = "as written"
_SHIFT = re.compile(
    r"(from|to) line (\d+) by ([+\-−])\s?(\d+(?:\.\d+)?)\s?(s|min|h|d)\b", re.IGNORECASE
)
_LENGTHS_S = {"s": 1.0, "min": 60.0, "h": 3600.0, "d": 86_400.0}
_MOST_HOURS = 36


@dataclass(frozen=True)
class Turn:
    """A place where a clock was set: the row after it, and the shift under which times run on.

    ``before_us`` and ``after_us`` are the times on both sides; ``backwards`` tells that the file
    is written newest first, so that the rows after it in time stand above. ``ahead_row`` is the
    first row after an earlier leap ahead by as much, -1 where there is none. ``again`` are the
    first and last row whose times come a second time. ``skipped_us`` is the time that rows without
    one just before it may stand for: what repeats a time behind them is no line written twice.
    """

    row: int
    before_us: int
    after_us: int
    shift_us: int
    kind: str
    backwards: bool
    ahead_row: int = -1
    again: tuple[int, int] = (0, -1)
    skipped_us: int = 0


@dataclass(frozen=True)
class Leap:
    """A place where times leap ahead by whole hours though the readings are numbered on."""

    row: int
    before_us: int
    after_us: int
    hours: int

    def problem(self, table: Table) -> tuple[int, str, str, str, str]:
        """Return what to list: line, column, found, expected and what was kept."""
        line = table.line(self.row)
        back = f"--column clock='from line {line} by -{self.hours} h'"
        return (
            line,
            "",
            remark(
                f"{_shown(self.after_us)} after {_shown(self.before_us)}, though the readings are "
                f"numbered without a gap: as if the clock was set ahead by {self.hours} h"
            ),
            remark("times that run on, or a logger that had stopped"),
            remark(f"all, as written; if the clock was set ahead: {back}"),
        )


def leaps_of(times_us: Micros, numbers: Floats, rows: Micros) -> list[Leap]:
    """Return where times leap ahead by whole hours and the logger's own numbers go on.

    Parameters
    ----------
    times_us, rows
        As for `turns_of`.
    numbers : numpy.ndarray, shape (n,)
        The running numbers of the readings.
    """
    steps = np.diff(times_us)
    if len(steps) < limit("accept", "steps"):
        return []
    usual = np.median(steps)
    hours = (steps - usual) / HOUR_US
    whole = (np.round(hours) >= 1) & (np.abs(hours - np.round(hours)) < limit("clock", "hours"))
    found = np.flatnonzero(whole & (np.abs(np.diff(numbers)) == 1))
    if len(found) > limit("clock", "most"):
        return []
    return [
        Leap(int(rows[i + 1]), int(times_us[i]), int(times_us[i + 1]), round(float(hours[i])))
        for i in found
    ]


def turns_of(
    times_us: Micros, rows: Micros, odd: Bools, silent: Bools, twice: Bools, backwards: bool
) -> list[Turn]:
    """Return where one sensor's clock was set, in the order of its readings.

    Parameters
    ----------
    times_us : numpy.ndarray of int64, shape (n,)
        Instants, oldest first but for what is wrong with them.
    rows : numpy.ndarray of int, shape (n,)
        The file's row of each.
    odd : numpy.ndarray of bool, shape (n,)
        Which stand in an hour that comes twice or is skipped.
    silent : numpy.ndarray of bool
        Which rows of the file hold a reading without a time.
    twice : numpy.ndarray of bool
        Which rows of the file say word for word what an earlier row says.
    backwards : bool
        Whether the file is written newest first.
    """
    steps = np.diff(times_us)
    forward = steps[steps > 0]
    far = (steps <= 0) | (steps > limit("clock", "reset_days") * DAY_US)
    places = np.flatnonzero(far & ~(odd[1:] | odd[:-1]))
    if not len(forward) or not 0 < len(places) <= limit("clock", "most"):
        return []
    usual = int(np.median(forward))
    skipped = np.abs(np.diff(np.cumsum(silent)[rows]))
    found = [
        replace(turn, skipped_us=usual * int(skipped[i]))
        for i in places
        if (turn := _turn(times_us, rows, int(i), usual, backwards)) is not None
        and not (_written_twice(turn, twice) and not skipped[i])
    ]
    return found


def _written_twice(turn: Turn, twice: Bools) -> bool:
    """Return whether all that comes a second time are lines written a second time, as they were."""
    first, last = turn.again
    return turn.kind == "set back" and last >= first and bool(twice[first : last + 1].all())


def _turn(times_us: Micros, rows: Micros, at: int, usual: int, backwards: bool) -> Turn | None:
    before, after = int(times_us[at]), int(times_us[at + 1])
    shift = before + usual - after
    kind = _kind(times_us, at, shift)
    if not kind:
        return None
    if kind == "reset before":
        # What stands before the leap has the wrong date; it is that which is offered a shift.
        return Turn(int(rows[at]), before, after, after - usual - before, kind, not backwards)
    leaps = np.flatnonzero(np.abs(np.diff(times_us[: at + 1]) - usual - shift) < 60 * SECOND_US)
    ahead = int(rows[leaps[-1] + 1]) if kind == "set back" and len(leaps) else -1
    passed = np.flatnonzero(times_us[at + 1 :] > before)
    stretch = rows[at + 1 : at + 1 + int(passed[0])] if len(passed) else rows[at + 1 :]
    again = (int(stretch.min()), int(stretch.max())) if len(stretch) else (0, -1)
    return Turn(int(rows[at + 1]), before, after, shift, kind, backwards, ahead, again)


def _kind(times_us: Micros, at: int, shift: int) -> str:
    """Return what a step means: a clock set back, one that lost its date, or "" for neither."""
    before, after = times_us[at], times_us[at + 1]
    years = limit("clock", "reset_days") * DAY_US
    if after - before > years:
        return "reset before" if _begins_a_year(int(times_us[0])) else ""
    if before - after > years:
        return "reset" if _begins_a_year(int(after)) else ""
    hours = shift / HOUR_US
    whole = abs(hours - round(hours)) < limit("clock", "hours") and round(hours) != 0
    if not whole or shift > _MOST_HOURS * HOUR_US:
        return ""
    return "set back"


def _begins_a_year(time_us: int) -> bool:
    day = np.datetime64(time_us // DAY_US, "D")
    return bool((day - day.astype("datetime64[Y]").astype("datetime64[D]")).astype(int) <= 1)


def shifted(name: str, times: Times, table: Table, stated: str) -> list[str]:
    """Shift times as a person said, and return a note on each shift.

    Parameters
    ----------
    stated : str
        "as written", or texts such as "from line 40 by +1 h", with semicolons between.

    Raises
    ------
    QuestionError
        If the text is neither.
    """
    if not stated or stated.strip().casefold() == AS_WRITTEN:
        return []
    found = list(_SHIFT.finditer(stated))
    if not found or _SHIFT.sub("", stated).strip(" ;,"):
        raise QuestionError(
            read=name,
            where="clock",
            found=repr(stated),
            expected=f"'{AS_WRITTEN}', or a shift such as 'from line 40 by +1 h'",
            action="Write it so; several shifts have semicolons between them.",
        )
    lines = np.array([table.line(row) for row in range(table.rows)])
    notes = []
    for side, line, sign, size, unit in (match.groups() for match in found):
        some = lines >= int(line) if side.lower() == "from" else lines <= int(line)
        length_us = round(float(size) * _LENGTHS_S[unit.lower()] * SECOND_US)
        times.clock_us = times.clock_us + np.where(some, length_us, 0) * (1 if sign == "+" else -1)
        notes.append(
            remark(f"Times {side.lower()} line {line} are shifted by {sign}{size} {unit}, as said.")
        )
    return notes


def turns_question(name: str, turns: Sequence[Turn], table: Table) -> QuestionError:
    """Return the question whether a clock was set, with the shift that would mend it."""
    parts = [_found(turn, table) for turn in turns]
    shift = "; ".join(_shift(turn, table) for turn in turns)
    written, moved = (
        Answer("the times are right as they are written", {"clock": AS_WRITTEN}),
        Answer(f"the clock was set: {shift}", {"clock": shift}),
    )
    answers = (*_between(turns, table), *_over_skipped(turns, table), moved, written)
    return QuestionError(
        read=name,
        where=", ".join(f"line {table.line(turn.row)}" for turn in turns),
        found="; ".join(parts),
        expected="times that run on, or to be told that the clock was set there",
        action=f"To shift them so that they run on: {answers[0].options()}; to keep them as they "
        f"are: {written.options()}.",
        answers=answers,
    )


def _over_skipped(turns: Sequence[Turn], table: Table) -> list[Answer]:
    """Return the answer that lines without a time were readings too, where some stand there."""
    if not any(turn.skipped_us for turn in turns):
        return []
    longer = [replace(turn, shift_us=turn.shift_us + turn.skipped_us) for turn in turns]
    shift = "; ".join(_shift(turn, table) for turn in longer)
    words = remark(f"the clock was set, and the lines without a time were readings: {shift}")
    return [Answer(words, {"clock": shift})]


def _between(turns: Sequence[Turn], table: Table) -> list[Answer]:
    """Return the answer that a clock ran ahead for a while, where it leapt before by as much."""
    ahead = [turn for turn in turns if turn.ahead_row >= 0]
    if len(ahead) != len(turns):
        return []
    side = "to" if turns[0].backwards else "from"
    shifts = [
        f"{side} line {table.line(row)} by {sign}{_length(turn.shift_us)}"
        for turn in turns
        for row, sign in ((turn.ahead_row, "-"), (turn.row, "+"))
    ]
    words = remark("the clock ran ahead between the two lines")
    return [Answer(words, {"clock": "; ".join(shifts)})]


def _found(turn: Turn, table: Table) -> str:
    before, after = (_shown(us) for us in (turn.before_us, turn.after_us))
    if turn.kind == "set back":
        by = _length(turn.shift_us)
        return remark(f"{after} after {before}, as if the clock was set back by {by}")
    if turn.kind == "reset":
        return remark(f"{after} after {before}, as if the clock had lost its date")
    return remark(f"{before} before {after}, as if the clock had no date at first")


def _shown(time_us: int) -> str:
    return str(np.datetime64(time_us, "us").astype("datetime64[s]")).replace("T", " ")


def _length(length_us: int) -> str:
    seconds = abs(length_us) / SECOND_US
    if round(seconds) % 3600 == 0:
        return f"{round(seconds / 3600)} h"
    return f"{round(seconds / 60)} min" if round(seconds) % 60 == 0 else f"{round(seconds)} s"


def _shift(turn: Turn, table: Table) -> str:
    line, sign = table.line(turn.row), "+" if turn.shift_us >= 0 else "-"
    by = f"{sign}{_length(turn.shift_us)}"
    return remark(f"to line {line} by {by}" if turn.backwards else f"from line {line} by {by}")
