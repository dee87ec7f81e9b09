"""Calibration as dated layers over readings that are never changed themselves.

Saturated salt solutions give the fixed points against which a sensor is checked.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from itertools import zip_longest

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.time_weights import DAY_S, instant_s, seconds
from analysis.errors import NotEnoughError, OutOfRangeError, UnknownNameError
from analysis.parameters import parameter, table
from analysis.series import require_readings

COLDEST_C, WARMEST_C = 15.0, 30.0
Floats = npt.NDArray[np.float64]
# Each channel with the middle of its usual range, where the size of a correction is judged.
CHANNELS: Mapping[str, float] = {"rh_pct": 50.0, "temp_c": 20.0}


class Salt(StrEnum):
    """Salts with a fixed point, from dry to damp."""

    LITHIUM_CHLORIDE = "lithium chloride"
    MAGNESIUM_CHLORIDE = "magnesium chloride"
    POTASSIUM_CARBONATE = "potassium carbonate"
    MAGNESIUM_NITRATE = "magnesium nitrate"
    SODIUM_BROMIDE = "sodium bromide"
    SODIUM_CHLORIDE = "sodium chloride"
    POTASSIUM_CHLORIDE = "potassium chloride"
    POTASSIUM_SULPHATE = "potassium sulphate"

    @property
    def group(self) -> str:
        """Name of the salt in ``published/salts.toml``."""
        return self.value.replace(" ", "_")


def fixed_point_rh_pct(salt: Salt, temp_c: float) -> float:
    """Return the humidity over a saturated solution [%RH].

    Parameters
    ----------
    salt : Salt
        Salt of the solution, with undissolved crystals in it.
    temp_c : float
        Temperature of solution and air, 15 to 30 °C [°C].

    References
    ----------
    Greenspan1977.

    Examples
    --------
    >>> round(fixed_point_rh_pct(Salt.MAGNESIUM_CHLORIDE, 20.0), 2)
    33.07
    """
    if not COLDEST_C <= temp_c <= WARMEST_C:
        raise OutOfRangeError(
            read=f"fixed point of {salt.value}",
            where="temperature",
            found=f"{temp_c:g} °C",
            expected=f"{COLDEST_C:g} to {WARMEST_C:g} °C",
            action="Check the sensor at room temperature.",
        )
    c = {name: row.value for name, row in table("salts")[salt.group].items()}
    # Greenspan1977: polynomial in °C
    return c["constant"] + temp_c * (c["linear"] + temp_c * (c["square"] + temp_c * c["cubic"]))


def fixed_point_uncertainty_rh_pct(salt: Salt) -> float:
    """Return the uncertainty of the fixed point, an order of magnitude [%RH]."""
    return table("salts")[salt.group]["uncertainty"].value


@dataclass(frozen=True)
class CalibrationLayer:
    """A correction of one channel, until the channel's next layer or until ``until_utc``.

    Truth = ``gain`` · reading + ``offset``. ``since_utc`` None: from the first reading on.
    ``uncertainty`` is what remains, in the channel's unit, None where unknown; ``origin`` says
    how it was found: a certificate, a salt.
    """

    channel: str
    since_utc: datetime | None
    offset: float = 0.0
    gain: float = 1.0
    until_utc: datetime | None = None
    uncertainty: float | None = None
    origin: str = ""

    @property
    def begins_s(self) -> float:
        """Its beginning in seconds since 1970, minus infinity for None."""
        if self.since_utc is None:
            return -np.inf
        return instant_s(self.since_utc, read="calibration")

    @property
    def name(self) -> str:
        """What messages call it."""
        since = "the first reading" if self.since_utc is None else str(self.since_utc.date())
        return f"calibration from {since}"


@dataclass(frozen=True)
class SaltCheck:
    """What a sensor read over a saturated salt solution."""

    salt: Salt
    temp_c: float
    read_rh_pct: float


@dataclass(frozen=True)
class ErrorCheck:
    """Error found at one check: reading less truth."""

    at_utc: datetime
    error_rh_pct: float = 0.0
    error_temp_c: float = 0.0


def apply_calibration(frame: pd.DataFrame, layers: Sequence[CalibrationLayer]) -> pd.DataFrame:
    """Return a corrected copy of readings; the readings given stay as they are.

    Parameters
    ----------
    frame : pandas.DataFrame
        Readings as in `analysis.series`.
    layers : sequence of CalibrationLayer
        In any order. At each instant a channel's latest layer that has begun holds, and it alone.
        Before the first, and after the end of one that ended, readings come back unchanged.

    Returns
    -------
    pandas.DataFrame
        Humidity is not clipped: what a correction moves below 0 or above 100 %RH shows.

    Raises
    ------
    OutOfRangeError
        If a layer is beyond belief, ends before it begins, or two of a channel begin at once.
    UnknownNameError
        If a layer is for another channel than ``rh_pct`` or ``temp_c``.

    Examples
    --------
    >>> from datetime import UTC
    >>> from analysis.series import readings_frame
    >>> days = pd.date_range("2030-01-01", periods=3, freq="D", tz="UTC")
    >>> layer = CalibrationLayer("rh_pct", datetime(2030, 1, 2, tzinfo=UTC), offset=-2.0)
    >>> apply_calibration(readings_frame(days, rh_pct=50.0), [layer])["rh_pct"].tolist()
    [50.0, 48.0, 48.0]
    """
    require_readings(frame, read="readings to be corrected")
    for layer in layers:
        require_layer(layer)
    if not layers:
        return frame.assign()
    at_s = seconds(pd.DatetimeIndex(frame.index))
    corrected = {name: frame[name].to_numpy(copy=True) for name in CHANNELS}
    for name, values in corrected.items():
        own = sorted((c for c in layers if c.channel == name), key=lambda c: c.begins_s)
        for layer, following in zip_longest(own, own[1:]):
            held = _held(at_s, layer, following)
            values[held] = layer.gain * values[held] + layer.offset
    return frame.assign(**corrected)


def _held(
    at_s: Floats, layer: CalibrationLayer, following: CalibrationLayer | None
) -> npt.NDArray[np.bool_]:
    if following is not None and following.begins_s == layer.begins_s:
        raise _bad_dates(layer, "a second layer of the same instant")
    until_s = np.inf if following is None else following.begins_s
    if layer.until_utc is not None:
        until_s = min(until_s, instant_s(layer.until_utc, read="calibration"))
    return np.asarray((at_s >= layer.begins_s) & (at_s < until_s))


def require_layer(layer: CalibrationLayer) -> None:
    """Raise unless a layer is for a known channel, can be believed and ends after it begins."""
    if layer.channel not in CHANNELS:
        raise UnknownNameError(read="calibration", name=layer.channel, known=CHANNELS)
    middle = CHANNELS[layer.channel]
    shift = layer.offset + middle * (layer.gain - 1.0)
    for name, value in (("gain", layer.gain), (f"offset_{layer.channel}", shift)):
        row = parameter("instruments", "calibration", name)
        if not row.low <= value <= row.high:
            raise OutOfRangeError(
                read=layer.name,
                where=name,
                found=f"{value:g}",
                expected=f"{row.low:g} to {row.high:g} {row.unit}",
                action="Check the certificate or the readings; a sensor this far off needs repair.",
            )
    ends = layer.until_utc
    if ends is not None and instant_s(ends, read="calibration") <= layer.begins_s:
        raise _bad_dates(layer, "an end before its beginning")


def _bad_dates(layer: CalibrationLayer, found: str) -> OutOfRangeError:
    return OutOfRangeError(
        read=layer.name,
        where=layer.channel,
        found=found,
        expected="layers that follow one another",
        action="Correct the dates.",
    )


def layer_from_salts(since_utc: datetime, checks: Sequence[SaltCheck]) -> CalibrationLayer:
    """Return the humidity layer that one or two fixed points give: offset, or gain and offset.

    Raises
    ------
    NotEnoughError
        If there is no check, or more than two.
    OutOfRangeError
        If two fixed points are too near each other, or the result is beyond belief.

    Examples
    --------
    >>> from datetime import UTC
    >>> low = SaltCheck(Salt.MAGNESIUM_CHLORIDE, 20.0, 35.07)
    >>> high = SaltCheck(Salt.SODIUM_CHLORIDE, 20.0, 75.47)
    >>> layer = layer_from_salts(datetime(2030, 1, 1, tzinfo=UTC), [low, high])
    >>> round(layer.gain, 3), round(layer.gain * 35.07 + layer.offset, 2)
    (1.05, 33.07)
    """
    if len(checks) not in (1, 2):
        raise NotEnoughError(
            read="checks over salts",
            where="",
            found=f"{len(checks)} checks",
            expected="one check for an offset, or two for gain and offset",
            action="Choose the one or two checks that are to count.",
        )
    truth = [fixed_point_rh_pct(check.salt, check.temp_c) for check in checks]
    read = [check.read_rh_pct for check in checks]
    gain = 1.0
    if len(checks) == 2:
        _require_apart(checks, truth, read)
        gain = (truth[1] - truth[0]) / (read[1] - read[0])
    layer = CalibrationLayer(
        channel="rh_pct",
        since_utc=since_utc,
        gain=gain,
        offset=truth[0] - gain * read[0],
        uncertainty=max(fixed_point_uncertainty_rh_pct(check.salt) for check in checks),
        origin=" and ".join(
            f"{c.salt.value} at {str(c.temp_c).removesuffix('.0')} °C" for c in checks
        ),
    )
    require_layer(layer)
    return layer


def _require_apart(checks: Sequence[SaltCheck], truth: list[float], read: list[float]) -> None:
    least = parameter("instruments", "calibration", "apart_rh_pct").value
    if abs(truth[1] - truth[0]) < least or read[1] == read[0]:
        raise OutOfRangeError(
            read="checks over salts",
            where=f"{checks[0].salt.value}, {checks[1].salt.value}",
            found=f"{abs(truth[1] - truth[0]):.1f} %RH between them, read {read[0]:g}, {read[1]:g}",
            expected=f"fixed points at least {least:g} %RH apart",
            action="Use a drier and a damper salt, such as magnesium and sodium chloride.",
        )


def remove_drift(frame: pd.DataFrame, before: ErrorCheck, after: ErrorCheck) -> pd.DataFrame:
    """Return a copy with the error taken off that grew linearly in time between two checks.

    Readings before the first check and after the second come back unchanged.

    Examples
    --------
    >>> from datetime import UTC
    >>> from analysis.series import readings_frame
    >>> days = pd.date_range("2030-01-01", periods=3, freq="D", tz="UTC")
    >>> first = ErrorCheck(datetime(2030, 1, 1, tzinfo=UTC), error_rh_pct=0.0)
    >>> second = ErrorCheck(datetime(2030, 1, 3, tzinfo=UTC), error_rh_pct=2.0)
    >>> remove_drift(readings_frame(days, rh_pct=50.0), first, second)["rh_pct"].tolist()
    [50.0, 49.0, 48.0]
    """
    require_readings(frame, read="readings to be corrected")
    start, end = (instant_s(check.at_utc, read="check for drift") for check in (before, after))
    if end <= start:
        raise OutOfRangeError(
            read="checks for drift",
            where="dates",
            found=f"{before.at_utc} and {after.at_utc}",
            expected="two checks, the second later",
            action="Give them in the order of time.",
        )
    at_s = seconds(pd.DatetimeIndex(frame.index))
    between = (at_s >= start) & (at_s <= end)
    part = np.where(between, (at_s - start) / (end - start), 0.0)
    rh = before.error_rh_pct + part * (after.error_rh_pct - before.error_rh_pct)
    temp = before.error_temp_c + part * (after.error_temp_c - before.error_temp_c)
    return frame.assign(
        rh_pct=frame["rh_pct"] - np.where(between, rh, 0.0),
        temp_c=frame["temp_c"] - np.where(between, temp, 0.0),
    )


def drift_per_year_rh_pct(before: ErrorCheck, after: ErrorCheck) -> float:
    """Return how fast the error of humidity grew between two checks [%RH per year]."""
    days = (after.at_utc - before.at_utc).total_seconds() / DAY_S
    return (after.error_rh_pct - before.error_rh_pct) / days * 365.2425


def uncertainty_in_force(
    layers: Sequence[CalibrationLayer], channel: str, at_utc: datetime
) -> float | None:
    """Return what uncertainty a channel's calibration leaves at an instant; None where unknown.

    For `analysis.limits.verdict.judge`, which takes that of a good logger for None.

    Examples
    --------
    >>> from datetime import UTC
    >>> layer = CalibrationLayer("rh_pct", datetime(2030, 1, 1, tzinfo=UTC), uncertainty=1.5)
    >>> uncertainty_in_force([layer], "rh_pct", datetime(2030, 6, 1, tzinfo=UTC))
    1.5
    """
    begun = [c for c in layers if c.channel == channel and c.begins_s <= at_utc.timestamp()]
    if not begun:
        return None
    latest = max(begun, key=lambda layer: layer.begins_s)
    ended = latest.until_utc is not None and latest.until_utc <= at_utc
    return None if ended else latest.uncertainty


def _origin(check: SaltCheck) -> str:
    return f"{check.salt.value} at {str(check.temp_c).removesuffix('.0')} °C"


def latest_begun(layers: Sequence[CalibrationLayer], at_utc: datetime) -> CalibrationLayer | None:
    """Return the calibration that began last before a time, or None."""
    begun = [layer for layer in layers if layer.begins_s <= at_utc.timestamp()]
    return max(begun, key=lambda layer: layer.begins_s, default=None)


def is_old(layer: CalibrationLayer, at_utc: datetime) -> bool:
    """Return whether a calibration is so old that it should be checked; one without a date is."""
    age = parameter("instruments", "calibration", "age_days").value
    return layer.since_utc is None or (at_utc - layer.since_utc).days > age
