"""Numbers, units, dates and probabilities as text people read; the one place that rounds.

Plain, exact, calm: what was measured, what is estimated, how sure.
"""

import math
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from analysis.results import Coverage, LeadTime, Range

MINUS = "\N{MINUS SIGN}"
RANGE = "\N{EN DASH}"
NONE = RANGE

PROBABLY, MAY = 0.7, 0.3
LONG = 10_000
SMALL = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve",
)  # fmt: skip
DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
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
    comma = "," if abs(value) >= LONG else ""
    text = f"{value:{comma}.{decimals}f}"
    if float(text.replace(",", "")) == 0:
        text = text.lstrip("-")
    return text.replace("-", MINUS)


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
    >>> span(40, 55, "%RH"), span(2.1, 2.4, "mm")
    ('40–55 %RH', '2 mm')
    >>> span(-3, 2, "%RH")
    '−3 to 2 %RH'
    """
    first, last = number(low, decimals), number(high, decimals)
    if first == last:
        return with_unit(low, unit, decimals)
    joined = f"{first} to {last}" if MINUS in first + last else f"{first}{RANGE}{last}"
    return f"{joined} {unit}" if unit else joined


def range_words(value: Range | None, unit: str = "", decimals: int = 0) -> str:
    """Return a number with its 5–95 % range, or a dash.

    Examples
    --------
    >>> range_words(Range(3.0, 6.2, 9.1), "%RH")
    '6 %RH (3–9)'
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
        tidy = mantissa.rstrip("0").rstrip(".") if "." in mantissa else mantissa
        return f"{tidy}e{int(power)}".replace("-", MINUS)
    rounded = float(f"{value:.{digits}g}")
    text = f"{rounded:{',' if abs(rounded) >= LONG else ''}.10f}".rstrip("0").rstrip(".")
    return text.replace("-", MINUS)


def significant_range(value: Range, unit: str = "") -> str:
    """Return a number with its 5–95 % range, to two significant digits.

    Examples
    --------
    >>> significant_range(Range(9.5, 14.2, 21.0), "h")
    '14 h (9.5–21)'
    """
    middle = significant(value.mid, 2)
    inside = f"{significant(value.low, 2)}{RANGE}{significant(value.high, 2)}"
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
        return "under 1 %"
    if probability > 0.99:
        return "over 99 %"
    return f"{probability * 100:.0f} %"


def likely(probability: float) -> str:
    """Return "probably" above 0.7, "may" from 0.3 to 0.7, "unlikely" below 0.3.

    Examples
    --------
    >>> [likely(p) for p in (0.71, 0.7, 0.3, 0.29)]
    ['probably', 'may', 'may', 'unlikely']
    """
    if probability > PROBABLY:
        return "probably"
    return "may" if probability >= MAY else "unlikely"


def likely_with_figure(probability: float) -> str:
    """Return the word with its figure beside it.

    Examples
    --------
    >>> likely_with_figure(0.82)
    'probably (82 %)'
    >>> likely_with_figure(float("nan"))
    'cannot tell'
    """
    if math.isnan(probability):
        return "cannot tell"
    return f"{likely(probability)} ({percent(probability)})"


def duration(hours: float) -> str:
    """Return a length of time as a person says it.

    Examples
    --------
    >>> [duration(h) for h in (0.4, 1, 2.9, 30, 49, 24 * 20)]
    ['25 min', '1 h', '3 h', '30 h', '2 days', '20 days']
    """
    if hours < 0.95:
        return f"{max(5, round(hours * 12) * 5)} min"
    if hours < 47.5:
        return f"{hours:.0f} h"
    return f"{hours / 24:.0f} days"


def count(many: int) -> str:
    """Return a small number as a word, a large one in figures."""
    return SMALL[many] if 0 <= many < len(SMALL) else number(many)


def plural(many: int, one: str, more: str = "") -> str:
    """Return a count with its noun.

    Examples
    --------
    >>> plural(1, "print"), plural(31, "print"), plural(0, "gallery", "galleries")
    ('one print', '31 prints', 'no galleries')
    """
    return f"{count(many)} {one if many == 1 else more or one + 's'}"


def listed(names: Sequence[str]) -> str:
    """Return names as a sentence lists them.

    Examples
    --------
    >>> listed(["a"]), listed(["a", "b"]), listed(["a", "b", "c"])
    ('a', 'a and b', 'a, b and c')
    """
    if len(names) < 2:
        return "".join(names)
    return ", ".join(names[:-1]) + " and " + names[-1]


def capital(text: str) -> str:
    """Return the text with its first letter as a capital, the rest as it was."""
    return text[:1].upper() + text[1:]


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
    return f"{local(time_utc, zone):%H:%M}"


def day_time(time_utc: datetime, zone: str) -> str:
    """Return the weekday and the local time.

    Examples
    --------
    >>> day_time(datetime(2026, 3, 17, 15, 10, tzinfo=UTC), "Europe/Amsterdam")
    'Tuesday 16:10'
    """
    here = local(time_utc, zone)
    return f"{DAYS[here.weekday()]} {here:%H:%M}"


def day(time_utc: datetime, zone: str) -> str:
    """Return the date with its weekday.

    Examples
    --------
    >>> day(datetime(2026, 3, 17, 15, 10, tzinfo=UTC), "Europe/Amsterdam")
    'Tuesday 17 March 2026'
    """
    here = local(time_utc, zone)
    return f"{DAYS[here.weekday()]} {_date(here.date())}"


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
    here = local(time_utc, zone)
    return f"{_date(here.date())}, {here:%H:%M}"


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
        return DAYS[here.weekday()]
    return f"{here.day} {MONTHS[here.month - 1]}"


def _date(on: date) -> str:
    return f"{on.day} {MONTHS[on.month - 1]} {on.year}"


def week_dates(iso_week: str) -> str:
    """Return the dates of an ISO week.

    Examples
    --------
    >>> week_dates("2026-W12"), week_dates("2026-W14")
    ('16–22 March 2026', '30 March – 5 April 2026')
    """
    year, week = iso_week.split("-W")
    first = date.fromisocalendar(int(year), int(week), 1)
    last = first + timedelta(days=6)
    if first.month == last.month:
        return f"{first.day}{RANGE}{_date(last)}"
    start = f"{first.day} {MONTHS[first.month - 1]}"
    start += f" {first.year}" if first.year != last.year else ""
    return f"{start} {RANGE} {_date(last)}"


def lead_words(lead: LeadTime | None) -> str:
    """Return how long a work has got, in both cases, as one sentence.

    Examples
    --------
    >>> lead_words(LeadTime(52.0, 20.0, 336.0))
    'If the room stays as it is, waves may show in about 2 days; if its trend goes on, in about
    20 h.'
    >>> lead_words(LeadTime(None, 30.0, 336.0))
    'If the room stays as it is, no waves within 14 days; if its trend goes on, in about 30 h.'
    """
    if lead is None:
        return "No lead time can be given."
    stays, trend = lead.if_room_stays_h, lead.if_trend_goes_on_h
    within = f"within {duration(lead.horizon_h)}"
    if stays is None and trend is None:
        return f"No waves are expected {within}, whether the room stays or its trend goes on."
    if stays is not None and stays <= 0.0:
        return "Waves may show already."
    here = f"waves may show in about {duration(stays)}" if stays else f"no waves {within}"
    then = f"in about {duration(trend)}" if trend else f"none {within}"
    return f"If the room stays as it is, {here}; if its trend goes on, {then}."


def coverage_words(coverage: Coverage) -> str:
    """Return how much was measured, as one sentence.

    Examples
    --------
    >>> coverage_words(Coverage(97.2, 14, 20, 3.0, 900.0))
    '97 % of the week measured, one reading every 15 min; longest gap 3 h; 14 readings doubted.'
    """
    if coverage.words:
        return capital(coverage.words.rstrip(".")) + "."
    parts = [f"{coverage.valid_pct:.0f} % of the week measured"]
    if math.isfinite(coverage.interval_s):
        parts[0] += f", one reading every {interval(coverage.interval_s)}"
    if coverage.longest_gap_h > 0:
        parts.append(f"longest gap {duration(coverage.longest_gap_h)}")
    if coverage.flagged:
        parts.append(f"{plural(coverage.flagged, 'reading')} doubted")
    return "; ".join(parts) + "."


def interval(seconds: float) -> str:
    """Return the step between readings.

    Examples
    --------
    >>> interval(5.0), interval(900.0), interval(3600.0)
    ('5 s', '15 min', '1 h')
    """
    if seconds < 60:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 3600 else f"{seconds / 3600:.0f} h"
