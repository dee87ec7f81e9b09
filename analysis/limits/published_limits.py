"""Published and agreed limits for room air, as data with their origin."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cache

from analysis.air.swings import DEFINITIONS
from analysis.errors import UnknownNameError
from analysis.parameters import read_toml

VARIABLE_WORDS: Mapping[str, tuple[str, str]] = {
    "rh_pct": ("humidity", "%RH"),
    "temp_c": ("temperature", "°C"),
}


class Definition(StrEnum):
    """What a short-term limit is measured by; the first four are those of `analysis.air.swings`."""

    RANGE24 = "range24"
    LAG24 = "lag24"
    DEV24 = "dev24"
    DAYSPAN = "dayspan"
    SEASON = "season"
    HISTORIC = "historic"


DEFINITION_WORDS: Mapping[Definition, str] = {
    **{d: DEFINITIONS[d] for d in Definition if d in DEFINITIONS},
    Definition.SEASON: "distance from the seasonal level",
    Definition.HISTORIC: "distance from the room's own seasonal cycle",
}


@dataclass(frozen=True)
class VariableLimit:
    """The limits of one variable; None where the source sets none.

    ``low`` and ``high`` belong to the range. ``season_up`` and ``season_down`` say how far the
    seasonal level may move from the yearly mean, ``tolerance`` how far a reading may lie from the
    mean of the record, ``mould_rh`` what may not be passed for longer than the mould time.
    """

    variable: str
    low: float | None = None
    high: float | None = None
    mean_low: float | None = None
    mean_high: float | None = None
    tolerance: float | None = None
    season_up: float | None = None
    season_down: float | None = None
    short_limit: float | None = None
    short_definition: Definition | None = None
    short_words: str = ""
    mould_rh: float | None = None
    verified: bool = False

    @property
    def unit(self) -> str:
        """Unit as printed."""
        return VARIABLE_WORDS[self.variable][1]

    @property
    def delta_unit(self) -> str:
        """Unit of a difference, as printed."""
        return "K" if self.variable == "temp_c" else self.unit


@dataclass(frozen=True)
class Limit:
    """One limit with its origin: a published one, or a site's own band."""

    key: str
    name: str
    group: str
    edition: str
    source: str
    minimum_record_days: float
    record_origin: str
    required_share_pct: float
    variables: Mapping[str, VariableLimit] = field(default_factory=dict)
    note: str = ""
    owner: str = ""
    since: str = ""
    review: str = ""

    @property
    def verified(self) -> bool:
        """Whether every number was seen in the text it comes from."""
        return all(row.verified for row in self.variables.values())


def _variable(key: str, name: str, row: Mapping[str, object]) -> VariableLimit:
    known = VariableLimit.__dataclass_fields__
    for unknown in set(row) - set(known):
        raise UnknownNameError(read=f"limits.toml, row {key}.{name}", name=unknown, known=known)
    definition = row.get("short_definition")
    numbers = {
        column: float(str(value))
        for column, value in row.items()
        if column not in ("verified", "short_definition", "short_words")
    }
    return VariableLimit(
        variable=name,
        short_definition=Definition(str(definition)) if definition else None,
        short_words=str(row.get("short_words", "")),
        verified=row.get("verified") is True,
        **numbers,
    )


def _limit(key: str, raw: Mapping[str, object]) -> Limit:
    rows = {name: value for name, value in raw.items() if isinstance(value, Mapping)}
    return Limit(
        key=key,
        name=str(raw["name"]),
        group=str(raw["group"]),
        edition=str(raw["edition"]),
        source=str(raw["source"]),
        minimum_record_days=float(str(raw["minimum_record_days"])),
        record_origin=str(raw["record_origin"]),
        required_share_pct=float(str(raw["required_share_pct"])),
        variables={name: _variable(key, name, row) for name, row in rows.items()},
        note=str(raw.get("note", "")),
    )


@cache
def published_limits() -> Mapping[str, Limit]:
    """Return every limit of ``published/limits.toml`` by its key.

    Examples
    --------
    >>> published_limits()["class_aa"].variables["rh_pct"].high
    65.0
    """
    return {key: _limit(key, raw) for key, raw in read_toml("limits").items()}


def published_limit(key: str) -> Limit:
    """Return one limit, or say which there are.

    Raises
    ------
    UnknownNameError
        If there is no limit of that key.
    """
    limits = published_limits()
    if key not in limits:
        raise UnknownNameError(read="limits.toml", name=key, known=limits)
    return limits[key]
