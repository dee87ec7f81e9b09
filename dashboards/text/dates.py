"""Dates and times of day as text people read, in the site's zone and way (Babel).

The order is the house's; the words are in the language of the sentences around them.
"""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

from babel.dates import format_date, format_time, get_month_names

from dashboards.text.messages import _, locale, locale_of_words


def local(time_utc: datetime, zone: str) -> datetime:
    """Return an instant in the site's zone; an instant without a zone is taken as UTC."""
    aware = time_utc if time_utc.tzinfo else time_utc.replace(tzinfo=UTC)
    return aware.astimezone(ZoneInfo(zone))


def clock(time_utc: datetime, zone: str) -> str:
    """Return the local time of day.

    Examples
    --------
    >>> clock(datetime(2026, 3, 17, 15, 10, tzinfo=UTC), "Europe/Amsterdam")
    '16:10'
    """
    return format_time(local(time_utc, zone).time(), "short", locale=locale())


def weekday(time_utc: datetime, zone: str) -> str:
    """Return the name of the day."""
    return format_date(local(time_utc, zone).date(), "EEEE", locale_of_words())


def weekday_short(time_utc: datetime, zone: str) -> str:
    """Return the day's name as a chart has room for: "Tue"."""
    return format_date(local(time_utc, zone).date(), "EEE", locale_of_words())


def day_heading(on: date, *, short: bool = False) -> str:
    """Return a day as it stands above a chart.

    Examples
    --------
    >>> day_heading(date(2026, 3, 19)), day_heading(date(2026, 3, 19), short=True)
    ('Thu 19', 'Th 19')
    """
    name = format_date(on, "EEE", locale_of_words())
    return f"{name[:2] if short else name} {on.day}"


def short_time(time_utc: datetime, zone: str) -> str:
    """Return the short name of the day and the time: "Thu 21:00"."""
    return f"{weekday_short(time_utc, zone)} {clock(time_utc, zone)}"


def day_time(time_utc: datetime, zone: str) -> str:
    """Return the weekday and the local time.

    Examples
    --------
    >>> day_time(datetime(2026, 3, 17, 15, 10, tzinfo=UTC), "Europe/Amsterdam")
    'Tuesday 16:10'
    """
    return f"{weekday(time_utc, zone)} {clock(time_utc, zone)}"


def part_of_day(time_utc: datetime, zone: str) -> str:
    """Return the weekday and the part of the day in which something was: "Thursday evening".

    Examples
    --------
    >>> part_of_day(datetime(2026, 3, 19, 20, tzinfo=UTC), "UTC")
    'Thursday evening'
    >>> part_of_day(datetime(2026, 3, 19, 3, tzinfo=UTC), "UTC")
    'Thursday before dawn'
    """
    day = weekday(time_utc, zone)
    hour = local(time_utc, zone).hour
    if hour < 6:
        return _("{weekday} before dawn", weekday=day)
    if hour < 12:
        return _("{weekday} morning", weekday=day)
    if hour < 18:
        return _("{weekday} afternoon", weekday=day)
    return _("{weekday} evening", weekday=day)


def date_words(on: date) -> str:
    """Return a calendar day.

    Examples
    --------
    >>> date_words(date(2026, 3, 17))
    '17 March 2026'
    """
    return _in_order(locale().date_formats["long"].pattern, on)


def day_only(time_utc: datetime, zone: str) -> str:
    """Return the date of an instant, without its weekday.

    Examples
    --------
    >>> day_only(datetime(2026, 6, 3, 12, tzinfo=UTC), "UTC")
    '3 June 2026'
    """
    return date_words(local(time_utc, zone).date())


def written_day(text: str) -> str:
    """Return a day written as 2024-05-01 in words; anything else as it is.

    Examples
    --------
    >>> written_day("2024-05-01"), written_day("2025")
    ('1 May 2024', '2025')
    """
    try:
        return date_words(date.fromisoformat(text))
    except ValueError:
        return text


def day(time_utc: datetime, zone: str) -> str:
    """Return the date with its weekday.

    Examples
    --------
    >>> day(datetime(2026, 3, 17, 15, 10, tzinfo=UTC), "Europe/Amsterdam")
    'Tuesday 17 March 2026'
    """
    return f"{weekday(time_utc, zone)} {day_only(time_utc, zone)}"


def when(time_utc: datetime, zone: str) -> str:
    """Return the weekday, the date and the local time.

    Examples
    --------
    >>> when(datetime(2026, 3, 17, 15, 10, tzinfo=UTC), "Europe/Amsterdam")
    'Tuesday 17 March 2026, 16:10'
    """
    return f"{day(time_utc, zone)}, {clock(time_utc, zone)}"


def date_time(time_utc: datetime, zone: str) -> str:
    """Return the date and the local time.

    Examples
    --------
    >>> date_time(datetime(2026, 3, 17, 15, 10, tzinfo=UTC), "Europe/Amsterdam")
    '17 March 2026, 16:10'
    """
    return f"{day_only(time_utc, zone)}, {clock(time_utc, zone)}"


def month_day(on: date) -> str:
    """Return the day and the month.

    Examples
    --------
    >>> month_day(date(2026, 4, 16))
    '16 April'
    """
    return _in_order(locale().datetime_skeletons["MMMMd"].pattern, on)


def month_day_short(on: date) -> str:
    """Return the day and the month as a chart has room for: "16 Apr"."""
    return f"{on.day} {month_short(on.month)}"


def month_short(month: int) -> str:
    """Return the short name of a month, from 1: "Apr"."""
    return month_name(month)[:3]


def month_name(month: int) -> str:
    """Return the name of a month, from 1.

    Examples
    --------
    >>> month_name(4)
    'April'
    """
    return str(get_month_names("wide", context="stand-alone", locale=locale_of_words())[month])


def month_year(on: date) -> str:
    """Return a month of a year: "April 2026"."""
    return _in_order(locale().datetime_skeletons["yMMMM"].pattern, on)


def with_offset(time_utc: datetime, zone: str) -> str:
    """Return an instant for a table: ISO 8601, local, with its offset.

    Examples
    --------
    >>> with_offset(datetime(2026, 3, 17, 15, 10, tzinfo=UTC), "Europe/Amsterdam")
    '2026-03-17T16:10:00+01:00'
    """
    return local(time_utc, zone).isoformat()


def month_of(time_utc: datetime, zone: str) -> tuple[int, int]:
    """Return the local year and month of an instant.

    Examples
    --------
    >>> month_of(datetime(2026, 3, 31, 22, tzinfo=UTC), "Europe/Amsterdam")
    (2026, 4)
    """
    here = local(time_utc, zone)
    return here.year, here.month


def soon(time_utc: datetime, zone: str, now_utc: datetime) -> str:
    """Return the weekday alone within six days of now, otherwise day and month.

    Examples
    --------
    >>> from datetime import timedelta
    >>> now = datetime(2026, 3, 17, 15, tzinfo=UTC)
    >>> soon(now + timedelta(days=3), "Europe/Amsterdam", now)
    'Friday'
    >>> soon(now + timedelta(days=30), "Europe/Amsterdam", now)
    '16 April'
    """
    here, today = local(time_utc, zone).date(), local(now_utc, zone).date()
    if 0 < (here - today).days <= 6:
        return weekday(time_utc, zone)
    return month_day(here)


def _in_order(pattern: str, on: date) -> str:
    """Return a day in the house's order, its month in the language of the sentences around it."""
    return format_date(on, pattern, locale_of_words())
