"""Hours in which gelatin softens, and in which it might stick to glazing that it touches.

The humidities are thresholds from table ``gelatin.toml``; all are assumed, and the hours
say nothing of contact, which nobody can read from air.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.air.time_weights import HOUR_S, cells, longest_run_h
from analysis.parameters import Parameter, table
from analysis.results import Range
from analysis.series import require_readings, usable

CONTACT_CAUTION = (
    "If contact with the glazing or sticking is suspected: do not touch, tap, tilt or unframe. "
    "Leave it hanging as it is and call a conservator."
)


@dataclass(frozen=True)
class HoursAbove:
    """Hours above one humidity, with those for both ends of its range.

    ``hours.low`` goes with the high end of the threshold.
    """

    name: str
    threshold: Parameter
    hours: Range
    longest_run_h: float
    measured_h: float


@dataclass(frozen=True)
class ImageLayerBounds:
    """Humidities that the image layer of a print bears, whatever its hinges would [%RH].

    Below ``floor`` gelatin stiffens and may crack, above ``ceiling`` it softens and may stick. Both
    are recalled, not read.
    """

    floor: Parameter
    ceiling: Parameter


@dataclass(frozen=True)
class BoundedSpare:
    """How far humidity may move before hinges or image layer object [%RH].

    ``by_image_layer`` is true where the image layer sets the end before the hinges or slackness do;
    zero where the air is beyond its bound already.
    """

    up_pct: float
    up_by_image_layer: bool
    down_pct: float
    down_by_image_layer: bool


def image_layer_bounds() -> ImageLayerBounds:
    """Return the floor and the ceiling for the image layer."""
    rows = table("gelatin")["image_layer"]
    return ImageLayerBounds(rows["floor"], rows["ceiling"])


def bounded_spare(print_rh_pct: float, up_pct: float, down_pct: float) -> BoundedSpare:
    """Return what is left of the mechanical spare once the image layer is minded too.

    Parameters
    ----------
    print_rh_pct : float
        Humidity of the print now [%].
    up_pct, down_pct : float
        How far humidity may rise before the print is slack, fall before its hinges are overloaded
        or it is slack [%RH].

    Examples
    --------
    >>> spare = bounded_spare(52.0, 6.0, 48.0)
    >>> spare.down_pct, spare.down_by_image_layer
    (22.0, True)
    >>> spare.up_pct, spare.up_by_image_layer
    (6.0, False)
    """
    bounds = image_layer_bounds()
    up = max(bounds.ceiling.value - print_rh_pct, 0.0)
    down = max(print_rh_pct - bounds.floor.value, 0.0)
    return BoundedSpare(min(up, up_pct), up < up_pct, min(down, down_pct), down < down_pct)


def softening_hours(readings: pd.DataFrame) -> list[HoursAbove]:
    """Return the hours in which gelatin begins to turn sticky and in which it is soft."""
    return _hours(readings, "softening")


def glazing_contact_hours(readings: pd.DataFrame) -> list[HoursAbove]:
    """Return the hours in which gelatin that touches its glazing may, and probably would, stick.

    Examples
    --------
    >>> from analysis.series import readings_frame
    >>> hours = pd.date_range("2030-01-01", periods=4, freq="h", tz="UTC")
    >>> found = glazing_contact_hours(readings_frame(hours, rh_pct=[50.0, 68.0, 80.0, 90.0]))
    >>> [(row.name, row.hours.mid) for row in found]
    [('possible', 3.0), ('likely', 2.0)]
    """
    return _hours(readings, "contact")


def _hours(readings: pd.DataFrame, group: str) -> list[HoursAbove]:
    require_readings(readings, read="readings for gelatin")
    rh = usable(readings, "rh_pct").dropna()
    grid = cells(pd.DatetimeIndex(rh.index))
    values = rh.to_numpy()

    def above_h(threshold: float) -> float:
        return float(grid.width_s[values >= threshold].sum()) / HOUR_S

    return [
        HoursAbove(
            name=name,
            threshold=row,
            hours=Range(above_h(row.high), above_h(row.value), above_h(row.low)),
            longest_run_h=longest_run_h(np.asarray(values >= row.value), grid),
            measured_h=float(grid.width_s.sum()) / HOUR_S,
        )
        for name, row in table("gelatin")[group].items()
    ]
