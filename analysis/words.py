"""Words for numbers and probabilities, as the calculations' own sentences need them."""

from datetime import datetime

from analysis.results import Range

PROBABLY, PERHAPS = 0.7, 0.3
MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


def whole(value: float) -> str:
    """Return a number to the nearest whole, with a true minus sign.

    Examples
    --------
    >>> whole(-3.6), whole(-0.2)
    ('−4', '0')
    """
    rounded = round(value)
    return f"−{-rounded}" if rounded < 0 else str(rounded)


def fixed(value: float, decimals: int) -> str:
    """Return a number with so many decimals, with a true minus sign.

    Examples
    --------
    >>> fixed(-0.314, 2), fixed(-0.001, 2)
    ('−0.31', '0.00')
    """
    rounded = round(value, decimals)
    return f"{'−' if rounded < 0 else ''}{abs(rounded):.{decimals}f}"


def span(low: float, high: float) -> str:
    """Return "low to high" in whole numbers.

    Examples
    --------
    >>> span(-2.2, 9.8)
    '−2 to 10'
    """
    return f"{whole(low)} to {whole(high)}"


def ranged(value: Range, unit: str) -> str:
    """Return the middle with the 5 and 95 % points: "6 % (2 to 11)".

    Examples
    --------
    >>> ranged(Range(2.2, 6.1, 10.9), " %")
    '6 % (2 to 11)'
    """
    return f"{whole(value.mid)}{unit} ({span(value.low, value.high)})"


def in_hundred(p: float) -> str:
    """Return a probability in per cent, never as certain.

    Examples
    --------
    >>> in_hundred(0.613), in_hundred(0.0), in_hundred(1.0)
    ('61 %', 'under 1 %', 'over 99 %')
    """
    if p < 0.01:
        return "under 1 %"
    return "over 99 %" if p > 0.99 else f"{100.0 * p:.0f} %"


def likely(p: float, fact: str) -> str:
    """Return a statement with its likelihood, in words and in figures.

    Parameters
    ----------
    p : float
        Probability.
    fact : str
        What it would be: "slack".

    Examples
    --------
    >>> likely(0.8, "slack"), likely(0.4, "slack"), likely(0.05, "slack")
    ('is probably slack (80 %)', 'may be slack (40 %)', 'is unlikely to be slack (5 %)')
    """
    if p > PROBABLY:
        return f"is probably {fact} ({in_hundred(p)})"
    if p >= PERHAPS:
        return f"may be {fact} ({in_hundred(p)})"
    return f"is unlikely to be {fact} ({in_hundred(p)})"


def day(when: datetime) -> str:
    """Return a day: "3 June 2026".

    Examples
    --------
    >>> day(datetime(2026, 6, 3))
    '3 June 2026'
    """
    return f"{when.day} {MONTHS[when.month - 1]} {when.year}"


def duration(hours: float) -> str:
    """Return a duration: hours up to two days, then days.

    Examples
    --------
    >>> duration(1), duration(31), duration(100)
    ('1 hour', '31 hours', '4 days')
    """
    if hours < 48:
        count = round(hours)
        return f"{count} hour{'' if count == 1 else 's'}"
    return f"{round(hours / 24)} days"
