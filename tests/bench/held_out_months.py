"""The days to come on months that a room's transfer had not seen: the table of the guide.

    python -m bench.held_out_months FOLDER

FOLDER holds the sets ``attic_paper_pair`` and ``wall_cavity_pair`` of TRH-database (TRH-1,
anssilaukkarinen/trh-1, CC BY 4.0; outdoor air: Finnish Meteorological Institute, CC BY 4.0).
A transfer is learned up to a day and asked once a day for thirty days, with the outdoor air that
was measured in place of a forecast: what is found is the error of the transfer alone.
"""

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.air.quality import flag_readings
from analysis.forecast.room_ahead import RoomAhead, room_ahead
from analysis.forecast.transfer import hourly, learn_transfer
from bench.measured_pairs import read_logger

Floats = npt.NDArray[np.float64]
ZONE = "Europe/Helsinki"
SETS = (
    ("home, room 1", "attic_paper_pair/indoor1.csv", (119, 262, 406, 550)),
    ("home, room 2", "attic_paper_pair/indoor2.csv", (119, 262, 406, 550)),
    ("room with a wall cavity", "wall_cavity_pair/sisailma.csv", (59, 76, 93, 110)),
)
DAYS, BACK, YEAR_DAYS = 30, pd.Timedelta(days=40), 365
LEADS = ((1, 24), (25, 72), (73, 168))  # hours ahead


@dataclass(frozen=True)
class Held:
    """Thirty issues of the week ahead against what was measured, at some hours ahead.

    Errors are means of relative humidity [%RH]; ``band_pct`` is how often the 90 % band held.
    """

    room: str
    record_days: int
    month: str
    leads: tuple[int, int]
    error: float
    as_now: float
    season: float
    band_pct: float


def seasons_mean(past: pd.DataFrame, begin: pd.Timestamp) -> float:
    """Return the mean humidity of this season a year ago, or else of the last month [%RH]."""
    if (past.index[-1] - past.index[0]).days < YEAR_DAYS:
        return float(past["rh_pct"].loc[begin - pd.Timedelta(days=DAYS) :].mean())
    apart = (pd.DatetimeIndex(past.index).day_of_year - begin.day_of_year + 182) % YEAR_DAYS - 182
    return float(past["rh_pct"][np.abs(apart) <= DAYS].mean())


def month_held_out(name: str, room: pd.DataFrame, outdoor: pd.DataFrame, days: int) -> list[Held]:
    """Return how a room's transfer, learned from its first days, fares in the month after them."""
    begin = (room.index[0] + pd.Timedelta(days=days)).floor("D")
    transfer = learn_transfer(room[room.index < begin], outdoor[outdoor.index < begin], ZONE)
    true = hourly(room)["rh_pct"]
    season = seasons_mean(hourly(room[room.index < begin]), begin)
    rows = []
    for day in range(DAYS):
        now = begin + pd.Timedelta(days=day, hours=7)
        rows.append(
            _against(
                room_ahead(
                    transfer,
                    room.loc[now - BACK : now],
                    outdoor.loc[now - BACK : now],
                    outdoor[(outdoor.index > now) & (outdoor.index <= now + pd.Timedelta(days=7))],
                    now.to_pydatetime(),
                ),
                true,
                now,
                season,
            )
        )
    found = np.vstack(rows)
    found = found[np.isfinite(found).all(axis=1)]
    return [_held(name, days, begin, leads, found) for leads in LEADS]


def _against(
    ahead: RoomAhead, true: "pd.Series[float]", now: pd.Timestamp, season: float
) -> Floats:
    """Return hours ahead, errors of three answers and whether the band held, shape (h, 5)."""
    index = pd.DatetimeIndex(ahead.time_utc).tz_localize("UTC")
    t = true.reindex(index).to_numpy()
    held = (t >= ahead.rh_low_pct) & (t <= ahead.rh_high_pct)
    lead = np.asarray((index - now) / pd.Timedelta(hours=1))
    return np.column_stack(
        [lead, np.abs(t - ahead.rh_pct), np.abs(t - true[now]), np.abs(t - season), held]
    )


def _held(name: str, days: int, begin: pd.Timestamp, leads: tuple[int, int], found: Floats) -> Held:
    some = found[(found[:, 0] >= leads[0]) & (found[:, 0] <= leads[1])]
    error, as_now, season, held = some[:, 1:].mean(axis=0)
    return Held(name, days, begin.strftime("%B %Y"), leads, error, as_now, season, 100.0 * held)


def months_held_out(folder: Path) -> list[Held]:
    """Return every month of every room, for each span of hours ahead."""
    out = []
    for name, place, months in SETS:
        room = flag_readings(read_logger(folder / place))
        outdoor = flag_readings(read_logger(folder / Path(place).parent / "fmi.csv"))
        for days in months:
            out += month_held_out(name, room, outdoor, days)
    return out


def main(folder: Path) -> list[Held]:
    """Print what was found and return it."""
    found = months_held_out(folder)
    for one in found:
        print(
            f"{one.room:24} {one.record_days:4d} days, {one.month:15} "
            f"{one.leads[0]:3d} to {one.leads[1]:3d} h: {one.error:4.1f} %RH, as now "
            f"{one.as_now:4.1f}, season {one.season:4.1f}, band held {one.band_pct:3.0f} %"
        )
    return found


if __name__ == "__main__":
    main(Path(sys.argv[1]))
