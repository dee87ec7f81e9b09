"""Calibrations: dated layers over the readings, which themselves are never edited."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import pandas as pd

from service.storage.records import find, put, values_of
from service.storage.register import Register
from service.storage.schema import CalibrationRow


@dataclass(frozen=True)
class Calibration:
    """What a logger read against what a reference said, from a date on.

    With one point the difference is an offset for all values; with two, a straight line runs
    through both. ``uncertainty`` is expanded (k = 2), in the channel's unit, after correction.
    """

    logger: str
    channel: str
    read_1: float
    true_1: float
    read_2: float | None = None
    true_2: float | None = None
    from_utc: datetime | None = None
    uncertainty: float | None = None
    by: str = ""
    reference: str = ""
    note: str = ""

    def slope_and_offset(self) -> tuple[float, float]:
        """Return (a, b) of ``true = a * read + b``.

        Examples
        --------
        >>> Calibration("n1", "rh_pct", read_1=35.0, true_1=33.0).slope_and_offset()
        (1.0, -2.0)
        """
        if self.read_2 is None or self.true_2 is None or self.read_2 == self.read_1:
            return 1.0, self.true_1 - self.read_1
        slope = (self.true_2 - self.true_1) / (self.read_2 - self.read_1)
        return slope, self.true_1 - slope * self.read_1


def calibrations(register: Register, logger_id: str | None = None) -> tuple[Calibration, ...]:
    """Return the calibrations of one logger, or of all, in order of time."""
    where = [] if logger_id is None else [CalibrationRow.logger == logger_id]
    order = (CalibrationRow.logger, CalibrationRow.channel)
    with register.reading() as session:
        found = find(session, Calibration, CalibrationRow, *where, order=order)
    return tuple(sorted(found, key=_begins))


def put_calibration(register: Register, calibration: Calibration, *, by: str = "") -> bool:
    """Add a calibration, or change the one of the same logger, channel and date."""
    values = values_of(calibration)
    key = {name: values.pop(name) for name in ("logger", "channel", "from_utc")}
    with register.writing() as session:
        return put(session, CalibrationRow, key, values, by=by or calibration.by)


def corrected(frame: pd.DataFrame, layers: Sequence[Calibration]) -> pd.DataFrame:
    """Return readings with the calibrations of their logger laid over them.

    Parameters
    ----------
    frame : pandas.DataFrame
        Readings as `analysis.series.readings_frame`; not changed.
    layers : sequence of Calibration
        Those of this logger; each holds from its date until the next one of its channel.
        Readings before the first are left as they are.
    """
    result = frame.copy()
    for layer in sorted(layers, key=_begins):
        slope, offset = layer.slope_and_offset()
        holds = np.ones(len(frame), bool)
        if layer.from_utc is not None:
            holds = np.asarray(frame.index >= pd.Timestamp(layer.from_utc))
        values = frame.loc[holds, layer.channel].to_numpy()
        result.loc[holds, layer.channel] = slope * values + offset
    return result


def _begins(calibration: Calibration) -> float:
    return calibration.from_utc.timestamp() if calibration.from_utc else float("-inf")
