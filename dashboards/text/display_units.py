"""Units in which a person reads a parameter, where the calculation's own are awkward."""

import math
from collections.abc import Mapping

from analysis.results import Range
from dashboards.text import wording

# The calculation's unit → (factor, the unit shown).
BY_UNIT: Mapping[str, tuple[float, str]] = {
    "1/%": (1000.0, "mm per m per %RH"),
    "1/K": (1000.0, "mm per m per K"),
}
# The few whose unit is a bare number: parameter → (factor, the unit shown).
BY_NAME: Mapping[str, tuple[float, str]] = {
    "prestrain": (1000.0, "mm per m"),
    "hinge_week_strain": (1000.0, "mm per m"),
    "shrinkage_md": (1000.0, "mm per m"),
    "shrinkage_cd": (1000.0, "mm per m"),
    "relax_per_decade": (100.0, "% per tenfold time"),
    "softening_per_pct": (100.0, "% per % moisture"),
    "mechano_sorptive_per_pct": (100.0, "% per % moisture"),
    "image_share": (100.0, "%"),
    "gelatin_share": (100.0, "%"),
    "hinge_coverage": (100.0, "%"),
}
# The most decimals to which a unit is read, however narrow a range is.
FINEST: Mapping[str, int] = {"%RH": 1, "°C": 1, "%": 0, "N/m": 0, "mrad": 1, "d": 0}
OTHERWISE = 6  # for any other unit


def scale(name: str, unit: str) -> tuple[float, str]:
    """Return the factor from the calculation's unit to the one a person reads, and its words.

    Examples
    --------
    >>> scale("beta_cd", "1/%"), scale("half_time_h", "h")
    ((1000.0, 'mm per m per %RH'), (1.0, 'h'))
    """
    return BY_NAME.get(name) or BY_UNIT.get(unit, (1.0, unit))


def shown(name: str, unit: str, value: Range) -> tuple[Range, str]:
    """Return a parameter's range and unit as a person reads them.

    Examples
    --------
    >>> shown("beta_cd", "1/%", Range(6e-5, 9e-5, 1.5e-4))
    (Range(low=0.06, mid=0.09, high=0.15), 'mm per m per %RH')
    """
    factor, words = scale(name, unit)
    scaled = (round(x * factor, 12) for x in (value.low, value.mid, value.high))
    return Range(*scaled), words


def learned_words(value: Range, unit: str) -> str:
    """Return a number with its 5–95 % range and unit, with no more digits than are known.

    Where a range is wide, each number has two digits that count; where it is narrow, as many as
    tell its ends apart, and never a step finer than the unit is read to.

    Examples
    --------
    >>> learned_words(Range(0.06, 0.081, 0.11), "mm per m per %RH")
    '0.08 mm per m per %RH (0.06 to 0.11)'
    >>> learned_words(Range(9.5, 14.2, 21.0), "h"), learned_words(Range(-1.4, -0.001, 1.4), "%RH")
    ('14 h (10 to 21)', '0.0 %RH (−1.4 to 1.4)')
    >>> learned_words(Range(569.3, 1604.2, 4198.0), "N/m")
    '1600 N/m (570 to 4200)'
    """
    decimals = min(_decimals(value.high - value.low), FINEST.get(unit, OTHERWISE))
    low, mid, high = (_rounded(x, decimals) for x in (value.low, value.mid, value.high))
    shown_decimals = max(0, decimals)
    middle, least, most = (wording.number(one, shown_decimals) for one in (mid, low, high))
    return wording.with_range(middle, least, most, unit)


def _rounded(value: float, decimals: int) -> float:
    """Return a number rounded to so many decimals; left of the point, to two digits that count."""
    if decimals >= 0 or value == 0.0 or not math.isfinite(value):
        return value
    return round(value, max(decimals, 1 - math.floor(math.log10(abs(value)))))


def _decimals(width: float) -> int:
    """Return the decimals that a range of this width deserves; below zero: tens, hundreds."""
    if not math.isfinite(width) or width <= 0.0:
        return 1
    return -math.floor(math.log10(width / 3.0))
