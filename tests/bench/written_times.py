"""Forms in which loggers and people write times, each as one or several columns."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone, tzinfo
from typing import Protocol
from zoneinfo import ZoneInfo

import pandas as pd

ZONES = ("UTC", "UTC+1", "UTC-5", "Europe/Oslo", "Australia/Sydney")
EPOCH = datetime(1899, 12, 30)  # noqa: DTZ001 - the day from which serial days are counted
Cells = list[str]


class Named(Protocol):
    """The words of a language that a form needs."""

    @property
    def time(self) -> str: ...
    @property
    def date(self) -> str: ...
    @property
    def clock(self) -> str: ...


Shape = Callable[[Named, Sequence[datetime]], list[tuple[str, Cells]]]


@dataclass(frozen=True)
class TimeForm:
    """One form: how it is written, in which clocks, and what it leaves open.

    ``day_first`` is None where the form leaves no doubt about day and month; ``hourly`` tells that
    it cannot show minutes; ``tolerance_s`` how far off its digits are.
    """

    name: str
    write: Shape
    zones: tuple[str, ...] = ZONES
    day_first: bool | None = None
    hourly: bool = False
    blanks: int = 0
    tolerance_s: float = 0.0

    def clock(self, zone: str) -> tzinfo:
        """Return the clock the times are written in."""
        if zone.startswith("UTC"):
            return timezone(timedelta(hours=int(zone[3:] or 0)))
        return ZoneInfo(zone)

    def columns(self, words: Named, local: pd.DatetimeIndex) -> list[tuple[str, Cells]]:
        """Return the columns: heading and cells of each."""
        return self.write(words, [time.to_pydatetime() for time in local])


def _one(pattern: str) -> Shape:
    return lambda words, times: [(words.time, [f"{t:{pattern}}" for t in times])]


def _two(date: str, clock: str) -> Shape:
    return lambda words, times: [
        (words.date, [f"{t:{date}}" for t in times]),
        (words.clock, [f"{t:{clock}}" for t in times]),
    ]


def _cells(heads: Sequence[str], *cells: Callable[[datetime], object]) -> Shape:
    def write(words: Named, times: Sequence[datetime]) -> list[tuple[str, Cells]]:
        named = [head.format(w=words) for head in heads]
        return [
            (head, [str(cell(t)) for t in times]) for head, cell in zip(named, cells, strict=True)
        ]

    return write


def _offset(time: datetime) -> str:
    shown = time.strftime("%z")
    return f"{time:%Y-%m-%dT%H:%M:%S}{shown[:3]}:{shown[3:]}"


def _twelve(time: datetime, words: tuple[str, str] = ("AM", "PM")) -> str:
    return f"{(time.hour + 11) % 12 + 1}:{time.minute:02} {words[time.hour >= 12]}"


def _hour_to_24(time: datetime) -> tuple[str, str]:
    """Return date and hour of a clock that counts 1 to 24: midnight is 24 of the day before."""
    day = time if time.hour else time - timedelta(days=1)
    return f"{day:%Y-%m-%d}", str(time.hour or 24)


def _serial(time: datetime) -> str:
    return f"{(time.replace(tzinfo=None) - EPOCH) / timedelta(days=1):.6f}"


def _unit(factor: int) -> Callable[[datetime], str]:
    return lambda time: str(round(time.timestamp()) * factor)


UTC = ("UTC",)
TIME_FORMS = (
    TimeForm("ISO", _one("%Y-%m-%d %H:%M:%S")),
    TimeForm("ISO with T", _one("%Y-%m-%dT%H:%M"), blanks=0),
    TimeForm("ISO with offset", _cells(["{w.time}"], _offset)),
    TimeForm("ISO with Z", _one("%Y-%m-%dT%H:%M:%SZ"), UTC),
    TimeForm("day first, dots", _one("%d.%m.%Y %H:%M"), day_first=True),
    TimeForm("day first, short year", _one("%d.%m.%y %H:%M:%S"), day_first=True),
    TimeForm("day first, slashes", _one("%d/%m/%Y %H:%M"), day_first=True),
    TimeForm("day first, dashes", _one("%d-%m-%Y %H:%M:%S"), day_first=True),
    TimeForm("month first", _one("%m/%d/%Y %H:%M"), day_first=False),
    TimeForm("month first, 12 hours", _cells(
        ["{w.time}"], lambda t: f"{t.month}/{t.day}/{t.year} {_twelve(t)}"), day_first=False),
    TimeForm("12 hours in other words", _cells(
        ["{w.time}"], lambda t: f"{t:%d/%m/%Y} {_twelve(t, ('a. m.', 'p. m.'))}"), day_first=True),
    TimeForm("year first, slashes", _one("%Y/%m/%d %H:%M")),
    TimeForm("digits alone", _one("%Y%m%d%H%M")),
    TimeForm("digits, parted", _one("%Y%m%d %H%M")),
    TimeForm("month by name", _one("%d %b %Y %H:%M")),
    TimeForm("date and clock apart", _two("%d.%m.%Y", "%H:%M:%S"), day_first=True, blanks=2),
    TimeForm("ISO date and clock apart", _two("%Y-%m-%d", "%H:%M"), blanks=2),
    TimeForm("date and HHMM", _two("%Y-%m-%d", "%H%M"), blanks=2),
    TimeForm("date and HHMM UTC", _cells(
        ["{w.date}", "{w.clock}"], lambda t: f"{t:%Y-%m-%d}", lambda t: f"{t:%H%M} UTC"), UTC),
    TimeForm("date and hour with a letter", _cells(
        ["{w.date}", "{w.clock}"], lambda t: f"{t:%d/%m/%Y}", lambda t: f"{t.hour}h"),
        day_first=True, hourly=True),
    TimeForm("date and hour", _cells(
        ["{w.date}", "Hour"], lambda t: f"{t:%Y-%m-%d}", lambda t: t.hour), hourly=True),
    TimeForm("date and hour to 24", _cells(
        ["{w.date}", "Hour"], lambda t: _hour_to_24(t)[0], lambda t: _hour_to_24(t)[1]),
        hourly=True),
    TimeForm("year, month, day, hour", _cells(
        ["Year", "Month", "Day", "Hour"],
        lambda t: t.year, lambda t: t.month, lambda t: t.day, lambda t: t.hour), hourly=True),
    TimeForm("seconds since 1970", _cells(["{w.time}"], _unit(1)), UTC, blanks=1),
    TimeForm("milliseconds since 1970", _cells(["{w.time}"], _unit(1000)), UTC, blanks=1),
    TimeForm("microseconds since 1970", _cells(["{w.time}"], _unit(10**6)), UTC, blanks=1),
    TimeForm("nanoseconds since 1970", _cells(["{w.time}"], _unit(10**9)), UTC, blanks=1),
    TimeForm("days since 1899", _cells(["{w.time}"], _serial), tolerance_s=0.1),
)  # fmt: skip
