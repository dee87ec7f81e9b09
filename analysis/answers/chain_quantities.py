"""The quantities of the chain: their steps, words and units, and which parameters act on each."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

STEPS = ("room", "frame", "print", "tension", "surface")


@dataclass(frozen=True)
class Quantity:
    """One quantity that is known draw by draw at an hour.

    Parameters
    ----------
    step, name, words, unit : str
        Its step of the chain, its name in code, its words and unit for people.
    times : float
        From the calculation's unit to the one shown.
    decimals : int
        How many are worth showing.
    leading : bool
        Whether it stands for its step in the picture.
    also : sequence of str
        Parameters that act on it beside those of its step.
    since_mounting : bool
        Whether it is counted from the state at mounting.
    """

    step: str
    name: str
    words: str
    unit: str
    times: float = 1.0
    decimals: int = 0
    leading: bool = False
    also: Sequence[str] = ()
    since_mounting: bool = False


def _stretch(step: str, name: str, words: str) -> tuple[Quantity, Quantity]:
    """Return a strain since mounting across and along the grain, in mm per m."""
    across = Quantity(step, f"{name}_cd", f"{words}, across the grain", "mm per m", 1000.0, 2)
    along = Quantity(step, f"{name}_md", f"{words}, along the grain", "mm per m", 1000.0, 2)
    return replace(across, since_mounting=True), replace(along, since_mounting=True)


QUANTITIES = (
    Quantity("room", "room_rh_pct", "relative humidity", "%RH", leading=True),
    Quantity("room", "room_temp_c", "temperature", "°C", decimals=1),
    Quantity("frame", "frame_rh_pct", "relative humidity", "%RH", leading=True),
    Quantity("frame", "temp_c", "temperature at the print", "°C", decimals=1),
    Quantity("print", "print_rh_pct", "humidity the print has taken up", "%RH", leading=True),
    Quantity("print", "core_rh_pct", "humidity of its body", "%RH"),
    Quantity("print", "image_rh_pct", "humidity of its image layer", "%RH"),
    *_stretch("print", "print_strain", "growth of the print since mounting"),
    *_stretch("print", "panel_strain", "growth of the panel since mounting"),
    Quantity("tension", "tension_n_m", "pull on the edge", "N/m", leading=True),
    Quantity("tension", "headroom_up_pct", "spare before it goes slack", "%RH", leading=True),
    Quantity("tension", "headroom_down_pct", "spare before its hinges are loaded", "%RH"),
    Quantity("tension", "prestrain", "stretch at mounting", "mm per m", 1000.0, 2),
    Quantity("tension", "tension_cd", "pull across the grain", "N/m"),
    Quantity("tension", "tension_md", "pull along the grain", "N/m"),
    Quantity("tension", "hinge_load_pct", "load on the hinges, of what they bear", "%",
             also=("hinge_capacity_n_m",)),
    *_stretch("tension", "relaxed", "stretch that relaxation took"),
    *_stretch("tension", "cycled", "stretch that swings took"),
    *_stretch("tension", "crept", "stretch that giving hinges took"),
    *_stretch("tension", "left", "stretch that is left (below zero: slack)"),
    Quantity("surface", "slack", "surplus length", "mm per m", 1000.0, 2),
    Quantity("surface", "slope_mrad", "steepest slope of the surface", "mrad", leading=True),
    Quantity("surface", "wave_mm", "height of the waves", "mm", decimals=1, also=("wavelength_m",)),
    Quantity("surface", "clearance_mm", "clearance left to the glazing", "mm", decimals=1,
             also=("wavelength_m", "gap_mm")),
)  # fmt: skip

_AIR = ("sensor_offset_pct", "logger_drift_pct_a", "gap_fill")
_WARMTH = ("frame_minus_logger_k", "thermal_time_h", "wall_factor", "outdoor_temp_c")
_FRAME = (*_AIR, *_WARMTH, "half_time_h", "shift_per_k", "closing_rh_pct", "mounted_rh_pct")
_PRINT = (*_FRAME, "core_half_time_h", "image_half_time_h", "image_share")
_ONLY_LATER = (
    "visible_slope_mrad",
    "wavelength_m",
    "gap_mm",
    "hinge_capacity_n_m",
    "hinge_week_strain",
)
# What acts on a quantity by nature; where a name is missing, all but `_ONLY_LATER` does.
_ACTING: Mapping[str, Sequence[str]] = {
    "room_rh_pct": _AIR,
    "room_temp_c": (),
    "prestrain": ("prestrain",),
    "frame_rh_pct": _FRAME,
    "temp_c": _WARMTH,
    "print_rh_pct": _PRINT,
    "core_rh_pct": (*_FRAME, "core_half_time_h"),
    "image_rh_pct": (*_FRAME, "image_half_time_h"),
}
# The last step whose numbers hold although the work cannot be judged, by the key of the refusal.
_HOLDS_TO: Mapping[str, str] = {
    "above 85 %RH": "frame",
}


def acting(quantity: Quantity, parameters: Sequence[str]) -> list[str]:
    """Return those of the parameters that act on a quantity.

    Examples
    --------
    >>> room = QUANTITIES[0]
    >>> acting(room, ["beta_cd", "sensor_offset_pct"])
    ['sensor_offset_pct']
    """
    known = _ACTING.get(quantity.name)
    if known is None:
        known = [name for name in parameters if name not in _ONLY_LATER]
    return [name for name in parameters if name in known or name in quantity.also]


def holds(quantity: Quantity, refused: str) -> bool:
    """Return whether a quantity can be told although a judgement is refused.

    Examples
    --------
    >>> room, surface = QUANTITIES[0], QUANTITIES[-1]
    >>> holds(room, "gap"), holds(surface, "gap"), holds(surface, "")
    (True, False, True)
    """
    last = _HOLDS_TO.get(refused, "room") if refused else STEPS[-1]
    if refused and quantity.since_mounting:
        return False
    return STEPS.index(quantity.step) <= STEPS.index(last)
