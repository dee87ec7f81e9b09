"""Every published number can be traced: table row → key → bibliography, and back."""

import math
import re
import tomllib
from pathlib import Path

import pytest

from analysis.errors import UnknownNameError
from analysis.limits.published_limits import Definition, published_limits
from analysis.parameters import Status, parameter, table
from analysis.references import Seen, reference, references, status_words
from dashboards.text.limit_text import limit_title

ROOT = Path(__file__).resolve().parents[1]
PUBLISHED = ROOT / "analysis" / "published"
OWN_SCHEMA = {"references", "limits"}
CITING = (
    "analysis/**/*.py",
    "analysis/published/*.toml",
    "dashboards/guides/*.md",
    "tests/**/*.py",
)
TABLES = sorted(p.stem for p in PUBLISHED.glob("*.toml") if p.stem not in OWN_SCHEMA)
ROWS = [
    (name, group, key) for name in TABLES for group in table(name) for key in table(name)[group]
]


def test_there_are_tables_to_check() -> None:
    assert len(TABLES) > 5
    assert len(ROWS) > 100


@pytest.mark.parametrize("name", TABLES)
def test_every_source_of_a_table_is_in_the_bibliography(name: str) -> None:
    unknown = {row.source for rows in table(name).values() for row in rows.values()} - set(
        references()
    )
    assert not unknown


@pytest.mark.parametrize("name", TABLES)
def test_a_value_lies_in_its_range_and_says_what_it_is(name: str) -> None:
    for group, rows in table(name).items():
        for key, row in rows.items():
            assert row.low <= row.value <= row.high, (group, key)
            assert row.unit.strip(), (group, key)
            assert row.place.strip(), (group, key)


def test_every_limit_names_a_source_of_the_bibliography() -> None:
    assert not {limit.source for limit in published_limits().values()} - set(references())


def test_every_source_is_used() -> None:
    """A key that no table names must be cited in the code, a guide or a test."""
    used = {table(name)[group][key].source for name, group, key in ROWS}
    used |= {limit.source for limit in published_limits().values()}
    text = "\n".join(
        path.read_text(encoding="utf-8")
        for pattern in CITING
        for path in ROOT.glob(pattern)
        if path.name != "references.toml"
    )
    unused = {
        key
        for key in set(references()) - used
        if not re.search(rf"(?<!\w){re.escape(key)}(?!\w)", text)
    }
    assert not unused


def test_numbers_of_our_own_never_pass_for_published() -> None:
    """A rule of this program, or a trade habit without a source, is marked assumed or derived."""
    for name, group, key in ROWS:
        row = table(name)[group][key]
        if reference(row.source).authors in ("this program", "common practice, no source"):
            assert row.status is not Status.PUBLISHED, (name, group, key)


def test_a_recalled_limit_is_never_marked_as_verified() -> None:
    for key, limit in published_limits().items():
        if reference(limit.source).seen in (Seen.MEMORY, Seen.SECOND_HAND, Seen.ABSTRACT):
            assert not limit.verified, key
            assert "not checked" in limit_title(limit), key


def test_every_short_term_limit_names_its_definition() -> None:
    for key, limit in published_limits().items():
        for row in limit.variables.values():
            assert (row.short_limit is None) == (row.short_definition is None), key
            if row.short_definition not in (None, Definition.SEASON, Definition.HISTORIC):
                assert row.short_words, key


def test_every_limit_limits_something() -> None:
    for key, limit in published_limits().items():
        assert limit.variables, key
        assert limit.minimum_record_days > 0, key
        assert limit.record_origin in ("published", "assumed"), key
        for row in limit.variables.values():
            numbers = (
                row.low,
                row.high,
                row.mean_low,
                row.mean_high,
                row.tolerance,
                row.short_limit,
            )
            assert any(number is not None for number in numbers), key
            if row.low is not None and row.high is not None:
                assert row.low < row.high, key


def test_the_bibliography_is_complete_and_free_of_blanks() -> None:
    raw = tomllib.loads((PUBLISHED / "references.toml").read_text(encoding="utf-8"))
    for key, row in raw.items():
        assert set(row) == {"authors", "title", "year", "where", "seen"}, key
        assert all(str(value).strip() for value in row.values()), key
        assert 1850 <= reference(key).year <= 2100, key


def test_an_unknown_source_is_refused_by_name() -> None:
    with pytest.raises(UnknownNameError, match=r"references\.toml: found the name 'Nobody1900'"):
        reference("Nobody1900")


def test_wherever_published_is_shown_it_says_how_far_the_source_was_seen() -> None:
    for name, group, key in ROWS:
        row = table(name)[group][key]
        words = status_words(row)
        if row.status is Status.PUBLISHED:
            assert words == f"published, {SEEN_AS[reference(row.source).seen]}"
        else:
            assert words == row.status


SEEN_AS = {
    Seen.READ: "read",
    Seen.ABSTRACT: "abstract read",
    Seen.SECOND_HAND: "second-hand",
    Seen.MEMORY: "from memory",
}


@pytest.mark.parametrize(
    ("name", "group", "key"),
    [
        ("prints", "polyester", "softening_per_pct"),
        ("prints", "resin_coated", "softening_per_pct"),
        ("prints", "inkjet_resin_coated", "softening_per_pct"),
        ("prints", "resin_coated", "hysteresis_rh_pct"),
        ("panels", "metal_faced_honeycomb", "beta_cd"),
        ("gelatin", "softening", "sticky"),
    ],
)
def test_a_row_whose_source_speaks_of_something_else_is_assumed(
    name: str, group: str, key: str
) -> None:
    assert table(name)[group][key].status is Status.ASSUMED


def test_the_low_end_of_the_hinge_is_that_of_its_source() -> None:
    """Valverde (2007): 10 to 25 mm left free between the print's edge and the glued zone."""
    row = parameter("hinges", "tissue", "free_length_mm")
    assert (row.low, row.high) == (10.0, 25.0)


def test_a_room_sensor_has_one_uncertainty() -> None:
    """The verdict's is the estimator's at a check, and its drift of three quarters of a year."""
    whole = parameter("record_rules", "sensor", "rh_pct").value
    at_check = parameter("frames", "sensor", "offset_pct").high
    a_year = parameter("frames", "logger", "logger_drift_pct_a").high
    assert whole == pytest.approx(math.hypot(at_check, 0.75 * a_year), abs=0.05)
