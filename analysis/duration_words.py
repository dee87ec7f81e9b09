"""Lengths of time as people say them."""

DAY_H, YEAR_H = 24.0, 8766.0


def hours_words(hours: float) -> str:
    """Return a length of time to two digits, in the unit people would use.

    Examples
    --------
    >>> hours_words(0.2), hours_words(7.94), hours_words(480.0), hours_words(17532.0)
    ('12 min', '7.9 h', '20 days', '2 years')
    """
    if hours < 1.0:
        return f"{_two(hours * 60.0)} min"
    if hours < 2.0 * DAY_H:
        return f"{_two(hours)} h"
    if hours < YEAR_H:
        return f"{_two(hours / DAY_H)} days"
    years = _two(hours / YEAR_H)
    return f"{years} year" if years == "1" else f"{years} years"


def _two(value: float) -> str:
    return f"{value:.0f}" if value >= 9.95 else f"{value:.1f}".removesuffix(".0")
