"""Output-error fits on measured pairs, with their residuals.

    python -m bench.measured_pairs FOLDER

FOLDER holds the sets ``wall_cavity_pair`` and ``attic_paper_pair`` of TRH-database (TRH-1,
anssilaukkarinen/trh-1, CC BY 4.0; outdoor air: Finnish Meteorological Institute, CC BY 4.0).
"""

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.optimize import minimize_scalar
from scipy.signal import lfilter

from analysis.air.moist_air import humidity_ratio_kg_kg
from analysis.learning.half_time import (
    START_REACH_PCT,
    HalfTimeFit,
    fit_half_time,
    outside_the_fit,
    simulator,
)
from analysis.learning.output_error import OutputErrorFit, output_error_fit, profile_rms
from analysis.learning.paired_loggers import paired
from analysis.series import readings_frame
from dashboards.text.half_time_text import outside_words, statements

Floats = npt.NDArray[np.float64]
ROOM, OUTDOORS = "sisailma.csv", "fmi.csv"
CAVITY = {
    "mid bay": "rajapinta_lammoneriste_tuulensuoja.csv",
    "corner": "nurkka_alaohjauspuu_runkotolppa_tuulensuoja_alhaalla_oikealla.csv",
}
WALL_STARTS_H = np.geomspace(0.3, 100.0, 10)
TO_MINUTES = 60.0 / np.log(2.0)


@dataclass(frozen=True)
class CavityFit:
    """A one-pole lag behind a mix of room and outdoor air, in time constants [min]."""

    place: str
    looked_at: str
    room_share: float
    tau_min: float
    low_min: float
    high_min: float
    fit: OutputErrorFit


def read_logger(path: Path) -> pd.DataFrame:
    """Return a file of the sets as readings in UTC; its clock is UTC+2 all the year."""
    raw = pd.read_csv(path)
    time = pd.DatetimeIndex(pd.to_datetime(raw["t_UTC+2"])).tz_localize("Etc/GMT-2")
    columns = {"temp_c": raw.iloc[:, 1].to_numpy(), "rh_pct": raw.iloc[:, 2].to_numpy()}
    return readings_frame(time.tz_convert("UTC"), **columns)


def cavity_fits(folder: Path) -> list[CavityFit]:
    """Fit the wall cavity on the levels of the humidity ratio and on its ten-minute changes."""
    room, outdoors = (_humidity_ratio(folder / name) for name in (ROOM, OUTDOORS))
    found = []
    for place, name in CAVITY.items():
        inside = _humidity_ratio(folder / name)
        found.append(_cavity_fit(place, "levels", inside, room, outdoors, lambda x: x))
        found.append(_cavity_fit(place, "changes", inside, room, outdoors, _changes))
    return found


def _humidity_ratio(path: Path) -> Floats:
    """Humidity ratio [g/kg] without the first day, in which the loggers cooled down."""
    air = read_logger(path).iloc[144:]
    return np.asarray(humidity_ratio_kg_kg(air["temp_c"], air["rh_pct"]), dtype=np.float64) * 1e3


def _changes(values: Floats) -> Floats:
    return np.diff(values, axis=0)


def _cavity_fit(
    place: str,
    looked_at: str,
    inside: Floats,
    room: Floats,
    outdoors: Floats,
    view: Callable[[Floats], Floats],
) -> CavityFit:
    def fit(share: float) -> OutputErrorFit:
        mixed = share * room + (1.0 - share) * outdoors

        def simulate(half_times_h: Floats, starts: Floats) -> Floats:
            pairs = zip(half_times_h, starts, strict=True)
            return view(np.column_stack([one_pole(mixed, t, s, 1.0 / 6.0) for t, s in pairs]))

        return output_error_fit(simulate, view(inside), WALL_STARTS_H)

    best = minimize_scalar(
        lambda share: fit(share).residual_rms, bounds=(0.0, 1.0), options={"xatol": 0.003}
    )
    found = fit(float(best.x))
    tau = [t * TO_MINUTES for t in (found.half_time_h, found.low_h, found.high_h)]
    return CavityFit(place, looked_at, float(best.x), tau[0], tau[1], tau[2], found)


def one_pole(drive: Floats, half_time_h: float, start: float, interval_h: float) -> Floats:
    """Return a first-order lag with linearly interpolated drive."""
    r = np.log(2.0) * interval_h / half_time_h
    a = np.exp(-r)
    m1 = (1.0 - a) / r
    state = [start - (1.0 - m1) * drive[0]]
    return np.asarray(lfilter([1.0 - m1, m1 - a], [1.0, -a], drive, zi=state)[0])


UPPER, LOWER = "roofmiddle_topofcardboard.csv", "roofmiddle_bottomofcardboard.csv"
SEASONS = {
    "winter": ("2010-12-01", "2011-03-01"),
    "spring": ("2011-03-01", "2011-06-01"),
    "summer": ("2011-06-01", "2011-08-29"),
}
WHOLE = ("2010-11-15", "2011-08-29")
ATTIC_STARTS_H = np.geomspace(0.5, 2000.0, 30)


@dataclass(frozen=True)
class AtticFits:
    """The two faces of the building paper, the upper as the room, the lower as the frame.

    ``elsewhere`` holds, for the season of the row's fit and the season of the column, the
    residual [%RH] of that half-time used there with offset and start fitted anew, and what the
    program says of using it there ("" where it raises nothing).
    """

    whole: HalfTimeFit
    by_season: dict[str, HalfTimeFit]
    elsewhere: dict[tuple[str, str], tuple[float, str]]


def attic_fits(folder: Path) -> AtticFits:
    """Fit the paper pair over the whole record and by season."""
    upper, lower = read_logger(folder / UPPER), read_logger(folder / LOWER)

    def fit(span: tuple[str, str], starts_h: Floats = ATTIC_STARTS_H) -> HalfTimeFit:
        between = slice(span[0], span[1])
        return fit_half_time(upper.loc[between], lower.loc[between], starts_h=starts_h)

    by_season = {name: fit(span) for name, span in SEASONS.items()}
    elsewhere = {}
    for fitted, one in by_season.items():
        for used, span in SEASONS.items():
            here = by_season[used]
            left = residual_at(upper.loc[slice(*span)], lower.loc[slice(*span)], one.half_time_h)
            elsewhere[fitted, used] = (
                left,
                outside_words(outside_the_fit(one, here.temp_c, here.rh_pct)),
            )
    return AtticFits(fit(WHOLE), by_season, elsewhere)


def residual_at(room: pd.DataFrame, inside: pd.DataFrame, half_time_h: float) -> float:
    """Return the residual [%RH] at a half-time that is held, offset and start refitted."""
    pair = paired(room, inside)
    return profile_rms(simulator(pair), pair.inside_pct, half_time_h, START_REACH_PCT)


def main(folder: Path) -> None:
    """Print the fits."""
    print("Wall cavity, one pole of a mix of room and outdoor humidity ratio")
    for one in cavity_fits(folder / "wall_cavity_pair"):
        print(
            f"  {one.place:8} {one.looked_at:8} room share {one.room_share:.2f}  "
            f"tau {one.tau_min:.0f} min ({one.low_min:.0f} to {one.high_min:.0f})  "
            f"residual {one.fit.residual_rms:.3f} g/kg  lag-1 {one.fit.lag_one:.3f}"
        )
    attic = attic_fits(folder / "attic_paper_pair")
    print("Attic, lower face of the building paper behind the upper")
    for name, fitted in {"whole": attic.whole, **attic.by_season}.items():
        f = fitted.fit
        print(
            f"  {name:8} half-time {f.half_time_h:6.1f} h ({f.low_h:.1f} to {f.high_h:.1f}, "
            f"{f.bound.value})  residual {f.residual_rms:.1f} %RH  lag-1 {f.lag_one:.2f}"
        )
        for sentence in statements(fitted)[1:-2]:
            print(f"           {sentence}")
    for (fitted_in, used_in), (left, words) in attic.elsewhere.items():
        print(f"  fitted in {fitted_in}, used in {used_in}: {left:.1f} %RH left over. {words}")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
