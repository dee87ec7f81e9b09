"""Numbers, units, dates and probabilities as text people read; the one place that rounds.

Numbers and dates follow the site's way (Babel). Plain, exact, calm: what was measured, what is
estimated, how sure.
"""

import math
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from babel.dates import format_date, format_skeleton, format_time, get_month_names
from babel.lists import format_list
from babel.numbers import format_decimal

from analysis.results import Coverage, LeadTime, Range
from dashboards.text.messages import _, counted, locale

MINUS = "\N{MINUS SIGN}"
NONE = "\N{EN DASH}"

ALMOST_SURELY, PROBABLY, MAY = 0.99, 0.7, 0.3
LONG = 10_000
DAY_H, YEAR_H = 24.0, 8766.0
SMALL = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve",
)  # fmt: skip


def number(value: float | None, decimals: int = 0) -> str:
    """Return a number with a true minus sign; a dash where there is none.

    From ten thousand on, thousands are set apart.

    Examples
    --------
    >>> number(-3.24, 1), number(float("nan")), number(-0.2), number(1240), number(52560)
    ('−3.2', '–', '0', '1240', '52,560')
    """
    if value is None or math.isnan(value):
        return NONE
    rounded = round(float(value), decimals) + 0.0
    whole = "#,##0" if abs(rounded) >= LONG else "0"
    return _decimal(rounded, f"{whole}.{'0' * decimals}" if decimals else whole)


def _decimal(value: float, pattern: str) -> str:
    return format_decimal(value, pattern, locale()).replace("-", MINUS)


def signed(value: float | None, decimals: int = 0) -> str:
    """Return a number that always shows its sign.

    Examples
    --------
    >>> signed(4.2), signed(-4.2), signed(0.1)
    ('+4', '−4', '0')
    """
    text = number(value, decimals)
    return text if text.startswith(MINUS) or text in (NONE, number(0.0, decimals)) else f"+{text}"


def with_unit(value: float | None, unit: str, decimals: int = 0) -> str:
    """Return a number and its unit; a dash alone where there is no number.

    Examples
    --------
    >>> with_unit(20.84, "°C", 1)
    '20.8 °C'
    """
    text = number(value, decimals)
    return text if text == NONE or not unit else f"{text} {unit}"


def rh(value: float | None) -> str:
    """Return relative humidity to the whole per cent."""
    return with_unit(value, "%RH")


def temp(value: float | None) -> str:
    """Return a temperature to a tenth of a degree."""
    return with_unit(value, "°C", 1)


def span(low: float, high: float, unit: str = "", decimals: int = 0) -> str:
    """Return a range; a single number where both ends round alike.

    Examples
    --------
    >>> span(40, 55, "%RH"), span(2.1, 2.4, "mm"), span(-3, 2, "%RH")
    ('40 to 55 %RH', '2 mm', '−3 to 2 %RH')
    """
    return joined(number(low, decimals), number(high, decimals), unit)


def joined(low: str, high: str, unit: str = "") -> str:
    """Return two finished numbers as the one form that a range has.

    Examples
    --------
    >>> joined("9.5", "21", "h"), joined("2", "2")
    ('9.5 to 21 h', '2')
    """
    ends = low if low == high else _("{low} to {high}", low=low, high=high)
    return ends if not unit or ends == NONE else f"{ends} {unit}"


def range_words(value: Range | None, unit: str = "", decimals: int = 0) -> str:
    """Return a number with its 5–95 % range, or a dash.

    Examples
    --------
    >>> range_words(Range(3.0, 6.2, 9.1), "%RH")
    '6 %RH (3 to 9)'
    """
    if value is None or math.isnan(value.mid):
        return NONE
    inside = span(value.low, value.high, "", decimals)
    middle = with_unit(value.mid, unit, decimals)
    return middle if inside == number(value.mid, decimals) else f"{middle} ({inside})"


def significant(value: float | None, digits: int = 3) -> str:
    """Return a number with so many significant digits, without needless zeros.

    Examples
    --------
    >>> significant(0.000123), significant(1234.5), significant(1.2e5), significant(4.2e-7)
    ('0.000123', '1230', '120,000', '4.2e−7')
    """
    if value is None or math.isnan(value):
        return NONE
    if value != 0 and abs(value) < 1e-4:
        mantissa, power = f"{value:.{digits - 1}e}".split("e")
        return f"{_decimal(float(mantissa), '0.##########')}e{int(power)}".replace("-", MINUS)
    rounded = float(f"{value:.{digits}g}")
    whole = "#,##0" if abs(rounded) >= LONG else "0"
    return _decimal(rounded, f"{whole}.##########")


def significant_range(value: Range, unit: str = "") -> str:
    """Return a number with its 5–95 % range, to two significant digits.

    Examples
    --------
    >>> significant_range(Range(9.5, 14.2, 21.0), "h")
    '14 h (9.5 to 21)'
    """
    middle = significant(value.mid, 2)
    inside = joined(significant(value.low, 2), significant(value.high, 2))
    return f"{middle} {unit}".rstrip() + f" ({inside})"


def percent(probability: float) -> str:
    """Return a probability as per cent, never as certainty.

    Examples
    --------
    >>> percent(0.816), percent(0.001), percent(0.999)
    ('82 %', 'under 1 %', 'over 99 %')
    """
    if math.isnan(probability):
        return NONE
    if probability < 0.01:
        return _("under {share}", share=with_unit(1, "%"))
    if probability > 0.99:
        return _("over {share}", share=with_unit(99, "%"))
    return with_unit(probability * 100, "%")


def share(part: float) -> str:
    """Return a share of a whole, from 0 to 1; none of it and all of it are said as such.

    Examples
    --------
    >>> share(0.0), share(0.004), share(0.415), share(1.0), share(float("nan"))
    ('0 %', 'under 1 %', '42 %', '100 %', 'cannot tell')
    """
    if math.isnan(part):
        return cannot_tell()
    return percent(part) if 0.0 < part < 1.0 else with_unit(part * 100, "%")


def cannot_tell() -> str:
    """Return what stands in place of a number that nothing tells."""
    return _("cannot tell")


def likely(probability: float) -> str:
    """Return "probably" above 0.7, "may" from 0.3 to 0.7, "unlikely" below 0.3.

    Examples
    --------
    >>> [likely(p) for p in (0.71, 0.7, 0.3, 0.29)]
    ['probably', 'may', 'may', 'unlikely']
    """
    if probability > PROBABLY:
        return _("probably")
    return _("may") if probability >= MAY else _("unlikely")


def likely_with_figure(probability: float) -> str:
    """Return the word with its figure beside it.

    Examples
    --------
    >>> likely_with_figure(0.82), likely_with_figure(float("nan"))
    ('probably (82 %)', 'cannot tell')
    """
    if math.isnan(probability):
        return cannot_tell()
    return f"{likely(probability)} ({percent(probability)})"


def duration(hours: float) -> str:
    """Return a length of time to two digits, in the unit people would use: its one form.

    Examples
    --------
    >>> [duration(h) for h in (5 / 3600, 0.4, 1, 2.9, 30, 60, 24 * 20, 8766.0, 17532.0)]
    ['5 s', '24 min', '1 h', '2.9 h', '30 h', '2.5 days', '20 days', '1 year', '2 years']
    """
    if not math.isfinite(hours):
        return NONE
    if hours < 1.0 / 60.0:
        return with_unit(hours * 3600.0, "s")
    if hours < 0.995:
        return f"{_two(hours * 60.0)} min"
    if hours < 1.98 * DAY_H:
        return f"{_two(hours)} h"
    if hours < 0.995 * YEAR_H:
        days = _two(hours / DAY_H)
        return counted("{many} day", "{many} days", _number_for_plural(days), many=days)
    years = _two(hours / YEAR_H)
    return counted("{many} year", "{many} years", _number_for_plural(years), many=years)


def interval(seconds: float) -> str:
    """Return the step between readings.

    Examples
    --------
    >>> interval(5.0), interval(900.0), interval(3600.0)
    ('5 s', '15 min', '1 h')
    """
    return duration(seconds / 3600.0)


def _two(value: float) -> str:
    return number(value) if value >= 9.95 else _decimal(round(value, 1), "0.#")


def _number_for_plural(shown: str) -> int:
    """Return 1 for what is read as one, else a number that is many in English."""
    return 1 if shown == number(1) else 2


def count(many: int) -> str:
    """Return a small number as a word, a large one in figures."""
    return _(SMALL[many]) if 0 <= many < len(SMALL) else number(many)


def plural(many: int, one: str, more: str = "") -> str:
    """Return a count with its noun.

    Examples
    --------
    >>> plural(1, "print"), plural(31, "print"), plural(0, "gallery", "galleries")
    ('one print', '31 prints', 'no galleries')
    """
    noun = counted(one, more or one + "s", many)
    return _("{count} {noun}", count=count(many), noun=noun)


def listed(names: Sequence[str]) -> str:
    """Return names as a sentence lists them.

    Examples
    --------
    >>> listed(["a"]), listed(["a", "b"]), listed(["a", "b", "c"])
    ('a', 'a and b', 'a, b and c')
    """
    return format_list(list(names), locale=locale()) if names else ""


def capital(text: str) -> str:
    """Return the text with its first letter as a capital, the rest as it was."""
    return text[:1].upper() + text[1:]


def uncapital(text: str) -> str:
    """Return the text with its first letter small, the rest as it was."""
    return text[:1].lower() + text[1:]


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
    return format_date(local(time_utc, zone).date(), "EEEE", locale())


def weekday_short(time_utc: datetime, zone: str) -> str:
    """Return the day's name as a chart has room for: "Tue"."""
    return format_date(local(time_utc, zone).date(), "EEE", locale())


def day_heading(on: date, *, short: bool = False) -> str:
    """Return a day as it stands above a chart.

    Examples
    --------
    >>> day_heading(date(2026, 3, 19)), day_heading(date(2026, 3, 19), short=True)
    ('Thu 19', 'Th 19')
    """
    name = format_date(on, "EEE", locale())
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
    return format_date(on, "long", locale())


def day_only(time_utc: datetime, zone: str) -> str:
    """Return the date of an instant, without its weekday.

    Examples
    --------
    >>> day_only(datetime(2026, 6, 3, 12, tzinfo=UTC), "UTC")
    '3 June 2026'
    """
    return date_words(local(time_utc, zone).date())


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
    return format_skeleton("MMMMd", on, locale=locale())


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
    return str(get_month_names("wide", context="stand-alone", locale=locale())[month])


def month_year(on: date) -> str:
    """Return a month of a year: "April 2026"."""
    return format_skeleton("yMMMM", on, locale=locale())


def soon(time_utc: datetime, zone: str, now_utc: datetime) -> str:
    """Return the weekday alone within six days of now, otherwise day and month.

    Examples
    --------
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


def week_dates(iso_week: str) -> str:
    """Return the dates of an ISO week.

    Examples
    --------
    >>> week_dates("2026-W12"), week_dates("2026-W14"), week_dates("2026-W01")
    ('16 to 22 March 2026', '30 March to 5 April 2026', '29 December 2025 to 4 January 2026')
    """
    year, week = iso_week.split("-W")
    first = date.fromisocalendar(int(year), int(week), 1)
    last = first + timedelta(days=6)
    if first.year != last.year:
        return joined(date_words(first), date_words(last))
    start = number(first.day) if first.month == last.month else month_day(first)
    return joined(start, date_words(last))


def ago(hours: float) -> str:
    """Return how long ago something was: "8 months ago".

    Examples
    --------
    >>> ago(2.0), ago(72.0), ago(24 * 245.0)
    ('2 h ago', '3 days ago', '245 days ago')
    """
    return _("{duration} ago", duration=duration(hours))


def lead_words(lead: LeadTime | None) -> str:
    """Return how long a work has got, in both cases, as one sentence.

    Examples
    --------
    >>> lead_words(LeadTime(52.0, 20.0, 336.0))
    'If the room stays as it is, waves may show in about 2.2 days; if its trend goes on, in about
    20 h.'
    >>> lead_words(LeadTime(None, 30.0, 336.0))
    'If the room stays as it is, no waves within 14 days; if its trend goes on, in about 30 h.'
    """
    if lead is None:
        return _("No lead time can be given.")
    stays, trend = lead.if_room_stays_h, lead.if_trend_goes_on_h
    within = duration(lead.horizon_h)
    if stays is None and trend is None:
        return _(
            "No waves are expected within {within}, whether the room stays or its trend goes on.",
            within=within,
        )
    if stays is not None and stays <= 0.0:
        return _("Waves may show already.")
    here = (
        _("waves may show in about {time}", time=duration(stays))
        if stays
        else _("no waves within {within}", within=within)
    )
    then = (
        _("in about {time}", time=duration(trend))
        if trend
        else _("none within {within}", within=within)
    )
    return _(
        "If the room stays as it is, {here}; if its trend goes on, {then}.", here=here, then=then
    )


def coverage_words(coverage: Coverage) -> str:
    """Return how much was measured, as one sentence.

    Examples
    --------
    >>> coverage_words(Coverage(97.2, 14, 20, 3.0, 900.0))
    '97 % of the week measured, one reading every 15 min; longest gap 3 h; 14 readings doubted.'
    """
    measured = share(coverage.valid_pct / 100.0)
    parts = [_("{share} of the week measured", share=measured)]
    if math.isfinite(coverage.interval_s):
        every = interval(coverage.interval_s)
        parts = [
            _("{share} of the week measured, one reading every {step}", share=measured, step=every)
        ]
    if coverage.longest_gap_h > 0:
        parts.append(_("longest gap {time}", time=duration(coverage.longest_gap_h)))
    if coverage.flagged:
        parts.append(_("{readings} doubted", readings=plural(coverage.flagged, "reading")))
    return capital("; ".join(parts)) + "."
