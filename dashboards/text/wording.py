"""Numbers, units, dates and probabilities as text people read; the one place that rounds.

Numbers and dates follow the site's way (Babel). Plain, exact, calm: what was measured, what is
estimated, how sure.
"""

import math
from collections.abc import Sequence
from datetime import date, timedelta
from functools import lru_cache
from typing import Literal

from babel import Locale
from babel.lists import format_list
from babel.numbers import format_decimal, get_decimal_symbol

from analysis.results import Coverage, LeadTime, Range
from dashboards.text.dates import (
    clock as clock,
    date_time as date_time,
    date_words as date_words,
    day as day,
    day_heading as day_heading,
    day_only as day_only,
    day_time as day_time,
    local as local,
    month_day as month_day,
    month_day_short as month_day_short,
    month_name as month_name,
    month_short as month_short,
    month_year as month_year,
    part_of_day as part_of_day,
    short_time as short_time,
    soon as soon,
    weekday as weekday,
    weekday_short as weekday_short,
    when as when,
    written_day as written_day,
)
from dashboards.text.messages import (
    N_,
    _,
    counted,
    in_context,
    language,
    locale,
    locale_of_words,
    translated,
)

MINUS = "\N{MINUS SIGN}"
NONE = "\N{EN DASH}"

# Units that a language writes with words of its own; a translator finds them here.
UNITS_IN_WORDS = (
    N_("%RH"),
    N_("%RH/K"),
    N_("%RH/K²"),
    N_("%RH/K³"),
    N_("%RH/a"),
    N_("%RH/min"),
    N_("%RH·h"),
    N_("h/%RH"),
    N_("mm per m per %RH"),
    N_("mm per m per K"),
    N_("mm per m"),
    N_("% per tenfold time"),
    N_("% per % moisture"),
    N_("parts by weight"),
    N_("edges"),
    N_("hinges"),
    N_("months"),
    N_("y"),
)

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
    return _decimal_of(locale(), value + 0.0, pattern)  # no zero has a sign


@lru_cache(maxsize=8192)  # the same few thousand numbers stand on every page
def _decimal_of(way: Locale, value: float, pattern: str) -> str:
    return format_decimal(value, pattern, way).replace("-", MINUS)


def decimal_mark() -> str:
    """Return the mark between whole and tenths, for numbers that a chart has formed itself."""
    return str(get_decimal_symbol(locale()))


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
    return text if text == NONE or not unit else f"{text} {unit_words(unit)}"


def unit_words(unit: str) -> str:
    """Return a unit as the site's language writes it; symbols of the SI stay as they are.

    Examples
    --------
    >>> unit_words("%RH"), unit_words("mm")
    ('%RH', 'mm')
    """
    return translated(unit)


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
    return ends if not unit or ends == NONE else f"{ends} {unit_words(unit)}"


def range_words(value: Range | None, unit: str = "", decimals: int = 0) -> str:
    """Return a number with its 5–95 % range, or a dash.

    Examples
    --------
    >>> range_words(Range(3.0, 6.2, 9.1), "%RH")
    '6 %RH (3 to 9)'

    Where nearly all draws stand at nought the range has no width, which is no certainty: what is
    shown is known to the last digit shown, no better.

    >>> range_words(Range(0.0, 0.0, 0.0), "mrad"), range_words(Range(0.0, 0.0, 0.0), "mm", 1)
    ('0 mrad (under 1)', '0.0 mm (under 0.1)')
    """
    if value is None or math.isnan(value.mid):
        return NONE
    if value.low == value.high == 0.0:
        nought, least = (number(one, decimals) for one in (0.0, 10.0**-decimals))
        shown = f"{nought} {unit_words(unit)}".rstrip()
        return _("{nought} (under {least})", nought=shown, least=least)
    low, middle, high = (number(one, decimals) for one in (value.low, value.mid, value.high))
    return with_range(middle, low, high, unit)


def with_range(middle: str, low: str, high: str, unit: str = "") -> str:
    """Return finished numbers as the one form that a number with its range has.

    Examples
    --------
    >>> with_range("14", "10", "21", "h"), with_range("2", "2", "2", "mm")
    ('14 h (10 to 21)', '2 mm')
    """
    inside = joined(low, high)
    shown = f"{middle} {unit_words(unit)}".rstrip()
    return shown if inside == middle else f"{shown} ({inside})"


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
    return in_context("how many", SMALL[many]) if 0 <= many < len(SMALL) else number(many)


def plural(many: int, one: str, more: str = "") -> str:
    """Return a count with its noun.

    Examples
    --------
    >>> plural(1, "print"), plural(31, "print"), plural(0, "gallery", "galleries")
    ('one print', '31 prints', 'no galleries')
    """
    noun = counted(one, more or one + "s", many)
    return _("{count} {noun}", count=count(many), noun=noun)


def listed(names: Sequence[str], way: Literal["standard", "or"] = "standard") -> str:
    """Return names as a sentence lists them, joined by "and" or by "or".

    Examples
    --------
    >>> listed(["a"]), listed(["a", "b"]), listed(["a", "b", "c"])
    ('a', 'a and b', 'a, b and c')
    >>> listed(["a", "b"], "or")
    'a or b'
    """
    return format_list(list(names), way, locale=locale_of_words()) if names else ""


def capital(text: str) -> str:
    """Return the text with its first letter as a capital, the rest as it was."""
    return text[:1].upper() + text[1:]


def uncapital(text: str) -> str:
    """Return the text as it stands within a sentence: its first letter small, the rest as it was.

    In German it stays as it is, for the first word may be a noun.

    Examples
    --------
    >>> uncapital("Width of the sheet")
    'width of the sheet'
    """
    return text if language() == "de" else text[:1].lower() + text[1:]


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
    if first.month != last.month:
        return joined(month_day(first), date_words(last))
    return _("{day} to {last}", day=number(first.day), last=date_words(last))


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


def scarce_words(coverage: Coverage | None) -> str:
    """Return what goes in place of a result where too little was measured, else nothing.

    Examples
    --------
    >>> scarce_words(Coverage(42.0, 0, 20, 3.0, 900.0, needed_pct=75.0))
    'Cannot tell: 42 % of the period was measured, 75 % is needed.'
    """
    if coverage is None or coverage.enough:
        return ""
    return _(
        "Cannot tell: {measured} of the period was measured, {needed} is needed.",
        measured=with_unit(coverage.valid_pct, "%"),
        needed=with_unit(coverage.needed_pct, "%"),
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
