"""The instruments of a room: how old their checks are, and how uncertain they leave a reading."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from analysis.instruments.calibration import (
    CalibrationLayer,
    latest_begun,
    uncertainty_in_force,
)
from analysis.parameters import parameter
from dashboards.text import wording
from dashboards.text.instrument_text import calibration_words
from dashboards.text.messages import _
from service.storage.loggers import layers
from service.storage.stores import Stores


def uncertainty(
    stores: Stores, logger_ids: Iterable[str], channel: str, at_utc: datetime
) -> float | None:
    """Return the largest uncertainty of a reading among loggers (k = 2); None: nothing is stated.

    A logger without a statement counts as a good one when new, beside one with a better one.
    """
    stated = [
        uncertainty_in_force(layers(stores.register, logger), channel, at_utc)
        for logger in logger_ids
    ]
    if all(one is None for one in stated):
        return None
    new = parameter("record_rules", "sensor", channel).value
    return max(new if one is None else one for one in stated)


def checked_words(stores: Stores, names: Sequence[str], at_utc: datetime, zone: str) -> str:
    """Return when each logger was last checked, in a few words."""
    return "; ".join(
        f"{name} {_checked(layers(stores.register, name), at_utc, zone)}" for name in names
    )


def age_sentences(stores: Stores, names: Sequence[str], at_utc: datetime, zone: str) -> str:
    """Return how old the calibration of each logger is, as sentences."""
    return " ".join(
        f"{name}: {calibration_words(layers(stores.register, name), at_utc, zone)}"
        for name in names
    )


def _checked(known: Sequence[CalibrationLayer], at_utc: datetime, zone: str) -> str:
    latest = latest_begun(known, at_utc)
    if latest is None:
        return _("no check on record")
    if latest.since_utc is None:
        return _("checked at an unknown date")
    return _("checked {day}", day=wording.day(latest.since_utc, zone))
