"""The dates of a report: a month, a quarter, or days of one's own, whole days of the site."""

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from analysis.errors import OutOfRangeError

DAY, A_MOMENT = timedelta(days=1), timedelta(milliseconds=1)
LONGEST = timedelta(days=400)  # a year and the month it is compared with
_month = re.compile(r"(\d{4})-(0[1-9]|1[0-2])", re.ASCII)
_quarter = re.compile(r"(\d{4})-Q([1-4])", re.ASCII)
YEARS = (1900, 2200)


@dataclass(frozen=True)
class Period:
    """Whole days of the site, from the first to the last; ``end_utc`` is the end of the last.

    ``over`` is False where they reached beyond the present and were cut there.
    """

    first: date
    last: date
    start_utc: datetime
    end_utc: datetime
    over: bool = True

    @property
    def closes_utc(self) -> datetime:
        """Before it lies what was done within the dates; what is done just now is."""
        return self.end_utc if self.over else self.end_utc + A_MOMENT

    def so_far(self, now_utc: datetime, zone: str) -> "Period":
        """Return the dates up to the present; themselves where they are over."""
        if self.end_utc <= now_utc:
            return self
        today = now_utc.astimezone(ZoneInfo(zone)).date()
        return Period(self.first, today, self.start_utc, now_utc, over=False)

    def a_year_before(self, zone: str) -> "Period":
        """Return the same dates of the year before; of 29 February the day before it."""
        return period(_year_before(self.first), _year_before(self.last), zone)


def period(first: date, last: date, zone: str) -> Period:
    """Return the days from one to another as a span of UTC.

    Examples
    --------
    >>> march = period(date(2026, 3, 1), date(2026, 3, 31), "Europe/Dublin")
    >>> march.end_utc.isoformat()
    '2026-03-31T23:00:00+00:00'
    """
    midnight = [datetime.combine(d, time(), ZoneInfo(zone)) for d in (first, last + DAY)]
    return Period(first, last, midnight[0].astimezone(UTC), midnight[1].astimezone(UTC))


def period_named(name: str, zone: str) -> Period:
    """Return a calendar month (``2026-03``) or quarter (``2026-Q1``).

    Raises
    ------
    OutOfRangeError
        If it is neither.

    Examples
    --------
    >>> quarter = period_named("2026-Q1", "UTC")
    >>> quarter.first.isoformat(), quarter.last.isoformat()
    ('2026-01-01', '2026-03-31')
    """
    month, quarter = _month.fullmatch(name), _quarter.fullmatch(name)
    found = month or quarter
    if found is None or not YEARS[0] <= int(found[1]) <= YEARS[1]:
        raise OutOfRangeError(
            read="the dates of the report",
            where="month",
            found=name or "nothing",
            expected="a month such as 2026-03, or a quarter such as 2026-Q1",
            action="Write the year, a hyphen, and the month or Q with the quarter.",
        )
    number, length = (int(found[2]), 1) if month else (3 * int(found[2]) - 2, 3)
    return _months(int(found[1]), number, length, zone)


def period_between(first: str, last: str, zone: str, now_utc: datetime) -> Period:
    """Return the days between two that were written as 2026-03-01.

    Raises
    ------
    OutOfRangeError
        If one is no day, they do not follow each other, lie ahead, or lie too far apart.
    """
    days = [_day(text, where) for text, where in ((first, "from"), (last, "to"))]
    today = now_utc.astimezone(ZoneInfo(zone)).date()
    if days[1] < days[0] or days[0] > today or days[1] - days[0] > LONGEST:
        raise OutOfRangeError(
            read="the dates of the report",
            where="to" if days[1] < days[0] else "from",
            found=f"{first} to {last}",
            expected="a first day that has begun, a last one not before it, at most "
            f"{LONGEST.days} days in all",
            action="Correct the dates.",
        )
    return period(days[0], days[1], zone)


def last_whole_month(zone: str, now_utc: datetime) -> Period:
    """Return the last calendar month that is over."""
    today = now_utc.astimezone(ZoneInfo(zone)).date()
    last = today.replace(day=1) - DAY
    return period(last.replace(day=1), last, zone)


def usual_periods(zone: str, now_utc: datetime) -> tuple[Period, ...]:
    """Return the periods asked for most: the present month and quarter, and those before."""
    today = now_utc.astimezone(ZoneInfo(zone)).date()
    begins = today.month - (today.month - 1) % 3
    months = [_months(today.year, today.month - back, 1, zone) for back in (0, 1)]
    quarters = [_months(today.year, begins - back, 3, zone) for back in (0, 3)]
    return (*months, *quarters)


def _months(year: int, month: int, length: int, zone: str) -> Period:
    """Return so many calendar months from one on; month 0 is December of the year before."""
    begins, ends = (divmod(12 * year + month - 1 + more, 12) for more in (0, length))
    first, after = (date(y, m + 1, 1) for y, m in (begins, ends))
    return period(first, after - DAY, zone)


def _day(text: str, where: str) -> date:
    try:
        found = date.fromisoformat(text)
    except ValueError:
        found = None
    if found is None or not YEARS[0] <= found.year <= YEARS[1]:
        raise OutOfRangeError(
            read="the dates of the report",
            where=where,
            found=text or "nothing",
            expected="a day such as 2026-03-01",
            action="Write year, month and day.",
        )
    return found


def _year_before(day: date) -> date:
    try:
        return day.replace(year=day.year - 1)
    except ValueError:
        return day.replace(year=day.year - 1, day=28)
