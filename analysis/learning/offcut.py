"""Movement of a paper with humidity, from offcut strips measured in two climates.

A strip of the same paper is left at one humidity until it no longer changes, its length is read,
then the same at another humidity. The slope is the strain over the step of humidity.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.errors import NotEnoughError, OutOfRangeError
from analysis.parameters import parameter

SMALLEST_STEP_PCT = 5.0
DAMP_PCT = 75.0  # above it, strain that was dried in lets go (see `analysis.chain.sheet`)


@dataclass(frozen=True)
class Strip:
    """One strip, measured at two humidities.

    Parameters
    ----------
    length_mm : float
        Length in the first climate. [mm]
    rh_before_pct, rh_after_pct : float
        Humidity of the first and of the second climate. [%RH]
    change_mm : float
        How much longer the strip was in the second climate; negative: shorter. [mm]
    """

    length_mm: float
    rh_before_pct: float
    rh_after_pct: float
    change_mm: float

    @property
    def step_pct(self) -> float:
        """Step of humidity [%RH]."""
        return self.rh_after_pct - self.rh_before_pct

    @property
    def movement(self) -> float:
        """Strain per %RH [1/%]."""
        return self.change_mm / self.length_mm / self.step_pct


@dataclass(frozen=True)
class StripErrors:
    """How far off a reading may be: half of the range that holds the truth 95 times in 100.

    Parameters
    ----------
    reading_mm : float
        One reading of a strip's length. [mm]
    rh_pct : float
        The humidity of one climate. [%RH]
    """

    reading_mm: float = parameter("offcuts", "rule", "reading_mm").value
    rh_pct: float = parameter("offcuts", "salts", "rh_pct").value


@dataclass(frozen=True)
class Movement:
    """Movement with its 95 % range [1/%], that of each strip, and how far the strips disagree.

    ``scatter`` is Birge's ratio: 1 where the strips differ no more than misreading explains;
    the range is widened by it where it is larger.
    """

    value: float
    low: float
    high: float
    strips: tuple[float, ...]
    scatter: float


def movement(strips: Sequence[Strip], errors: StripErrors | None = None) -> Movement:
    """Return the movement of a paper from one or several strips cut the same way.

    Parameters
    ----------
    strips : sequence of Strip
        All along the grain, or all across it.
    errors : StripErrors, optional
        Those of a steel rule and of saturated salts when left out.

    Returns
    -------
    Movement
        Mean over the strips, weighted by how well each could be read, with its 95 % range.

    Raises
    ------
    NotEnoughError
        If there is no strip, or the change is lost in the error of reading it.
    OutOfRangeError
        If a length, humidity or change cannot be.

    Notes
    -----
    beta = dL / (L · dRH). Reading errors add in squares (JCGM100, eq. 10) and fall with the
    number of strips; the error of the humidities is common to all of them and does not. Strips
    that scatter more than their readings explain widen the range (BIRGE1932).

    Examples
    --------
    >>> one = movement([Strip(300.0, 33.0, 75.0, 1.13)], StripErrors(0.03, 0.0))
    >>> [round(1e6 * x, 1) for x in (one.low, one.value, one.high)]
    [86.3, 89.7, 93.0]
    """
    errors = errors or StripErrors()
    if not strips:
        raise _too_little("no strip", "at least one strip")
    for strip in strips:
        _require_strip(strip)
    # JCGM100, eq. 10: a change is the difference of two readings
    reading = [math.sqrt(2.0) * errors.reading_mm / s.length_mm / abs(s.step_pct) for s in strips]
    weights = [1.0 / max(error, 1e-12) ** 2 for error in reading]
    moved = tuple(strip.movement for strip in strips)
    mean = sum(w * m for w, m in zip(weights, moved, strict=True)) / sum(weights)
    scatter = _birge_ratio(moved, weights, mean)
    own = scatter / math.sqrt(sum(weights))
    step = sum(abs(strip.step_pct) for strip in strips) / len(strips)
    common = abs(mean) * math.sqrt(2.0) * errors.rh_pct / step
    half = math.hypot(own, common)
    if mean - half <= 0.0:
        found = f"a change of {strips[0].change_mm} mm, which misreading alone could give"
        raise _too_little(found, "a change larger than its error")
    return Movement(mean, mean - half, mean + half, moved, scatter)


def _birge_ratio(moved: Sequence[float], weights: Sequence[float], mean: float) -> float:
    """Return how much more the strips scatter than their readings explain, at least 1."""
    if len(moved) < 2:
        return 1.0
    # BIRGE1932; the weights hold 95 % half-widths, twice a standard uncertainty
    squares = sum(4.0 * w * (m - mean) ** 2 for w, m in zip(weights, moved, strict=True))
    return math.sqrt(max(1.0, squares / (len(moved) - 1)))


def _require_strip(strip: Strip) -> None:
    length = parameter("offcuts", "strip", "length_mm")
    _require(
        length.low <= strip.length_mm <= length.high,
        where="length_mm",
        found=f"{strip.length_mm:g} mm",
        expected=f"{length.low:g} to {length.high:g} mm",
    )
    for name in ("rh_before_pct", "rh_after_pct"):
        value = getattr(strip, name)
        _require(1.0 <= value <= 99.0, where=name, found=f"{value:g} %RH", expected="1 to 99 %RH")
    _require_reading(strip)


def _require_reading(strip: Strip) -> None:
    """Raise unless two climates lie apart and the strip moved the way paper does."""
    _require(
        abs(strip.step_pct) >= SMALLEST_STEP_PCT,
        where="rh_after_pct",
        found=f"a step of {abs(strip.step_pct):g} %RH",
        expected=f"two climates at least {SMALLEST_STEP_PCT:g} %RH apart",
    )
    _require(
        strip.movement > 0.0,
        where="change_mm",
        found=f"a change of {strip.change_mm:g} mm over a step of {strip.step_pct:+g} %RH",
        expected="longer in damper air, shorter in drier",
    )
    _require(
        abs(strip.change_mm) < 0.05 * strip.length_mm,
        where="change_mm",
        found=f"{strip.change_mm:g} mm",
        expected="less than a twentieth of the length",
    )


def _require(fact: bool, *, where: str, found: str, expected: str) -> None:
    if not fact:
        raise OutOfRangeError(
            read="offcut strip",
            where=where,
            found=found,
            expected=expected,
            action="Read the strip again, or correct what was typed.",
        )


def _too_little(found: str, expected: str) -> NotEnoughError:
    return NotEnoughError(
        read="offcut strips",
        where="change_mm",
        found=found,
        expected=expected,
        action="Take a longer strip, more strips, a wider step of humidity, or a finer reading.",
    )


def lets_go(strips: Sequence[Strip]) -> bool:
    """Return whether a strip was so damp that it may let go of strain that was dried in."""
    return any(max(strip.rh_before_pct, strip.rh_after_pct) > DAMP_PCT for strip in strips)
