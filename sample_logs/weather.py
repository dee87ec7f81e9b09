"""The air outdoors: seasons, weather of some days' length, day and night, from a seed.

Invented, for a mild coast at about 53° north. Plausible, not measured.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Spell:
    """Some days of weather that the story needs: pulled towards a temperature and a humidity."""

    first: str
    last: str
    temp_c: float
    rh_pct: float
    weight: float


SPELLS = (
    # Warm and close, the weekend on which the Long Gallery's plant stops.
    Spell("2025-08-06T18:00", "2025-08-12T18:00", 20.5, 88.0, 0.85),
    # The damp end of September.
    Spell("2025-09-19T00:00", "2025-10-04T00:00", 14.5, 93.0, 0.60),
    # Dry and cold, with wind from the east.
    Spell("2026-01-04T00:00", "2026-01-17T00:00", -4.5, 64.0, 0.85),
    # Two wet weeks before spring.
    Spell("2026-02-27T00:00", "2026-03-12T00:00", 9.5, 94.0, 0.60),
    # The rain of the opening night.
    Spell("2026-03-19T08:00", "2026-03-20T20:00", 11.5, 96.0, 0.90),
)


def saturation_pa(temp_c: Floats) -> Floats:
    """Return the saturation vapour pressure over water, by the Magnus formula [Pa].

    Good enough to invent air with; the program's own figures come from `analysis.air.moist_air`.

    Examples
    --------
    >>> round(float(saturation_pa(np.array(20.0))))
    2333
    """
    return np.asarray(611.2 * np.exp(17.62 * temp_c / (243.12 + temp_c)), dtype=np.float64)


def wander(rng: np.random.Generator, steps: int, memory_steps: float, spread: float) -> Floats:
    """Return a random walk that is pulled back to zero (first-order, stationary).

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    steps : int
        Length of the result.
    memory_steps : float
        Steps after which an excursion has fallen to 1/e.
    spread : float
        Standard deviation of the result.
    """
    keep = float(np.exp(-1.0 / memory_steps))
    shocks = rng.standard_normal(steps) * spread * np.sqrt(1.0 - keep * keep)
    shocks[0] = rng.standard_normal() * spread
    walk = np.empty(steps)
    level = 0.0
    for i, shock in enumerate(shocks.tolist()):
        level = keep * level + shock
        walk[i] = level
    return walk


def presence(times: pd.DatetimeIndex, spell: Spell) -> Floats:
    """Return how much of a spell is felt: from 0 smoothly to its weight and back, flat-topped."""
    first, last = pd.Timestamp(spell.first, tz="UTC"), pd.Timestamp(spell.last, tz="UTC")
    share = np.asarray((times - first) / (last - first), dtype=np.float64)
    inside = np.clip(share, 0.0, 1.0)
    return np.asarray(spell.weight * np.minimum(1.0, 2.0 * np.sin(np.pi * inside) ** 2))


def outdoor_air(times: pd.DatetimeIndex, rng: np.random.Generator) -> pd.DataFrame:
    """Return the outdoor air at ``times``: columns ``temp_c`` and ``rh_pct``."""
    per_hour = pd.Timedelta("1h") / (times[1] - times[0])
    year = 2.0 * np.pi * (times.day_of_year.to_numpy() - 28.0) / 365.25
    day = 2.0 * np.pi * (times.hour.to_numpy() + times.minute.to_numpy() / 60.0 - 15.0) / 24.0
    summer = 0.5 - 0.5 * np.cos(year)
    n = len(times)
    temp_c = 10.2 - 5.4 * np.cos(year) + (1.4 + 2.2 * summer) * np.cos(day)
    temp_c += wander(rng, n, 72 * per_hour, 2.3) + wander(rng, n, 4 * per_hour, 0.4)
    lift = 1.35 - 0.55 * summer - (0.35 + 0.75 * summer) * np.cos(day)
    lift += wander(rng, n, 40 * per_hour, 0.75) + wander(rng, n, 5 * per_hour, 0.15)
    rh_pct = 30.0 + 69.5 / (1.0 + np.exp(-lift))
    for spell in SPELLS:
        felt = presence(times, spell)
        temp_c += felt * (spell.temp_c - temp_c)
        rh_pct += felt * (spell.rh_pct - rh_pct)
    return pd.DataFrame({"temp_c": temp_c, "rh_pct": np.clip(rh_pct, 22.0, 99.5)}, index=times)
