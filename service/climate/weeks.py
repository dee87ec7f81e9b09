"""ISO weeks in the site's zone, as spans of UTC."""

import re
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from analysis.errors import NotEnoughError, StilltautError

YEARS = (1900, 2200)  # a record of readings lies between these
_FORM = re.compile(r"(\d{4})-W(\d{2})", re.ASCII)


def week_of(time_utc: datetime, zone: str) -> str:
    """Return the ISO week in which an instant lies.

    Examples
    --------
    >>> week_of(datetime(2026, 3, 22, 23, 0, tzinfo=UTC), "Europe/Dublin")
    '2026-W12'
    """
    return week_of_day(time_utc.astimezone(ZoneInfo(zone)).date())


def week_of_day(day: date) -> str:
    """Return the ISO week of a calendar day.

    Examples
    --------
    >>> week_of_day(date(2024, 12, 30))
    '2025-W01'
    """
    year, week, _ = day.isocalendar()
    return f"{year}-W{week:02d}"


def week_span(iso_week: str, zone: str) -> tuple[datetime, datetime]:
    """Return the start and the end of an ISO week in a zone, as UTC.

    Raises
    ------
    StilltautError
        If the text names no ISO week.

    Examples
    --------
    >>> start, end = week_span("2026-W13", "Europe/Dublin")  # summer time begins on its Sunday
    >>> (end - start).total_seconds() / 3600
    167.0
    """
    monday = _monday(iso_week)
    midnight = [datetime.combine(d, time(), ZoneInfo(zone)) for d in (monday, _next(monday))]
    return midnight[0].astimezone(UTC), midnight[1].astimezone(UTC)


def shifted(iso_week: str, by: int) -> str:
    """Return the ISO week ``by`` weeks later.

    Examples
    --------
    >>> shifted("2026-W01", -1)
    '2025-W52'
    """
    return week_of_day(_monday(iso_week) + timedelta(weeks=by))


def year_before(iso_week: str) -> str:
    """Return the week of the same number a year earlier; 52 weeks earlier where it has none.

    Examples
    --------
    >>> year_before("2026-W12"), year_before("2020-W53")
    ('2025-W12', '2020-W01')
    """
    year, number = iso_week.split("-W")
    earlier = f"{int(year) - 1}-W{number}"
    return earlier if number != "53" else shifted(iso_week, -52)


def require_within(iso_week: str, zone: str, first_utc: datetime | None, now_utc: datetime) -> None:
    """Raise where a week lies before a house's first reading, or after the present.

    Raises
    ------
    NotEnoughError
        If it does, or no reading is there.
    """
    start, end = week_span(iso_week, zone)
    if first_utc is not None and first_utc < end and start <= now_utc:
        return
    there = "no reading"
    if first_utc is not None:
        there = (
            f"a record from {week_of(first_utc, zone)}, and the present {week_of(now_utc, zone)}"
        )
    raise NotEnoughError(
        read="weeks",
        where=iso_week,
        found=there,
        expected="a week of the record that has begun",
        action="Choose a week of the record, or bring in the readings of that one.",
    )


def _next(monday: date) -> date:
    return monday + timedelta(weeks=1)


def _monday(iso_week: str) -> date:
    form = _FORM.fullmatch(iso_week)
    try:
        if form and YEARS[0] <= int(form[1]) <= YEARS[1]:
            return date.fromisocalendar(int(form[1]), int(form[2]), 1)
    except ValueError:
        pass
    raise StilltautError(
        read="week",
        where="",
        found=repr(iso_week),
        expected="an ISO week such as 2026-W12, of the years 1900 to 2200",
        action="Write the year, -W and the number of the week with two digits.",
    )
