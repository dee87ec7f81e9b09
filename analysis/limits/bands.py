"""A site's own bands: named, dated, owned, reviewed, and judged like any published limit."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from analysis.errors import OutOfRangeError
from analysis.limits.published_limits import Definition, Limit, VariableLimit
from analysis.parameters import parameter
from analysis.results import Band

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
