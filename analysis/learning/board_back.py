"""Half-time of a frame from its board and its back, each with a range, and units of permeance."""

import math
from collections.abc import Mapping

import numpy as np

from analysis.chain.enclosure import PERM_US, half_time_from_build_h
from analysis.errors import OutOfRangeError, UnknownNameError
from analysis.parameters import parameter
from analysis.results import Range

# Units in which a permeance is stated, in words.
PERMEANCE_UNITS: Mapping[str, str] = {
    "kg/(m² s Pa)": "kg/(m² s Pa)",
    "US perm": "US perm",
    "m of still air": "equivalent air layer (s_d), m",
}


def permeance_from(value: float, unit: str) -> float:
    """Return a permeance stated in one of `PERMEANCE_UNITS` [kg/(m² s Pa)].

    Examples
    --------
    >>> f"{permeance_from(0.04, 'm of still air'):.3g}", f"{permeance_from(10.0, 'US perm'):.3g}"
    ('4.75e-09', '5.71e-10')
    """
    if not value > 0.0:
        raise OutOfRangeError(
            read="permeance of the back",
            where="back_permeance",
            found=f"{value:g} {unit}",
            expected="more than 0",
            action="Correct it, or leave it out: then that of common board is taken.",
        )
    if unit == "m of still air":
        return parameter("offcuts", "still_air", "permeability").value / value
    if unit == "US perm":
        return value * PERM_US
    if unit not in PERMEANCE_UNITS:
        raise UnknownNameError(read="units of permeance", name=unit, known=PERMEANCE_UNITS)
    return value


def permeance_range(stated: Range, unit: str) -> Range:
    """Return a range of permeances in kg/(m² s Pa), low to high whatever the unit."""
    three = [permeance_from(x, unit) for x in (stated.low, stated.mid, stated.high)]
    return Range(min(three), three[1], max(three))


def half_time_range_h(mass_kg_m2: Range, permeance: Range | None = None) -> Range:
    """Return the half-time of a frame from board and back, at 20 °C and 50 %RH [h].

    Parameters
    ----------
    mass_kg_m2 : Range
        Absorbent board that exchanges with the print, per area of frame. [kg/m²]
    permeance : Range, optional
        Of the back, films included; that of common board when left out. [kg/(m² s Pa)]

    Returns
    -------
    Range
        The middle by `half_time_from_build_h`; the ends as if the logarithms of mass, capacity
        and permeance were independent and normal, each range holding 95 %.

    Examples
    --------
    >>> found = half_time_range_h(Range(1.8, 2.0, 2.2), Range(2e-9, 2.5e-9, 3e-9))
    >>> [round(x, 1) for x in (found.low, found.mid, found.high)]
    [4.6, 6.7, 9.8]
    """
    row = parameter("frames", "board", "permeance")
    capacity = parameter("frames", "board", "capacity")
    back = permeance or Range(row.low, row.value, row.high)
    parts = (mass_kg_m2, Range(capacity.low, capacity.value, capacity.high), back)
    for part in parts:
        _require_rising(part)
    middle = float(half_time_from_build_h(*(np.array(part.mid) for part in parts)))
    # JCGM100, eq. 10, in logarithms: each half-width is half of ln(high/low)
    spread = math.sqrt(sum((0.5 * math.log(part.high / part.low)) ** 2 for part in parts))
    return Range(middle * math.exp(-spread), middle, middle * math.exp(spread))


def _require_rising(stated: Range) -> None:
    if not 0.0 < stated.low <= stated.mid <= stated.high:
        raise OutOfRangeError(
            read="board and back",
            where="board_mass_kg_m2",
            found=f"{stated.low:g}, {stated.mid:g}, {stated.high:g}",
            expected="lowest, likely and highest in rising order, all above 0",
            action="Correct the value or its range.",
        )
