"""The table of limits against what its sources say."""

import pytest

from analysis.errors import UnknownNameError
from analysis.limits.published_limits import (
    Definition,
    VariableLimit,
    published_limit,
    published_limits,
)

# ASHRAE2019, table of types of control, recalled: (low, high, season up, season down, short term)
CLASSES_2019 = [
    ("class_aa", "rh_pct", 35, 65, 0, 0, 5),
    ("class_aa", "temp_c", 10, 25, 5, 5, 2),
    ("class_a1", "rh_pct", 35, 65, 10, 10, 5),
    ("class_a1", "temp_c", 10, 25, 5, 10, 2),
    ("class_a2", "rh_pct", 35, 65, 0, 0, 10),
    ("class_a2", "temp_c", 10, 25, 5, 10, 2),
    ("class_b", "rh_pct", 30, 70, 10, 10, 10),
    ("class_b", "temp_c", None, 30, 10, 20, 5),
    ("class_c", "rh_pct", 25, 75, None, None, None),
    ("class_c", "temp_c", None, 40, None, None, None),
    ("class_d", "rh_pct", None, 75, None, None, None),
]


@pytest.mark.parametrize(("key", "variable", "low", "high", "up", "down", "short"), CLASSES_2019)
def test_climate_classes(
    key: str,
    variable: str,
    low: float | None,
    high: float | None,
    up: float | None,
    down: float | None,
    short: float | None,
) -> None:
    limit = published_limit(key)
    row = limit.variables[variable]
    found = (row.low, row.high, row.season_up, row.season_down, row.short_limit)
    assert found == (low, high, up, down, short)
    assert (limit.minimum_record_days, limit.verified) == (365.0, False)


def row(key: str, variable: str = "rh_pct") -> VariableLimit:
    return published_limit(key).variables[variable]


def test_protocols_that_were_read() -> None:
    """Bizot2023: 40–60 %RH, 16–25 °C, ±10 %RH per 24 h. GIS2020: 16–24 °C, at most 4 °C in 24 h."""
    green = row("green_protocol_2023")
    assert (green.low, green.high, green.short_limit) == (40, 60, 10)
    assert green.short_definition is Definition.RANGE24
    assert published_limit("green_protocol_2023").verified
    indemnity = row("indemnity_uk_2020", "temp_c")
    assert (indemnity.low, indemnity.high, indemnity.short_limit) == (16, 24, 4)
    assert indemnity.verified
    assert not published_limit("indemnity_uk_2020").verified


def test_storage_of_photographs() -> None:
    """ISO18920:2011 as reported: ink jet 30–50 % with at most 2 °C, or 30–40 % with 5 °C."""
    assert (row("iso18920_2011_inkjet_2c").high, row("iso18920_2011_inkjet_5c").high) == (50, 40)
    assert row("iso18920_2011_inkjet_2c", "temp_c").high == 2
    assert row("iso18920_2011_inkjet_5c", "temp_c").high == 5


def test_historic_climate_needs_13_months() -> None:
    limit = published_limit("en15757_2010")
    assert (limit.minimum_record_days, limit.record_origin) == (395.0, "published")


def test_the_lists_of_the_three_families_are_there() -> None:
    groups: dict[str, int] = {}
    for limit in published_limits().values():
        groups[limit.group] = groups.get(limit.group, 0) + 1
    assert groups == {
        "climate class": 12,
        "loan protocol": 15,
        "storage standard": 24,
        "historic climate": 1,
    }


def test_every_conflict_of_sources_is_said() -> None:
    assert "Sources conflict" in published_limit("green_protocol_2014").note
    assert "recalled" in published_limit("indemnity_uk_2020").note


def test_an_unknown_limit_is_refused_by_name() -> None:
    with pytest.raises(UnknownNameError, match=r"limits\.toml: found the name 'class_z'"):
        published_limit("class_z")
