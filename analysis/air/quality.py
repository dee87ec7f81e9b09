"""Doubts about readings, as flags beside them. Nothing is ever removed, shifted or filled.

Every threshold is a row of ``published/quality.toml``. Each test looks at the whole record at once;
the cost grows with its length alone. What a test asks of the whole record is its `Habits`: with
them a part of it is flagged as it is within the whole, where enough stands before and after it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.sampling import hold_s, is_regular, steps_s, usual_step_s, usual_steps_s
from analysis.parameters import parameter
from analysis.series import Flag, require_readings, sample_interval_s

Floats = npt.NDArray[np.float64]
Marks = npt.NDArray[np.bool_]
SATURATED_RH_PCT = 99.95
FINEST = 0.01
HOUR_NS = 3.6e12


def limit(group: str, name: str) -> float:
    """Return a threshold of ``published/quality.toml``."""
    return parameter("quality", group, name).value


@dataclass(frozen=True)
class ChannelHabits:
    """Of one channel: its usual step [s], and how long equal values may last [h].

    How long is too long depends on the resolution of the sensor (see `resolution`); of a few
    readings nothing is.
    """

    usual_step_s: float
    still_h: float

    @classmethod
    def of(cls, values: pd.Series, hours_per_unit: float) -> "ChannelHabits":
        """Return those of some readings; missing ones are left out."""
        held = values.dropna()
        x = held.to_numpy(dtype=np.float64)
        if len(x) < limit("stuck", "least_readings"):
            return cls(usual_step_s(held.index), float("inf"))
        shortest, longest = limit("stuck", "shortest"), limit("stuck", "longest")
        still_h = min(max(hours_per_unit * resolution(x), shortest), longest)
        return cls(usual_step_s(held.index), still_h)


@dataclass(frozen=True)
class Habits:
    """What the flags of any part of a record rest on beside the readings around it.

    Parameters
    ----------
    usual_step_s, interval_s : float
        The step that 95 of 100 do not exceed, and the median one [s]; NaN for too few readings.
    regular : bool
        Whether its clock is regular.
    rh_pct, temp_c : ChannelHabits
        Those of either channel.
    """

    usual_step_s: float
    interval_s: float
    regular: bool
    rh_pct: ChannelHabits
    temp_c: ChannelHabits

    @classmethod
    def of(cls, frame: pd.DataFrame) -> "Habits":
        """Return those of a record as `analysis.series.readings_frame` makes it."""
        possible = _possible(frame, out_of_range(frame))
        index = _times(frame)
        return cls(
            usual_step_s(index),
            sample_interval_s(index),
            is_regular(index),
            ChannelHabits.of(possible["rh_pct"], limit("stuck", "rh_hours_per_pct")),
            ChannelHabits.of(possible["temp_c"], limit("stuck", "temp_hours_per_c")),
        )


def flag_readings(
    frame: pd.DataFrame,
    *,
    neighbours: Mapping[str, pd.DataFrame] | None = None,
    started_utc: datetime | None = None,
    habits: Habits | None = None,
) -> pd.DataFrame:
    """Return the readings with the doubts about them added to ``flags``.

    Parameters
    ----------
    frame : pandas.DataFrame, n readings
        As `analysis.series.readings_frame` makes it.
    neighbours : mapping of name to frame, optional
        Other sensors of the same room. Two or more are needed to say which one disagrees.
    started_utc : datetime, optional
        When the logger was started. Without it a warm-up is looked for at the start of the record.
    habits : Habits, optional
        Those of the record of which these readings are a part; default: their own.

    Returns
    -------
    pandas.DataFrame, n readings
        A copy; temperature and humidity are those given. Flags set by others stay.
    """
    require_readings(frame, read="readings to be flagged")
    if frame.empty:
        return frame.copy()
    flags = frame["flags"].to_numpy(dtype="int32", copy=True)
    impossible = out_of_range(frame)
    possible = _possible(frame, impossible)
    known = Habits.of(frame) if habits is None else habits
    for flag, marks in (
        (Flag.OUT_OF_RANGE, impossible),
        (Flag.STUCK, stuck(possible, known)),
        (Flag.ONE_SAMPLE_SPIKE, one_sample_spikes(possible, known)),
        (Flag.IMPOSSIBLE_RATE, impossible_rates(possible)),
        (Flag.AFTER_GAP, after_gap(possible, known)),
        (Flag.DUPLICATE, repeated(frame, known)),
        (Flag.CLOCK_STEP, clock_steps(frame, known)),
        (Flag.WARM_UP, warm_up(possible, started_utc)),
        (Flag.DISAGREES, disagrees(possible, neighbours or {})),
    ):
        flags |= np.where(marks, np.int32(flag), np.int32(0))
    return frame.assign(flags=flags)


def flag_disagreeing(flagged: pd.DataFrame, neighbours: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """Return readings that `flag_readings` has flagged, with those marked that disagree.

    The same as flagging them again with their neighbours, since flagging twice adds nothing.
    """
    marks = disagrees(_possible(flagged, out_of_range(flagged)), neighbours)
    flags = flagged["flags"].to_numpy(dtype="int32")
    return flagged.assign(flags=flags | np.where(marks, np.int32(Flag.DISAGREES), np.int32(0)))


def _possible(frame: pd.DataFrame, impossible: Marks) -> pd.DataFrame:
    """Return the readings without those that no room air can have."""
    if not impossible.any():
        return frame
    return frame.assign(
        temp_c=frame["temp_c"].mask(impossible), rh_pct=frame["rh_pct"].mask(impossible)
    )


def out_of_range(frame: pd.DataFrame) -> Marks:
    """Mark readings that no room air can have, shape (n,)."""
    temp, rh = frame["temp_c"].to_numpy(), frame["rh_pct"].to_numpy()
    return np.asarray(
        (temp < limit("range", "temp_low_c"))
        | (temp > limit("range", "temp_high_c"))
        | (rh <= limit("range", "rh_low_pct"))
        | (rh > limit("range", "rh_high_pct"))
    )


def one_sample_spikes(frame: pd.DataFrame, habits: Habits) -> Marks:
    """Mark single readings that jump away from both neighbours, which agree, shape (n,)."""
    slow = habits.usual_step_s > limit("spike", "slow_interval")
    marks = np.zeros(len(frame), dtype=bool)
    for column, fast_name, slow_name in (
        ("rh_pct", "rh_pct", "rh_slow_pct"),
        ("temp_c", "temp_c", "temp_slow_c"),
    ):
        least = limit("spike", slow_name if slow else fast_name)
        change = np.diff(frame[column].to_numpy())
        there, back = change[:-1], -change[1:]
        alike = (np.sign(there) == np.sign(back)) & (
            np.abs(back) >= limit("spike", "return") * np.abs(there)
        )
        marks[1:-1] |= alike & (np.minimum(np.abs(there), np.abs(back)) >= least)
    return marks & ~_beside_gap(frame.index, habits)


def impossible_rates(frame: pd.DataFrame) -> Marks:
    """Mark readings reached faster than the air of a room can change, shape (n,)."""
    minutes = steps_s(frame.index) / 60.0
    marks = np.zeros(len(frame), dtype=bool)
    for column, rate_name, step_name in (
        ("rh_pct", "rh_pct_per_min", "rh_step_pct"),
        ("temp_c", "temp_c_per_min", "temp_step_c"),
    ):
        change = np.abs(np.diff(frame[column].to_numpy()))
        marks[1:] |= (change >= limit("rate", step_name)) & (
            change >= limit("rate", rate_name) * minutes
        )
    return marks


def after_gap(frame: pd.DataFrame, habits: Habits) -> Marks:
    """Mark the first reading after a hole in the record, shape (n,)."""
    marks = np.zeros(len(frame), dtype=bool)
    held = np.flatnonzero(frame[["temp_c", "rh_pct"]].notna().any(axis=1).to_numpy())
    steps = steps_s(frame.index[held])
    if len(steps):
        local = np.maximum(usual_steps_s(frame.index[held]), habits.usual_step_s)
        marks[held[1:]] = steps > limit("gap", "intervals") * local
    return marks


def repeated(frame: pd.DataFrame, habits: Habits) -> Marks:
    """Mark a reading that follows so closely that it can only be the last one again, shape (n,)."""
    marks = np.zeros(len(frame), dtype=bool)
    steps = steps_s(frame.index)
    if len(steps) and habits.regular:
        marks[1:] = steps < limit("clock", "duplicate") * habits.interval_s
    return marks


def clock_steps(frame: pd.DataFrame, habits: Habits) -> Marks:
    """Mark readings at which a regular clock slips off its own grid, shape (n,).

    A logger that was stopped and started again is a gap, not a step.
    """
    marks = np.zeros(len(frame), dtype=bool)
    steps = steps_s(frame.index)
    if not len(steps) or not habits.regular:
        return marks
    ratio = steps / usual_steps_s(frame.index)
    off_grid = np.abs(ratio - 1.0) > limit("clock", "off_grid")
    marks[1:] = off_grid & (ratio > limit("clock", "duplicate"))
    marks[1:] &= ratio <= limit("gap", "intervals")
    return marks


def warm_up(frame: pd.DataFrame, started_utc: datetime | None) -> Marks:
    """Mark readings made while the logger took on the temperature of its place, shape (n,).

    Without a known start: where temperature in the first hour lies far from the level of hours
    3 to 6, and that level is steady, all is marked until temperature has come near it. A record
    too short to show a level has no warm-up.
    """
    times = _times(frame)
    if started_utc is not None:
        start = pd.Timestamp(started_utc)
        end = start + timedelta(hours=limit("warm_up", "after_start"))
        return np.asarray((times >= start) & (times < end))
    marks = np.zeros(len(frame), dtype=bool)
    since_h, temp = _hours_since_first(times), frame["temp_c"].to_numpy()
    longest = limit("warm_up", "longest")
    later = (since_h >= longest) & (since_h <= 2 * longest) & ~np.isnan(temp)
    level = temp[later]
    if len(level) < 3 or np.ptp(since_h[later]) < limit("warm_up", "level_for"):
        return marks
    if np.ptp(level) > limit("warm_up", "steady_c"):
        return marks
    away = np.abs(temp - np.median(level))
    if (away[since_h <= limit("warm_up", "after_start")] > limit("warm_up", "temp_c")).any():
        far = np.flatnonzero((away > limit("warm_up", "steady_c")) & (since_h < longest))
        marks[: far[-1] + 1] = True
    return marks


def disagrees(frame: pd.DataFrame, neighbours: Mapping[str, pd.DataFrame]) -> Marks:
    """Mark readings in hours that lie away from the median of two or more neighbours, shape (n,).

    With a single neighbour nobody can say which of the two is right, and nothing is marked.
    """
    marks = np.zeros(len(frame), dtype=bool)
    if len(neighbours) < 2:
        return marks
    hours = _times(frame).floor("h")
    for column, least in (
        ("rh_pct", limit("disagree", "rh_pct")),
        ("temp_c", limit("disagree", "temp_c")),
    ):
        own = _hourly_means(frame, column)
        others = pd.DataFrame({n: _hourly_means(f, column) for n, f in neighbours.items()})
        others = others.reindex(own.index)
        middle = others.median(axis=1).where(others.notna().sum(axis=1) >= 2)
        marks |= lasting((own - middle).abs() > least).reindex(hours).to_numpy()
    return marks & frame["rh_pct"].notna().to_numpy()


def lasting(away: pd.Series) -> pd.Series:
    """Keep the hours that belong to a run as long as ``disagree.hours``."""
    run = (away != away.shift()).cumsum()
    length = away.groupby(run).transform("size")
    return away & (length >= limit("disagree", "hours"))


def _hourly_means(frame: pd.DataFrame, column: str) -> pd.Series:
    means: pd.Series = frame[column].groupby(_times(frame).floor("h")).mean()
    return means


def _beside_gap(index: pd.Index, habits: Habits) -> Marks:
    steps = steps_s(index)
    gap = steps > limit("gap", "intervals") * habits.usual_step_s
    marks = np.zeros(len(index), dtype=bool)
    marks[1:] |= gap
    marks[:-1] |= gap
    return marks


def _times_ns(index: pd.Index) -> npt.NDArray[np.int64]:
    return pd.DatetimeIndex(index).as_unit("ns").asi8


def _hours_since_first(times: pd.DatetimeIndex) -> Floats:
    return np.concatenate([[0.0], np.cumsum(steps_s(times))]) / 3600.0


def _times(frame: pd.DataFrame) -> pd.DatetimeIndex:
    return pd.DatetimeIndex(frame.index)


def stuck(frame: pd.DataFrame, habits: Habits) -> Marks:
    """Mark readings in runs of equal humidity, or of equal temperature, that last too long.

    Saturated air may stand at 100 % for days and is left alone.

    Returns
    -------
    numpy.ndarray of bool, shape (n,)
    """
    rh = standing_still(frame["rh_pct"], habits.rh_pct)
    saturated = frame["rh_pct"].to_numpy() >= SATURATED_RH_PCT
    temp = standing_still(frame["temp_c"], habits.temp_c)
    return (rh & ~saturated) | temp


def resolution(values: Floats) -> float:
    """Return the usual smallest change of a sensor: the lowest tenth of its changes.

    Examples
    --------
    >>> resolution(np.array([50.0, 50.5, 50.5, 51.0, 52.0, 51.5, 51.5]))
    0.5
    """
    changes = np.abs(np.diff(values))
    changes = changes[changes > FINEST / 10]
    if not len(changes):
        return FINEST
    return max(float(np.quantile(changes, 0.1, overwrite_input=True)), FINEST)


def standing_still(values: pd.Series, habits: ChannelHabits) -> Marks:
    """Mark the runs of equal values that last longer than the resolution allows, shape (n,)."""
    marks = values.notna().to_numpy(copy=True)
    held = values.dropna()
    if held.empty:
        return marks
    x = held.to_numpy(dtype=np.float64)
    holes = steps_s(held.index) > hold_s(held.index, habits.usual_step_s)
    starts = np.flatnonzero(np.append(True, (np.diff(x) != 0.0) | holes))
    counts = np.diff(np.append(starts, len(x)))
    time_ns = _times_ns(held.index)
    lasted_h = (time_ns[starts + counts - 1] - time_ns[starts]) / HOUR_NS
    long = (lasted_h >= habits.still_h) & (counts >= limit("stuck", "least_readings"))
    marks[marks] = np.repeat(long, counts)
    return marks
