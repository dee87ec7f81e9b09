"""A confirmed understanding, small enough to be kept and offered the next time."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from analysis.errors import StilltautError, UnknownNameError
from service.ingest.files.opened import PLACES
from service.ingest.times.dateorder import DAY_FIRST, MONTH_FIRST, ORDER, ORDERS

# What may be said of several columns, with a plus sign between.
SEVERAL = ("aside", "sure", "unit", "also_temp_c", "also_rh_pct")

# What an answer says of a file without times; a choice has places of its own for them.
START, INTERVAL = "start", "interval"
# That the cells of a sheet that disagrees with itself are read as they are.
DAMAGE, AS_FOUND = "damage", "as found"
# What may be said beside which column holds which quantity.
SAID_BESIDE = (
    *("time", "date", "sensor", *SEVERAL, "clock", DAMAGE),
    *("rows", ORDER, *PLACES, START, INTERVAL),
)


def options_merged(pairs: Iterable[tuple[str, str]]) -> dict[str, str]:
    """Return what was said one by one as a mapping; what may be said of several is joined.

    Examples
    --------
    >>> options_merged([("aside", "A"), ("temp_c", "T"), ("aside", "B")])
    {'aside': 'A+B', 'temp_c': 'T'}
    """
    stated: dict[str, str] = {}
    for key, text in pairs:
        stated[key] = f"{stated[key]}+{text}" if key in SEVERAL and key in stated else text
    return stated


@dataclass(frozen=True)
class Choice:
    """What a person confirmed about a logger's files.

    ``columns`` maps a quantity (``temp_c``, ``rh_pct``, ``time``, ``sensor``) to a heading, with
    its unit in brackets where it had to be said. ``headings`` are those of the file the choice
    was made for: the columns are offered again only for a file that has the same.
    """

    zone: str | None = None
    columns: Mapping[str, str] = field(default_factory=dict)
    day_first: bool | None = None
    start: str | None = None
    interval_s: float | None = None
    headings: tuple[str, ...] = ()

    @property
    def order(self) -> str | None:
        """The order of day, month and year as it was said, one of `dateorder.ORDERS`, or None.

        Raises
        ------
        UnknownNameError
            If another text was said for it.
        """
        if self.day_first is not None:
            return DAY_FIRST if self.day_first else MONTH_FIRST
        said = self.columns.get(ORDER, "").strip().casefold()
        if said and said not in ORDERS:
            raise UnknownNameError(read="order of day, month and year", name=said, known=ORDERS)
        return said or None

    def with_start(self) -> "Choice":
        """Return the choice with the start and interval of an answer in their own places.

        Examples
        --------
        >>> said = {"start": "2025-06-02 00:00", "interval": "900s"}
        >>> Choice(columns=said).with_start().interval_s
        900.0
        """
        columns = {k: text for k, text in self.columns.items() if k not in (START, INTERVAL)}
        interval = self.columns.get(INTERVAL)
        said = float(interval.strip().removesuffix("s")) if interval else None
        return replace(
            self,
            columns=columns,
            start=self.start or self.columns.get(START),
            interval_s=self.interval_s or said,
        )

    def as_json(self) -> dict[str, Any]:
        """Return the choice as plain values."""
        return {
            "zone": self.zone,
            "columns": dict(self.columns),
            "day_first": self.day_first,
            "start": self.start,
            "interval_s": self.interval_s,
            "headings": list(self.headings),
        }

    def as_text(self) -> str:
        """Return the choice as one line of JSON.

        Examples
        --------
        >>> Choice.from_text(Choice(zone="UTC").as_text()).zone
        'UTC'
        """
        return json.dumps(self.as_json(), ensure_ascii=False, sort_keys=True)

    @classmethod
    def from_json(cls, values: Mapping[str, Any]) -> "Choice":
        """Return the choice kept as plain values by `as_json`."""
        known = {name: values[name] for name in cls.__dataclass_fields__ if name in values}
        known["headings"] = tuple(known.get("headings", ()))
        return cls(**known)

    @classmethod
    def from_text(cls, text: str) -> "Choice":
        """Return the choice kept as text by `as_text`.

        Raises
        ------
        StilltautError
            If the text is no kept choice.
        """
        try:
            values = json.loads(text)
        except ValueError:
            values = None
        if not isinstance(values, dict):
            raise StilltautError(
                read="remembered choice",
                where="",
                found=repr(text[:60]),
                expected="a JSON object",
                action="Confirm how the logger's file is read again; it will be kept anew.",
            )
        return cls.from_json(values)
