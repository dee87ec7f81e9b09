"""Parameters with their origin: typed rows read from the tables in ``published``."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files

from analysis.errors import UnknownNameError


class Status(StrEnum):
    """How a number came to be in the table."""

    PUBLISHED = "published"
    DERIVED = "derived"
    ASSUMED = "assumed"


@dataclass(frozen=True)
class Parameter:
    """One number with its range and its origin."""

    name: str
    value: float
    low: float
    high: float
    unit: str
    source: str
    place: str
    status: Status
    note: str = ""


def _row(table: str, name: str, row: Mapping[str, object]) -> Parameter:
    needed = ("value", "low", "high", "unit", "source", "place", "status")
    for field in needed:
        if field not in row:
            raise UnknownNameError(read=f"{table}.toml, row {name}", name=field, known=row)
    return Parameter(
        name=name,
        value=float(str(row["value"])),
        low=float(str(row["low"])),
        high=float(str(row["high"])),
        unit=str(row["unit"]),
        source=str(row["source"]),
        place=str(row["place"]),
        status=Status(str(row["status"])),
        note=str(row.get("note", "")),
    )


@cache
def table(name: str) -> Mapping[str, Mapping[str, Parameter]]:
    """Return one table of ``published`` as group → name → `Parameter`.

    A TOML file holds ``[group.name]`` sections, one number each, with the keys value, low, high,
    unit, source, place, status and, where useful, note.

    Raises
    ------
    UnknownNameError
        If there is no such table, or a row lacks one of its keys.
    """
    raw = read_toml(name)
    return {
        group: {key: _row(name, f"{group}.{key}", row) for key, row in rows.items()}
        for group, rows in raw.items()
    }


@cache
def read_toml(name: str) -> Mapping[str, Mapping[str, Mapping[str, object]]]:
    """Return a TOML file of ``published`` as it stands."""
    folder = files("analysis") / "published"
    path = folder / f"{name}.toml"
    if not path.is_file():
        known = [p.name.removesuffix(".toml") for p in folder.iterdir() if p.name.endswith(".toml")]
        raise UnknownNameError(read="analysis/published", name=name, known=known)
    return tomllib.loads(path.read_text(encoding="utf-8"))


def parameter(table_name: str, group: str, name: str) -> Parameter:
    """Return one row, or say which names exist."""
    groups = table(table_name)
    if group not in groups:
        raise UnknownNameError(read=f"{table_name}.toml", name=group, known=groups)
    if name not in groups[group]:
        raise UnknownNameError(read=f"{table_name}.toml [{group}]", name=name, known=groups[group])
    return groups[group][name]


# Files of ``published`` with a form of their own, read by modules of the same name.
OTHER_FORMS = ("limits", "references")


@cache
def tables() -> Mapping[str, Mapping[str, Mapping[str, Parameter]]]:
    """Return every table of parameters by name, in order of name."""
    folder = files("analysis") / "published"
    names = sorted(p.name.removesuffix(".toml") for p in folder.iterdir())
    return {name: table(name) for name in names if name not in OTHER_FORMS}
