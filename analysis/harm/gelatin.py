"""Hours in which gelatin softens, and in which it might stick to glazing that it touches.

The humidities are thresholds from table ``gelatin.toml``; all but one are assumed, and the hours
say nothing of contact, which nobody can read from air.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.air.time_weights import HOUR_S, cells, longest_run_h
from analysis.parameters import Parameter, Status, table
from analysis.results import Range
from analysis.series import require_readings, usable

CONTACT_CAUTION = (
    "If contact with the glazing or sticking is suspected: do not touch, tap, tilt or unframe. "
    "Keep it level with the wall and call a conservator."
)


@dataclass(frozen=True)
class HoursAbove:
    """Hours above one humidity, with those for both ends of its range.

    ``hours.low`` goes with the high end of the threshold. ``assumed`` is true where the threshold
    is not published.
    """

    name: str
    threshold: Parameter
    hours: Range
    longest_run_h: float
    measured_h: float
    assumed: bool


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
    >>> [(row.name, row.hours.mid, row.assumed) for row in found]
    [('possible', 3.0, True), ('likely', 2.0, True)]
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
            assumed=row.status is Status.ASSUMED,
        )
        for name, row in table("gelatin")[group].items()
    ]
