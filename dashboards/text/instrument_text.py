"""The instruments of a room in words: how old their calibrations are."""

from collections.abc import Sequence
from datetime import datetime

from analysis.instruments.calibration import CalibrationLayer, is_old, latest_begun
from dashboards.text import wording
from dashboards.text.messages import _, counted


def calibration_words(layers: Sequence[CalibrationLayer], at_utc: datetime, zone: str) -> str:
    """Return how old the calibration in force is.

    Examples
    --------
    >>> from datetime import UTC
    >>> layer = CalibrationLayer("rh_pct", datetime(2030, 1, 1, tzinfo=UTC), origin="certificate")
    >>> calibration_words([layer], datetime(2030, 1, 31, tzinfo=UTC), "UTC")
    'Calibrated 1 January 2030 (certificate), 30 days before.'
    >>> calibration_words([], datetime(2030, 1, 31, tzinfo=UTC), "UTC")
    'No calibration is known.'
    """
    latest = latest_begun(layers, at_utc)
    if latest is None:
        return _("No calibration is known.")
    origin = f" ({latest.origin})" if latest.origin else ""
    if latest.since_utc is None:
        return _("Calibrated at a date that is not recorded{origin}. Check it.", origin=origin)
    days = (at_utc - latest.since_utc).days
    said = counted(
        "Calibrated {day}{origin}, {many} day before.",
        "Calibrated {day}{origin}, {many} days before.",
        days,
        day=wording.day_only(latest.since_utc, zone),
        origin=origin,
    )
    return _("{said} Check it.", said=said) if is_old(latest, at_utc) else said
