"""Calibrations: dated layers over the readings, which themselves are never edited."""

from analysis.instruments.calibration import CalibrationLayer, require_layer
from analysis.records.room_records import Calibration
from service.storage.records import find, put, values_of
from service.storage.register import Register
from service.storage.schema import CalibrationRow


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
