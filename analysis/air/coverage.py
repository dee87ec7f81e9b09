"""How much of a period was really measured, by time."""

from datetime import datetime
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.sampling import measured_steps_s, usual_step_s
from analysis.errors import OutOfRangeError
from analysis.parameters import parameter
from analysis.results import Coverage
from analysis.series import (
    FLAG_WORDS,
    UNFIT,
    require_readings,
    sample_interval_s,
    usable,
)

Floats = npt.NDArray[np.float64]


def coverage(
    frame: pd.DataFrame,
    start_utc: datetime,
    end_utc: datetime,
    *,
    column: str = "rh_pct",
    needed_pct: float | None = None,
) -> Coverage:
    """Return how much of ``[start_utc, end_utc)`` was measured by fit readings.

    A reading stands for the time half way to its neighbours, and for not more than the usual step
    when one of them is missing (`analysis.air.sampling.measured_steps_s`). Readings with a flag of
    `analysis.series.UNFIT` count as missing.

    Parameters
    ----------
    frame : pandas.DataFrame
        Readings; may reach beyond the period.
    start_utc, end_utc : datetime
        The period, in UTC.
    column : str
        The quantity that must be there.
    needed_pct : float, optional
        Share of the period below which nothing should be said; ``quality.toml`` if left out.

    Raises
    ------
    OutOfRangeError
        If the period does not run forward.
    """
    require_readings(frame, read="readings for coverage")
    _require_forward(start_utc, end_utc)
    inside = frame[(frame.index >= start_utc) & (frame.index < end_utc)]
    valid = usable(inside, column).dropna()
    period_s = (end_utc - start_utc).total_seconds()
    at_s = _seconds_since(pd.DatetimeIndex(valid.index), start_utc)
    interval_s = sample_interval_s(pd.DatetimeIndex(inside.index))
    valid_pct = 100.0 * covered_s(at_s, pd.DatetimeIndex(valid.index), period_s) / period_s
    expected = round(period_s / interval_s) if interval_s > 0 else len(inside)
    needed = parameter("quality", "coverage", "needed").value
    unfit = (inside["flags"].to_numpy() & int(UNFIT)) != 0
    return Coverage(
        valid_pct=round(valid_pct, 2),
        flagged=int(unfit.sum()),
        missing=max(0, expected - len(valid) - int(unfit.sum())),
        longest_gap_h=_longest_gap_h(at_s, period_s, interval_s),
        interval_s=interval_s,
        needed_pct=needed if needed_pct is None else needed_pct,
        flags=flag_counts(inside),
    )


def flag_counts(frame: pd.DataFrame) -> dict[str, int]:
    """Return how many readings carry each flag, in words; flags that none carries are left out."""
    flags = frame["flags"].to_numpy()
    counts = {word: int(np.count_nonzero(flags & int(flag))) for flag, word in FLAG_WORDS.items()}
    return {word: count for word, count in counts.items() if count}


def covered_s(at_s: Floats, index: pd.DatetimeIndex, period_s: float) -> float:
    """Return the time that readings stand for within ``[0, period_s]`` [s]."""
    if len(at_s) < 2:
        return 0.0
    edge_s = usual_step_s(index)
    before, after = min(at_s[0], edge_s), min(period_s - at_s[-1], edge_s)
    return float(min(before + measured_steps_s(index).sum() + after, period_s))


def _require_forward(start_utc: datetime, end_utc: datetime) -> None:
    if not start_utc < end_utc:
        raise OutOfRangeError(
            read="period",
            where="",
            found=f"{start_utc} to {end_utc}",
            expected="an end after its start",
            action="Give the period in the order start, end.",
        )


def _longest_gap_h(at_s: Floats, period_s: float, interval_s: float) -> float:
    """Return the longest silence [h]; an ordinary step between readings is none."""
    edges = np.concatenate([[0.0], at_s, [period_s]])
    longest_s = float(np.diff(edges).max())
    ordinary = parameter("quality", "gap", "intervals").value * interval_s
    return 0.0 if longest_s <= ordinary else round(longest_s / 3600.0, 3)


def _seconds_since(index: pd.DatetimeIndex, start_utc: datetime) -> Floats:
    start = pd.Timestamp(start_utc).as_unit("ns").value
    return np.asarray((index.as_unit("ns").asi8 - start) / 1e9, dtype=np.float64)


def silences(
    frame: pd.DataFrame,
    start_utc: datetime,
    end_utc: datetime,
    *,
    least_h: float,
    column: str = "rh_pct",
) -> list[tuple[datetime, datetime]]:
    """Return the stretches of a period without a fit reading that last longer than ``least_h``.

    Parameters
    ----------
    frame : pandas.DataFrame
        Readings as in `analysis.series`; may reach beyond the period.
    start_utc, end_utc : datetime
        The period, in UTC.
    least_h : float
        An ordinary step between readings, and what is not worth a line, is shorter. [h]
    column : str
        The quantity that must be there.

    Examples
    --------
    >>> from analysis.series import readings_frame
    >>> hours = pd.date_range("2030-01-01", periods=10, freq="h", tz="UTC")
    >>> air = readings_frame(hours.delete([3, 4, 5]), rh_pct=50.0)
    >>> ends = silences(air, hours[0], hours[9], least_h=2.0)
    >>> [(first.hour, last.hour) for first, last in ends]
    [(2, 6)]
    """
    valid = pd.DatetimeIndex(usable(frame, column).dropna().index)
    inside = valid[(valid >= pd.Timestamp(start_utc)) & (valid < pd.Timestamp(end_utc))]
    edges = [pd.Timestamp(start_utc), *inside, pd.Timestamp(end_utc)]
    return [
        (first.to_pydatetime(), last.to_pydatetime())
        for first, last in pairwise(edges)
        if (last - first).total_seconds() > 3600.0 * least_h
    ]
