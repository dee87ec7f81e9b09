"""The one shape in which readings travel: a UTC-indexed frame of temperature and humidity."""

from enum import IntFlag

import numpy as np
import pandas as pd

from analysis.errors import NotEnoughError, OutOfRangeError


class Flag(IntFlag):
    """Doubts about a reading, combined as bits. A flag never removes a reading."""

    NONE = 0
    OUT_OF_RANGE = 1
    STUCK = 2
    ONE_SAMPLE_SPIKE = 4
    IMPOSSIBLE_RATE = 8
    AFTER_GAP = 16
    DUPLICATE = 32
    CLOCK_STEP = 64
    WARM_UP = 128
    DISAGREES = 256
    DOUBLED_HOUR = 512
    MISSING_HOUR = 1024
    CONFLICT = 2048


FLAG_WORDS: dict[Flag, str] = {
    Flag.OUT_OF_RANGE: "out of range",
    Flag.STUCK: "stuck",
    Flag.ONE_SAMPLE_SPIKE: "one-sample spike",
    Flag.IMPOSSIBLE_RATE: "changes faster than air can",
    Flag.AFTER_GAP: "first after a gap",
    Flag.DUPLICATE: "duplicate time",
    Flag.CLOCK_STEP: "clock step",
    Flag.WARM_UP: "warm-up after start",
    Flag.DISAGREES: "disagrees with its neighbours",
    Flag.DOUBLED_HOUR: "in the doubled autumn hour",
    Flag.MISSING_HOUR: "in the missing spring hour",
    Flag.CONFLICT: "another export gave another value",
}

# A reading with one of these is shown (hollow) but not used to judge a work.
UNFIT = (
    Flag.OUT_OF_RANGE
    | Flag.STUCK
    | Flag.ONE_SAMPLE_SPIKE
    | Flag.IMPOSSIBLE_RATE
    | Flag.WARM_UP
    | Flag.DISAGREES
    | Flag.DOUBLED_HOUR
    | Flag.MISSING_HOUR
)

READING_COLUMNS = ("temp_c", "rh_pct", "flags")


def flag_words(flags: int) -> str:
    """Return the words for a combination of flags, separated by "; ".

    Examples
    --------
    >>> flag_words(Flag.STUCK | Flag.CONFLICT)
    'stuck; another export gave another value'
    >>> flag_words(0)
    ''
    """
    return "; ".join(word for flag, word in FLAG_WORDS.items() if flags & flag)


def readings_frame(time_utc: pd.DatetimeIndex, **columns: object) -> pd.DataFrame:
    """Return a frame of readings, checked.

    Parameters
    ----------
    time_utc : pandas.DatetimeIndex, shape (n,)
        Times, with zone UTC, sorted and unique.
    **columns : array-like, shape (n,)
        ``temp_c`` [°C], ``rh_pct`` [%], ``flags`` (see `Flag`). What is left out is NaN, or 0
        for ``flags``.

    Returns
    -------
    pandas.DataFrame
        Columns ``temp_c``, ``rh_pct`` (float64, NaN where missing) and ``flags`` (int32).

    Raises
    ------
    OutOfRangeError
        If the times are not in UTC, not sorted or not unique.
    """
    kinds = {"temp_c": "float64", "rh_pct": "float64", "flags": "int32"}
    given = {name: columns.get(name, 0 if name == "flags" else np.nan) for name in kinds}
    frame = pd.DataFrame(given, index=time_utc).astype(kinds).rename_axis(index="time_utc")
    require_readings(frame, read="readings")
    return frame


def require_readings(frame: pd.DataFrame, *, read: str) -> None:
    """Raise unless ``frame`` has the shape that every calculation here expects."""
    missing = [name for name in READING_COLUMNS if name not in frame.columns]
    if missing:
        raise NotEnoughError(
            read=read,
            where="columns",
            found=", ".join(map(str, frame.columns)) or "none",
            expected=", ".join(READING_COLUMNS),
            action="Build the frame with analysis.series.readings_frame.",
        )
    index = frame.index
    if not isinstance(index, pd.DatetimeIndex) or str(index.tz) != "UTC":
        raise OutOfRangeError(
            read=read,
            where="index",
            found=f"{type(index).__name__} with zone {getattr(index, 'tz', None)}",
            expected="times in UTC",
            action="Convert the times to UTC before calling.",
        )
    if not (index.is_monotonic_increasing and index.is_unique):
        raise OutOfRangeError(
            read=read,
            where="index",
            found="times that repeat or run backwards",
            expected="sorted, unique times",
            action="Sort the readings and resolve duplicates first.",
        )


def usable(frame: pd.DataFrame, column: str) -> pd.Series:
    """Return one column with the readings that carry an `UNFIT` flag turned to NaN."""
    values: pd.Series = frame[column]
    fit = (frame["flags"].to_numpy() & int(UNFIT)) == 0
    return values if fit.all() else values.where(fit)


def sample_interval_s(index: pd.DatetimeIndex) -> float:
    """Return the median step between samples, or NaN for fewer than two [s]."""
    if len(index) < 2:
        return float("nan")
    steps_ms = np.diff(index.as_unit("ms").asi8)
    return float(np.median(steps_ms)) / 1000.0
