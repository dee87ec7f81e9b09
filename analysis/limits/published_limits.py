"""Published and agreed limits for room air, as data with their origin."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum
from functools import cache

from analysis.air.swings import DEFINITIONS
from analysis.errors import OutOfRangeError, UnknownNameError
from analysis.parameters import parameter, read_toml
from analysis.results import Band

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


# A site's own bands: named, dated, owned, reviewed, and judged like any published limit.

OWN_GROUP = "own band"


def band_limit(
    band: Band,
    *,
    short_rh_pct: float | None = None,
    short_temp_c: float | None = None,
    definition: Definition = Definition.RANGE24,
) -> Limit:
    """Return a site's own band as a limit that `analysis.limits.verdict.judge` takes.

    Parameters
    ----------
    band : Band
        The agreed band. Its ends belong to it.
    short_rh_pct, short_temp_c : float, optional
        Short-term limits, if some were agreed [%RH], [K].
    definition : Definition
        What the short-term limits are measured by.

    Raises
    ------
    OutOfRangeError
        If the band is empty or lies outside 0 to 100 %RH.

    Examples
    --------
    >>> limit = band_limit(Band("North gallery", 45.0, 55.0, owner="A. Keeper", since="2030-01-01"))
    >>> limit.name, limit.edition, limit.variables["rh_pct"].high
    ('North gallery', 'since 2030-01-01', 55.0)
    """
    require_band(band)
    rows = [_row("rh_pct", band.low_rh_pct, band.high_rh_pct, short_rh_pct, definition)]
    if band.low_temp_c is not None or band.high_temp_c is not None or short_temp_c is not None:
        rows.append(_row("temp_c", band.low_temp_c, band.high_temp_c, short_temp_c, definition))
    return Limit(
        key="own",
        name=band.name,
        group=OWN_GROUP,
        edition=f"since {band.since}" if band.since else "",
        source="House",
        minimum_record_days=parameter("record_rules", "bands", "minimum_record").value,
        record_origin="assumed",
        required_share_pct=parameter("record_rules", "bands", "required_share").value,
        variables={row.variable: row for row in rows},
        owner=band.owner,
        since=band.since,
        review=band.review,
    )


def _row(
    variable: str,
    low: float | None,
    high: float | None,
    short: float | None,
    definition: Definition,
) -> VariableLimit:
    row = VariableLimit(variable, low=low, high=high, verified=True)
    if short is None:
        return row
    return replace(row, short_limit=short, short_definition=definition)


def require_band(band: Band) -> None:
    """Raise unless the band can be judged."""
    if not 0.0 <= band.low_rh_pct < band.high_rh_pct <= 100.0:
        raise OutOfRangeError(
            read=f"the band {band.name!r}",
            where="humidity",
            found=f"{band.low_rh_pct:g} to {band.high_rh_pct:g} %RH",
            expected="a lower end below its upper end, both between 0 and 100 %RH",
            action="Correct the two ends.",
        )
    low, high = band.low_temp_c, band.high_temp_c
    if low is not None and high is not None and low >= high:
        raise OutOfRangeError(
            read=f"the band {band.name!r}",
            where="temperature",
            found=f"{low:g} to {high:g} °C",
            expected="a lower end below its upper end",
            action="Correct the two ends, or leave them out.",
        )


def _date(band: Band, field: str, text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise OutOfRangeError(
            read=f"the band {band.name!r}",
            where=field,
            found=repr(text),
            expected="a date such as 2030-01-31",
            action="Correct the date.",
        ) from None


def band_in_force(bands: Sequence[Band], day: date) -> Band | None:
    """Return the latest band that had begun by ``day``; one without a date has always held.

    Examples
    --------
    >>> old, new = Band("old", 40.0, 60.0), Band("new", 45.0, 55.0, since="2030-03-01")
    >>> band_in_force([new, old], date(2030, 2, 28)).name
    'old'
    >>> band_in_force([new, old], date(2030, 3, 1)).name
    'new'
    """
    dated = [(_date(b, "since", b.since) if b.since else date.min, b) for b in bands]
    begun = [(since, band) for since, band in dated if since <= day]
    return max(begun, key=lambda pair: pair[0])[1] if begun else None
