"""What a sealed package holds: the humidity of the day it was closed, and where it goes from there.

Its boards and its print hold nearly all its water, so with temperature its humidity moves a little
the other way than that of empty air: up when warmed, down when cooled.
"""

from dataclasses import dataclass

import numpy as np

from analysis.air.moist_air import (
    dew_point_from_vapour_pressure_c,
    rh_from_vapour_pressure,
    vapour_pressure_pa,
)
from analysis.chain.isotherm import psi_of, shift_factor
from analysis.harm.condensation import glazing_margin_k

MOULD_RH_PCT = 85.0  # at the glass; where the margin of the cold-wall rule begins
BACK_WARMER_K = 3.0


@dataclass(frozen=True)
class Package:
    """A sealed package closed at a humidity and a temperature.

    ``cooled_rh_pct`` and ``warmed_rh_pct`` are its humidity at the room's coldest and warmest.
    ``dew_k`` is how much colder than the package the glazing may be before water forms inside it,
    ``humid_k`` before the air at it passes 85 %RH. ``print_rh_pct`` is the humidity at a print that
    is 3 K cooler than the absorbent board behind it.
    """

    rh_pct: float
    temp_c: float
    coldest_c: float
    warmest_c: float
    cooled_rh_pct: float
    warmed_rh_pct: float
    dew_k: float
    humid_k: float
    print_rh_pct: float


def package(rh_pct: float, temp_c: float, coldest_c: float, warmest_c: float) -> Package:
    """Return what a package closed now would hold.

    Parameters
    ----------
    rh_pct, temp_c : float
        Humidity and temperature inside when it is closed.
    coldest_c, warmest_c : float
        Between which the room moves.
    """
    return Package(
        rh_pct=rh_pct,
        temp_c=temp_c,
        coldest_c=coldest_c,
        warmest_c=warmest_c,
        cooled_rh_pct=held_rh_pct(rh_pct, temp_c, coldest_c),
        warmed_rh_pct=held_rh_pct(rh_pct, temp_c, warmest_c),
        dew_k=float(glazing_margin_k(temp_c, rh_pct)),
        humid_k=humid_margin_k(temp_c, rh_pct),
        print_rh_pct=before_a_warmer_board_pct(rh_pct, temp_c, BACK_WARMER_K),
    )


def held_rh_pct(rh_pct: float, temp_c: float, now_c: float) -> float:
    """Return the humidity of a sealed package full of paper when its temperature changes [%].

    Examples
    --------
    >>> round(held_rh_pct(50.0, 20.0, 10.0), 2), round(held_rh_pct(50.0, 20.0, 30.0), 2)
    (46.26, 53.77)
    """
    psi = psi_of(rh_pct, temp_c)
    return 100.0 * psi * shift_factor(psi, now_c)


def humid_margin_k(temp_c: float, rh_pct: float, surface_rh_pct: float = MOULD_RH_PCT) -> float:
    """Return how much colder than the package a surface may be before it is that humid [K].

    Examples
    --------
    >>> round(humid_margin_k(20.0, 50.0), 1), round(humid_margin_k(20.0, 70.0), 1)
    (8.3, 3.1)
    """
    pressure = np.asarray(vapour_pressure_pa(temp_c, rh_pct))
    return temp_c - float(dew_point_from_vapour_pressure_c(pressure * 100.0 / surface_rh_pct))


def before_a_warmer_board_pct(rh_pct: float, temp_c: float, warmer_k: float) -> float:
    """Return the humidity at a print when the board behind it, which holds the water, is warmer.

    Examples
    --------
    >>> round(before_a_warmer_board_pct(50.0, 20.0, 0.0))
    50
    """
    board = held_rh_pct(rh_pct, temp_c, temp_c + warmer_k)
    pressure = vapour_pressure_pa(temp_c + warmer_k, board)
    return float(np.minimum(rh_from_vapour_pressure(temp_c, pressure), 100.0))


def package_words(found: Package) -> list[str]:
    """Return what to know before closing, in plain sentences."""
    return [
        f"Through the room's year, {found.coldest_c:.0f} to {found.warmest_c:.0f} °C, a package "
        f"closed now would go from {found.cooled_rh_pct:.0f} to {found.warmed_rh_pct:.0f} %RH by "
        "temperature alone: its boards hold the water, so it rises as it warms.",
        f"Should an absorbent back be {BACK_WARMER_K:.0f} K warmer than the print, as when a wall "
        f"is heated or a lamp goes off, the air at the print goes to {found.print_rh_pct:.0f} %RH.",
        f"Water forms inside the glazing where that is {found.dew_k:.1f} K colder than the "
        f"package; {MOULD_RH_PCT:.0f} %RH, where mould may grow, is reached at "
        f"{found.humid_k:.1f} K.",
    ]
