"""What cannot be, and what must not be answered: impossible facts and refused judgements."""

import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import numpy.typing as npt

from analysis.air.hour_means import BRIDGE_LIMIT_H
from analysis.errors import OutOfRangeError, UnknownNameError
from analysis.results import Floats
from analysis.simulation.drawn_parameters import BUILD_FACTS, LARGEST, UNITS
from analysis.simulation.layout import Sum
from analysis.works import Mount, Work

# Keys of the reasons why no number is given; `dashboards.text.judgement_text` words them.
REFUSALS = (
    "no readings",
    "not yet mounted",
    "not held",
    "sun or spot",
    "conditioned",
    "starting up",
    "framed anew",
    "gap",
    "above 85 %RH",
    "temperature",
    "condensation",
    "after condensation",
    "interval",
)


def _require(fact: bool, *, work: Work, where: str, found: str, expected: str, action: str) -> None:
    if not fact:
        raise OutOfRangeError(
            read=f"work {work.work_id}", where=where, found=found, expected=expected, action=action
        )


def require_possible(work: Work, *, known: Mapping[str, str]) -> None:
    """Raise if a stated fact of a work cannot be, naming the fact.

    Parameters
    ----------
    known : mapping of str to str
        Names that may be overridden, with their units.

    Raises
    ------
    OutOfRangeError
        If a length, coverage, humidity, date or override cannot be.
    UnknownNameError
        If an override names no known parameter.
    """
    _require_dates(work)
    _require_lengths(work)
    _require_humidities(work)
    for name in work.overrides:
        if name not in known:
            raise UnknownNameError(read=f"work {work.work_id}, overrides", name=name, known=known)
        _require_override(work, name, known[name])
    _require(
        "back_permeance" not in work.overrides or "board_mass_kg_m2" in work.overrides,
        work=work,
        where="back_permeance",
        found="a permeance of the back without the board's mass",
        expected="both, from which the half-time is worked out",
        action="State board_mass_kg_m2 too, or leave the permeance out.",
    )


def _require_override(work: Work, name: str, unit: str) -> None:
    stated = work.overrides[name]
    _require(
        stated.low <= stated.value <= stated.high,
        work=work,
        where=name,
        found=f"{stated.low}, {stated.value}, {stated.high}",
        expected="low, value and high in rising order",
        action="Correct the measured value or its range.",
    )
    may_be_zero = name in MAY_BE_ZERO
    _require(
        name in SIGNED or stated.low > 0.0 or (may_be_zero and stated.low >= 0.0),
        work=work,
        where=name,
        found=f"{stated.low} {unit}",
        expected=f"0 {unit} or more" if may_be_zero else f"more than 0 {unit}",
        action="Correct the measured value or its range.",
    )
    most = LARGEST.get(name, sys.float_info.max)
    _require(
        max(abs(stated.low), abs(stated.high)) <= most,
        work=work,
        where=name,
        found=f"{stated.low:g} to {stated.high:g} {unit}",
        expected=f"at most {most:g} {unit}",
        action="Check the unit, then correct the measured value or its range.",
    )


def require_drawn(works: Sequence[Work], values: Mapping[str, Floats]) -> None:
    """Raise if a work cannot be, or a drawn parameter is no number or has the wrong sign.

    Parameters
    ----------
    works : sequence of Work
    values : mapping of str to ndarray, shape (works, n)
        Name of a parameter → its draws. Only ``gap_mm`` may be unknown.

    Raises
    ------
    OutOfRangeError
        Naming the work and the parameter.
    """
    for work in works:
        require_possible(work, known={**UNITS, **BUILD_FACTS})
    for name, drawn in values.items():
        sound = np.isfinite(drawn) | (name == "gap_mm")
        if name not in SIGNED:
            sound &= ~(drawn < 0.0) if name in MAY_BE_ZERO else drawn > 0.0
        for i in np.flatnonzero(~sound.all(axis=1))[:1]:
            _require(
                False,
                work=works[i],
                where=f"draws of {name}",
                found=f"{drawn[i][~sound[i]][0]:g} {UNITS.get(name, '')}".strip(),
                expected="0 or more" if name in MAY_BE_ZERO else "a number, more than 0",
                action="Draw the work again from the tables, or correct what was put in.",
            )


SIGNED = (
    "sensor_offset_pct",
    "frame_minus_logger_k",
    "logger_drift_pct_a",
    "season_cos_pct",
    "season_sin_pct",
    "hysteresis_offset_rh_pct",
    "outdoor_temp_c",
    "mounted_temp_c",
    "panel_alpha_along_md",
    "panel_alpha_along_cd",
)
MAY_BE_ZERO = (
    "path_share",
    "past",
    "prestrain",
    "image_share",
    "gelatin_share",
    "panel_beta_along_md",
    "panel_beta_along_cd",
    "wall_factor",
    "shrinkage_md",
    "shrinkage_cd",
    "mechano_sorptive_per_pct",
    "softening_per_pct",
    "relax_per_decade",
    "grain_vertical",
    "gap_fill",
    "gap_mm",
    "alpha_md",
    "alpha_cd",
    "hysteresis_rh_pct",
)


def _require_dates(work: Work) -> None:
    for name in ("mounted_utc", "closed_utc"):
        date = getattr(work, name)
        _require(
            date is None or date.tzinfo is not None,
            work=work,
            where=name,
            found=f"{date} without a zone",
            expected="a time in UTC",
            action="State the zone of the date.",
        )
    if work.mounted_utc is not None and work.closed_utc is not None:
        _require(
            work.mounted_utc <= work.closed_utc,
            work=work,
            where="closed_utc",
            found=f"framed {work.closed_utc:%Y-%m-%d} before mounted {work.mounted_utc:%Y-%m-%d}",
            expected="the frame closed on or after the day of mounting",
            action="Correct one of the two dates.",
        )


def require_mounted_before_hanging(work: Work, hung_utc: datetime) -> None:
    """Raise if a work hung somewhere before it was mounted."""
    mounted = work.mounted_utc
    day = "on a day not known" if mounted is None else f"{mounted:%Y-%m-%d}"
    _require(
        mounted is None or mounted <= hung_utc,
        work=work,
        where="mounted_utc",
        found=f"mounted {day}, hung {hung_utc:%Y-%m-%d}",
        expected="mounted before it was hung",
        action="Correct the date of mounting or of hanging.",
    )


def _require_lengths(work: Work) -> None:
    lengths = {
        "width_mm": (work.width_mm, 10.0, 20000.0),
        "height_mm": (work.height_mm, 10.0, 20000.0),
        "hinge_free_length_mm": (work.hinge_free_length_mm, 0.0, 200.0),
        "hinge_coverage": (work.hinge_coverage, 0.01, 1.0),
        "spacer_mm": (work.spacer_mm, 0.0, 200.0),
    }
    for name, (value, low, high) in lengths.items():
        _require(
            value is None or low <= value <= high,
            work=work,
            where=name,
            found=str(value),
            expected=f"{low:g} to {high:g}",
            action="Measure again, or leave the field empty.",
        )


def _require_humidities(work: Work) -> None:
    for name in ("mounted_rh_pct", "closing_rh_pct"):
        value = getattr(work, name)
        _require(
            value is None or 1.0 <= value <= 99.0,
            work=work,
            where=name,
            found=f"{value} %",
            expected="1 to 99 %",
            action="Correct the humidity, or leave the field empty.",
        )


def closing_known(work: Work) -> bool:
    """Whether the humidity locked in when the frame was closed is recorded."""
    return work.closing_rh_pct is not None or "closing_rh_pct" in work.overrides


def mounting_known(work: Work) -> bool:
    """Whether the humidity at mounting is recorded."""
    return work.mounted_rh_pct is not None or "mounted_rh_pct" in work.overrides


def standing_refusal(work: Work, interval_s: float) -> str:
    """Return the key of the reason why nothing can be said of a work at any hour, or ""."""
    if work.mount is not Mount.TENSION_HELD:
        return ""
    if work.sun_or_spot:
        return "sun or spot"
    if work.conditioned:
        return "conditioned"
    if interval_s > BRIDGE_LIMIT_H * 3600.0:
        return "interval"
    return ""


@dataclass(frozen=True)
class RefusalLimits:
    """When an hour's numbers are withheld.

    Parameters
    ----------
    band_rh_pct : float
        Widest band between the low and the high copy at the print [%RH]. None is too wide as
        delivered: a gap, a start, a new frame are carried by the draws as width.
    probability : float
        Largest probability of a state in which the model does not hold.
    """

    band_rh_pct: float = float("inf")
    probability: float = 0.1


def hourly_refusals(
    standing: str,
    sums: npt.NDArray[np.float32],
    after_gap: npt.NDArray[np.bool_],
    limits: RefusalLimits | None = None,
) -> npt.NDArray[np.str_]:
    """Return for each hour the key of the reason why nothing is said, or "".

    Parameters
    ----------
    standing : str
        Key of a reason that holds at every hour, or "".
    sums : ndarray, shape (len(layout.SUMS), h)
        Rows of `analysis.simulation.layout.SUMS`; NaN before mounting.
    after_gap : ndarray of bool, shape (h,)
        Whether hours were missing before, which decides how a wide band is named.
    """
    limit = limits or RefusalLimits()
    keys = np.full(sums.shape[1], standing, dtype="<U24")
    wide, wet = 100.0 * sums[Sum.BAND] > limit.band_rh_pct, sums[Sum.CONDENSING] > limit.probability
    checks = (
        (np.isnan(sums[Sum.SLACK]), "not yet mounted"),
        (sums[Sum.TEMPERATURE] > limit.probability, "temperature"),
        (wet, "condensation"),
        (sums[Sum.ABOVE_85] > limit.probability, "above 85 %RH"),
        (wide & np.logical_or.accumulate(wet), "after condensation"),
        (wide & after_gap, "gap"),
        (wide, "starting up"),
    )
    for holds, key in checks:
        if holds.any():
            keys[holds & (keys == "")] = key
    return keys
