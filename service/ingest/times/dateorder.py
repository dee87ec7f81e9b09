"""The order of day, month and year: what all the dates of a column allow, or a question."""

import re
from collections import Counter
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from service.errors import Answer, QuestionError, remark
from service.ingest.times.timebase import DAY_US, Micros

DAY_FIRST, MONTH_FIRST = remark("day first"), remark("month first")
YEAR_FIRST = remark("year first")
ORDERS = {DAY_FIRST: "dmy", MONTH_FIRST: "mdy", YEAR_FIRST: "ymd"}
# The name under which a person says the order, where it is not only day or month first.
ORDER = "order"
# Dates are counted in so many rows first, and in all where these leave a doubt.
SOME = 200
# So many rows of that many or more may be damaged without a say in the order of day and month.
MOST_DAMAGED, MANY_ROWS = 2, 20
ANSWERS = {
    DAY_FIRST: Answer("the day comes first", day_first=True),
    MONTH_FIRST: Answer("the month comes first", day_first=False),
    YEAR_FIRST: Answer("the year comes first", {ORDER: YEAR_FIRST}),
}
_PARTS = re.compile(r"\D*(?:(\d\d)(\d\d)(\d\d)(?!\d)|(\d{1,2})\D+(\d{1,2})\D+(\d{2,4}))")

Dates = Counter[tuple[int, int, int]]


def order_of(
    name: str, where: str, values: Any, date: str, short_year: bool, read: Callable[[str], Micros]
) -> tuple[str, tuple[str, ...]]:
    """Return the order of day, month and year that the whole column allows, or ask.

    Parameters
    ----------
    name, where : str
        File and column, for messages.
    values : pyarrow.ChunkedArray of string, shape (n,)
        Times as written.
    date : str
        The form of the date, with the marks between its parts.
    short_year : bool
        Whether the year has two digits, so that it may stand first.
    read : callable
        Gives the times that can be read in an order, in file order.

    Returns
    -------
    tuple of (str, tuple of str)
        The order, and a note where it was not the dates alone that decided.

    Raises
    ------
    QuestionError
        If several orders fit, or none does.
    """
    orders = [DAY_FIRST, MONTH_FIRST, *([YEAR_FIRST] if short_year else [])]
    against = _against(_dates(values, SOME), orders)
    if len(against) != 1 or any(against.values()):
        against = _against(_dates(values), orders)
    fitting = list(against)
    if len(fitting) == 1:
        return fitting[0], ()
    faultless = [order for order, rows in against.items() if not rows]
    if len(faultless) == 1 and _runs_on_best(faultless[0], fitting, read):
        return faultless[0], ()
    if "." in date and fitting == [DAY_FIRST, MONTH_FIRST] and _runs_on(read):
        return DAY_FIRST, (
            remark(
                "Dates with points fit day first and month first; day first is usual for them, and "
                "only so do the times run on from day to day."
            ),
        )
    raise _which_order(name, where, values, fitting)


def _runs_on(read: Callable[[str], Micros]) -> bool:
    """Return whether times leave no longer gap day first than they do month first."""
    longest = {o: np.abs(np.diff(read(o))).max(initial=0) for o in (DAY_FIRST, MONTH_FIRST)}
    return bool(longest[DAY_FIRST] < longest[MONTH_FIRST])


def _runs_on_best(best: str, orders: Sequence[str], read: Callable[[str], Micros]) -> bool:
    """Return whether times leap over days under every order but one, more than by damage."""
    leaps = {o: np.count_nonzero(np.abs(np.diff(read(o))) > 2 * DAY_US) for o in orders}
    others = [leaps[order] for order in orders if order != best]
    return all(leaps[best] + 2 * MOST_DAMAGED < other for other in others)


def _dates(values: Any, most: int = 0) -> Dates:
    """Return the numbers of each date, in their order, and in how many rows they stand.

    ``most`` takes no more than so many rows, from the whole length.
    """
    step = max(1, len(values) // most) if most else 1
    rows = range(0, len(values), step)
    some = pa.array([values[row].as_py() for row in rows]) if step > 1 else values
    dates: Dates = Counter()
    for entry in pc.value_counts(pc.utf8_slice_codeunits(some, 0, 22)).to_pylist():
        match = _PARTS.match(entry["values"] or "")
        if match:
            first, second, last = (int(part) for part in match.groups() if part)
            dates[first, second, last] += entry["counts"]
    return dates


def _exists(order: str, date: tuple[int, int, int]) -> bool:
    """Return whether a date can exist in an order of day, month and year."""
    place = dict(zip(ORDERS[order], date, strict=True))
    return 1 <= place["d"] <= 31 and 1 <= place["m"] <= 12


def _against(dates: Dates, orders: Sequence[str]) -> dict[str, int]:
    """Return the orders that the dates fit, each with the number of rows that speak against it.

    A damaged row or two of many decide nothing. Days run faster than years: where one end of the
    dates changes more often than the other, it is the day.
    """
    told = Counter({d: n for d, n in dates.items() if any(_exists(o, d) for o in orders)})
    spare = MOST_DAMAGED if sum(told.values()) >= MANY_ROWS else 0
    against = {o: sum(n for date, n in told.items() if not _exists(o, date)) for o in orders}
    fitting = {order: rows for order, rows in against.items() if rows <= spare}
    if YEAR_FIRST in fitting and len(fitting) > 1:
        firsts, lasts = (_different(told, place, spare) for place in (0, 2))
        if lasts > firsts:
            return {YEAR_FIRST: fitting[YEAR_FIRST]}
        if lasts < firsts:
            fitting.pop(YEAR_FIRST)
    return fitting


def _different(dates: Dates, place: int, spare: int) -> int:
    """Return how many different numbers stand in a place, those of a damaged row or two aside."""
    rows: Counter[int] = Counter()
    for date, count in dates.items():
        rows[date[place]] += count
    few = spare if np.median([*dates.values()]) > spare else 0
    return sum(count > few for count in rows.values())


def _which_order(name: str, where: str, values: Any, fitting: Sequence[str]) -> QuestionError:
    first, last = (values[i].as_py() for i in (0, len(values) - 1))
    if not fitting:
        return QuestionError(
            read=name,
            where=where,
            found="some dates that exist only day first and some only month first",
            expected="one order of day and month throughout",
            action="Say which is right with --day-first or --month-first; lines that do not fit "
            "are then kept apart.",
            answers=[ANSWERS[DAY_FIRST], ANSWERS[MONTH_FIRST]],
        )
    answers = [ANSWERS[order] for order in fitting]
    return QuestionError(
        read=name,
        where=where,
        found=f"dates from {first!r} to {last!r} that fit {' and '.join(fitting)} alike",
        expected="to know in which order day, month and year stand",
        action="Add " + " or ".join(answer.options() for answer in answers) + ", or export years "
        "with four digits.",
        answers=answers,
    )
