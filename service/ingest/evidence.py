"""How proposed readings of a file are scored: the table of measures, and the one sum over it."""

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

TABLE = Path(__file__).with_name("evidence.toml")


@dataclass(frozen=True)
class Measure:
    """What is looked at in a proposal: no points at ``poor``, all of ``weight`` at ``good``."""

    name: str
    weight: float
    poor: float
    good: float
    reason: str
    vital: bool = False

    def points(self, found: float) -> float:
        """Return the share of the weight that a finding earns, 0 to 1."""
        return min(1.0, max(0.0, (found - self.poor) / (self.good - self.poor)))


@cache
def _table() -> dict[str, Any]:
    with TABLE.open("rb") as file:
        return tomllib.load(file)


@cache
def measures(subject: str) -> tuple[Measure, ...]:
    """Return the measures of a subject, such as "time"."""
    rows = _table()[subject].items()
    return tuple(Measure(name=name, **row) for name, row in rows if "weight" in row)


@cache
def limit(subject: str, name: str) -> float:
    """Return a single number of the table.

    Examples
    --------
    >>> limit("accept", "rows")
    3.0
    """
    return float(_table()[subject][name]["value"])


def score(subject: str, found: Mapping[str, float]) -> float:
    """Return how well a proposal does over all measures, 0 to 1.

    Parameters
    ----------
    subject : str
        Which measures.
    found : mapping of str to float
        What was found, by measure; NaN, or nothing, where the file does not tell.

    Returns
    -------
    float
        0 where a vital measure is at its poor end.

    Examples
    --------
    >>> score("time", {"readable": 1.0, "single": 1.0}), score("time", {"readable": 0.2})
    (1.0, 0.0)
    """
    earned = total = 0.0
    for measure in measures(subject):
        value = found.get(measure.name, math.nan)
        if math.isnan(value):
            continue
        points = measure.points(value)
        if measure.vital and points == 0.0:
            return 0.0
        earned += measure.weight * points
        total += measure.weight
    return earned / total if total else 0.0
