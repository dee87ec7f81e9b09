"""Levels → values: each doubt about a work has levels between 0 and 1, from which it is drawn.

Where a row has a range that spans a factor, the draw is lognormal with the row's value as median
and (high/low)^(1/4) as geometric standard deviation; where the range touches or crosses zero it is
triangular. The levels of one doubt depend only on the work's identity and the doubt's name, so
that correcting one fact, or one number of a table, leaves all other draws as they were.
"""

import re
from functools import cache
from hashlib import sha256

import numpy as np
from scipy.special import ndtr, ndtri

from analysis.parameters import Parameter, parameter, table
from analysis.results import Floats
from analysis.works import Borrowed, Override, Work

TABLES = (
    "prints",
    "panels",
    "hinges",
    "frames",
    "glazing",
    "finishes",
    "walls",
    "discrepancy",
    "pasts",
)
Stated = Parameter | Override | Borrowed
METHOD = 5  # to be raised when the way of drawing changes
# Seeds the levels. It is not the release of the tables: a corrected number moves its own draws and
# leaves the places of all others in their ranges as they were. To be changed to draw all anew.
LEVELS_OF = "6c18b3c86f0f"
# Doubts that begin anew when a print is mounted anew, and when it is framed anew.
OF_A_MOUNTING = ("hinge_", "prestrain", "mounted_", "panel", "branch", "past")
OF_A_FRAMING = (
    "half_time_h",
    "thermal_time_h",
    "shift_per_k",
    "closing_rh_",
    "spacer_error_mm",
    "glazing_bow_mm",
    "board_",
    "back_permeance",
    "gap_mm",
)


@cache
def release() -> str:
    """Return the digest of the numbers that draws are made from, and of how they are drawn.

    Examples
    --------
    >>> len(release())
    12
    """
    rows = [f"method {METHOD}"] + [
        f"{name}.{group}.{row.name}={row.value!r},{row.low!r},{row.high!r}"
        for name in TABLES
        for group, rows in sorted(table(name).items())
        for row in rows.values()
    ]
    return sha256("\n".join(rows).encode()).hexdigest()[:12]


@cache
def group_of(words: str) -> str:
    """Return the table group of an enum's words: "resin-coated" → "resin_coated"."""
    return re.sub(r"[^a-z]+", "_", words)


class Drawer:
    """Draws one work's parameters by name, minding what a person stated for it."""

    def __init__(self, work: Work, n: int) -> None:
        self.work, self.n = work, n
        # A copy of the drawer, for the same work taken for another kind, shares both.
        self._levels: dict[str, Floats] = {}
        # By the row itself, which is held beside: to hash its numbers costs as much as to draw.
        self._spread: dict[tuple[str, int], tuple[Stated, Floats]] = {}

    def levels(self, name: str) -> Floats:
        """Return the levels of a doubt, shape (n,); drawn once, and never written to."""
        doubt = self.doubt(name)
        if doubt not in self._levels:
            self._levels[doubt] = quantiles(self.work.work_id, doubt, self.n)
            self._levels[doubt].flags.writeable = False
        return self._levels[doubt]

    def doubt(self, name: str) -> str:
        """Return the name of a doubt, a new one for each new mounting or framing."""
        if self.work.mounting_no and name.startswith(OF_A_MOUNTING):
            return f"{name}, mounting {self.work.mounting_no}"
        if self.work.framing_no and name.startswith(OF_A_FRAMING):
            return f"{name}, framing {self.work.framing_no}"
        return name

    def stated(self, name: str, row: Parameter | Override) -> Stated:
        """Return the range that holds: stated of the work, lent by its class, or the table's."""
        return self.work.overrides.get(name) or self.work.lent(name) or row

    def row(self, name: str, row: Parameter | Override) -> Floats:
        """Return a parameter's draws: of the stated range, or of the table's, shape (n,)."""
        range_of, doubt = self.stated(name, row), self.doubt(name)
        found = self._spread.get((doubt, id(range_of)))
        if found is None:
            found = range_of, spread(self.levels(name), range_of)
            found[1].flags.writeable = False
            self._spread[doubt, id(range_of)] = found
        return found[1]

    def normal(self, name: str, row: Parameter) -> Floats:
        """Return a parameter's draws, normal: the row's low and high lie two deviations off.

        A stated range is taken as stated.
        """
        if name in self.work.overrides:
            return self.row(name, row)
        return np.asarray(row.value + (row.high - row.low) / 4.0 * ndtri(self.levels(name)))

    def row_below(self, name: str, row: Parameter, most: Floats) -> Floats:
        """Return a parameter's draws where each is known to lie below a bound of its own.

        A stated range is taken as stated.
        """
        if name in self.work.overrides:
            return self.row(name, row)
        return spread(self.levels(name) * share_below(most, row), row)

    def sheet(self, name: str) -> Floats:
        """Return a parameter's draws for the paper of the print."""
        return self.row(name, parameter("prints", group_of(self.work.paper), name))


def quantiles(work_id: str, doubt: str, n: int) -> Floats:
    """Return n levels in (0, 1), one in each n-th part, in an order of the work's own."""
    digest = sha256(f"{work_id}\n{LEVELS_OF}\n{doubt}".encode()).digest()
    rng = np.random.Generator(np.random.PCG64(int.from_bytes(digest[:16], "big")))
    return (rng.permutation(n) + rng.random(n)) / n


def spread(u: Floats, row: Stated) -> Floats:
    """Return the values at levels ``u`` of a row's range."""
    if row.high <= row.low:
        return np.full_like(u, row.value)
    if _is_lognormal(row):
        mean, sd = log_moments(row)
        return np.asarray(np.exp(mean + sd * ndtri(u)))
    return triangular(u, row.low, row.value, row.high)


def share_below(most: Floats, row: Parameter) -> Floats:
    """Return the level at which a row's range reaches a value; the inverse of `spread`.

    Examples
    --------
    >>> from analysis.parameters import parameter
    >>> row = parameter("hinges", "mounting", "prestrain")
    >>> share_below(spread(np.array([0.1, 0.9]), row), row).round(6).tolist()
    [0.1, 0.9]
    """
    if row.high <= row.low:
        return np.ones_like(most)
    if _is_lognormal(row):
        mean, sd = log_moments(row)
        return np.asarray(ndtr((np.log(np.maximum(most, 1e-300)) - mean) / sd))
    x, span = np.clip(most, row.low, row.high), row.high - row.low
    rising = (x - row.low) ** 2 / (span * max(row.value - row.low, 1e-300))
    falling = 1.0 - (row.high - x) ** 2 / (span * max(row.high - row.value, 1e-300))
    return np.asarray(np.where(x <= row.value, np.minimum(rising, 1.0), falling))


def _is_lognormal(row: Stated) -> bool:
    return isinstance(row, Parameter | Borrowed) and row.low > 0.0 and row.value > 0.0


def log_moments(row: Stated) -> tuple[float, float]:
    """Return mean and standard deviation of the logarithm of a row's lognormal."""
    return float(np.log(row.value)), float(np.log(row.high / row.low) / 4.0)


def triangular(u: Floats, low: float, value: float, high: float) -> Floats:
    """Return the values at levels ``u`` of a triangular range."""
    if high <= low:
        return np.full_like(u, value)
    turn = (value - low) / (high - low)
    rising = low + np.sqrt(u * (high - low) * (value - low))
    falling = high - np.sqrt((1.0 - u) * (high - low) * (high - value))
    return np.where(u < turn, rising, falling)
