"""What each logger made of the air: offsets, resolution, and one fault each.

`LOGGERS` is the list to read first: who hangs where, how it errs, what went wrong with it.
"""

import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from sample_logs.climate import NOW, SEED, behind_glass
from sample_logs.journey import CRATE, HALL
from sample_logs.weather import Floats

Air = Mapping[str, pd.DataFrame]


@dataclass(frozen=True)
class Logger:
    """One logger: the room whose air it sees, and how its readings differ from that air."""

    logger: str
    room: str
    rh_offset_pct: float = 0.0
    temp_offset_c: float = 0.0
    rh_noise_pct: float = 0.15
    frame_half_time_h: float = 0.0
    first: str = "2025-01-20T00:00"
    interval: str = "1h"


def at(text: str) -> pd.Timestamp:
    """Return a UTC time."""
    return pd.Timestamp(text, tz="UTC")


LOGGERS = (
    Logger("north-1", "north", 0.3),
    Logger("north-2", "north", 1.9, -0.2),
    Logger("north-frame", "north", -0.4, 0.1, 0.05, 19.0, "2025-06-02T12:00"),
    Logger("long-1", "long", -0.5),
    Logger("long-2", "long", 0.8, 0.2),
    Logger("long-frame", "long", 0.2, 0.0, 0.05, 420.0, "2025-06-02T12:00"),
    Logger("court-1", "court", 0.0),
    Logger("court-2", "court", 0.7, 0.3),
    Logger("court-3", "court", -0.9, -0.2),
    Logger("east-1", "east", 0.4, 0.1),
    Logger("tower-1", "tower", -0.6),
    Logger("tower-2", "tower", 0.5, 0.2),
    Logger("store-1", "store", 0.2, 0.0, 0.08),
    Logger("spare-1", "court", 1.1, -0.1),
    Logger("out-1", "outdoors", 0.0, 0.2, 0.4),
    Logger("crate-1", CRATE, 0.4, 0.1, first="2025-10-06T09:00"),
    Logger("hall-1", HALL, -0.3, 0.0, first="2025-10-01T00:00"),
)

# When the spare logger was carried from the court to the store.
MOVED = at("2025-09-15T09:00")
# When the second logger of the tower fell silent.
DIED = at("2025-11-17T04:00")
# When the second logger of the Long Gallery repeated one reading.
STUCK = (at("2025-06-03T14:00"), at("2025-06-09T10:00"))
# Stretches nobody recorded: a battery forgotten, a memory full.
GAPS = {
    "north-2": (at("2025-06-17T07:00"), at("2025-06-18T15:00")),
    "east-1": (at("2025-11-29T20:00"), at("2025-12-01T11:00")),
    "store-1": (at("2025-08-20T00:00"), at("2025-08-21T09:00")),
    "out-1": (at("2025-10-11T03:00"), at("2025-10-11T21:00")),
}
# Single readings that did not arrive: share of all rows.
DROPPED = {"long-1": 0.004, "tower-2": 0.002}


def readings_of(logger: Logger, air: Air) -> pd.DataFrame:
    """Return everything a logger recorded at quarter-hours, before its interval is applied.

    Returns
    -------
    pandas.DataFrame
        Columns ``temp_c``, ``rh_pct``; NaN where a reading was asked for and none came. Rows that
        were never recorded are absent.
    """
    rng = np.random.default_rng([SEED, zlib.crc32(logger.logger.encode())])
    true = _air_seen(logger, air)
    true = true.loc[true.index >= at(logger.first)]
    n = len(true)
    seen = pd.DataFrame(
        {
            "temp_c": true["temp_c"] + logger.temp_offset_c + 0.05 * rng.standard_normal(n),
            "rh_pct": true["rh_pct"]
            + logger.rh_offset_pct
            + logger.rh_noise_pct * rng.standard_normal(n),
        }
    )
    seen["rh_pct"] = seen["rh_pct"].clip(1.0, 99.9)
    lost: Floats = rng.random(n)
    seen[lost < DROPPED.get(logger.logger, 0.0)] = np.nan
    if logger.logger in FAULTS:
        seen = FAULTS[logger.logger](seen)
    if logger.logger in GAPS:
        first, last = GAPS[logger.logger]
        seen = seen.loc[(seen.index < first) | (seen.index >= last)]
    return seen


def hours_after(moment: pd.Timestamp, times: pd.DatetimeIndex) -> Floats:
    """Return how long after a moment each time lies, negative before it [h]."""
    return np.asarray((times - moment) / pd.Timedelta("1h"), dtype=np.float64)


def _air_seen(logger: Logger, air: Air) -> pd.DataFrame:
    own = air[logger.room]
    if logger.frame_half_time_h:
        return behind_glass(own, logger.frame_half_time_h, float(own["rh_pct"].iloc[0]) + 1.0)
    if logger.logger == "spare-1":
        return pd.concat([own[own.index < MOVED], air["store"][air["store"].index >= MOVED]])
    return own


def _stuck(seen: pd.DataFrame) -> pd.DataFrame:
    first, last = STUCK
    inside = (seen.index >= first) & (seen.index < last)
    held = seen[seen.index <= first].iloc[-1]
    seen.loc[inside, ["temp_c", "rh_pct"]] = held.to_numpy()
    return seen


def _died(seen: pd.DataFrame) -> pd.DataFrame:
    """Let the last week drift upward, the last day come in bits, and then nothing."""
    seen = seen[seen.index < DIED].copy()
    times = pd.DatetimeIndex(seen.index)
    days_left = -hours_after(DIED, times) / 24.0
    seen["rh_pct"] += np.clip(7.0 - days_left, 0.0, None) * 1.1
    weak = (days_left < 1.0) & (times.hour.to_numpy() % 3 != 0)
    seen[weak] = np.nan
    return seen


def _carried(seen: pd.DataFrame) -> pd.DataFrame:
    """Warm the logger in the hand, then let it settle in the store for two hours."""
    hours = hours_after(MOVED, pd.DatetimeIndex(seen.index))
    settling = np.where((hours >= -0.5) & (hours < 6.0), np.exp(-np.abs(hours) / 1.2), 0.0)
    seen["temp_c"] += 5.5 * settling
    seen["rh_pct"] += -9.0 * settling
    return seen


FAULTS: Mapping[str, Callable[[pd.DataFrame], pd.DataFrame]] = {
    "long-2": _stuck,
    "tower-2": _died,
    "spare-1": _carried,
}


def between(seen: pd.DataFrame, first: str, last: str, interval: str) -> pd.DataFrame:
    """Return the readings of a download: ``first`` ≤ time < ``last``, one each ``interval``."""
    end = min(at(last), NOW + pd.Timedelta("1min"))
    times = pd.DatetimeIndex(seen.index)
    wanted = (times >= at(first)) & (times < end) & (times.floor(interval) == times)
    return seen.loc[wanted]
