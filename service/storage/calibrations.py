"""Calibrations: dated layers over the readings, which themselves are never edited."""

from dataclasses import dataclass
from datetime import datetime

from analysis.instruments.calibration import CalibrationLayer, require_layer
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

    def layer(self) -> CalibrationLayer:
        """Return it as the calculations take it; it holds until the channel's next one.

        Examples
        --------
        >>> layer = Calibration("n1", "rh_pct", read_1=35.0, true_1=33.0).layer()
        >>> layer.gain, layer.offset
        (1.0, -2.0)
        """
        gain = 1.0
        if self.read_2 is not None and self.true_2 is not None and self.read_2 != self.read_1:
            gain = (self.true_2 - self.true_1) / (self.read_2 - self.read_1)
        return CalibrationLayer(
            channel=self.channel,
            since_utc=self.from_utc,
            gain=gain,
            offset=self.true_1 - gain * self.read_1,
            uncertainty=self.uncertainty,
            origin=self.reference,
        )


def calibrations(register: Register, logger_id: str | None = None) -> tuple[Calibration, ...]:
    """Return the calibrations of one logger, or of all, in order of time."""
    where = [] if logger_id is None else [CalibrationRow.logger == logger_id]
    order = (CalibrationRow.logger, CalibrationRow.channel)
    with register.reading() as session:
        found = find(session, Calibration, CalibrationRow, *where, order=order)
    return tuple(sorted(found, key=_begins))


def put_calibration(register: Register, calibration: Calibration, *, by: str = "") -> bool:
    """Add a calibration, or change the one of the same logger, channel and date.

    Raises
    ------
    OutOfRangeError
        If it corrects by more than can be believed: then nothing is stored.
    UnknownNameError
        If it is for another channel than ``rh_pct`` or ``temp_c``.
    """
    require_layer(calibration.layer())
    values = values_of(calibration)
    key = {name: values.pop(name) for name in ("logger", "channel", "from_utc")}
    with register.writing() as session:
        return put(session, CalibrationRow, key, values, by=by or calibration.by)


def layers(register: Register, logger_id: str) -> tuple[CalibrationLayer, ...]:
    """Return a logger's calibrations as layers, for `apply_calibration`."""
    return tuple(one.layer() for one in calibrations(register, logger_id))


def _begins(calibration: Calibration) -> float:
    return calibration.from_utc.timestamp() if calibration.from_utc else float("-inf")
