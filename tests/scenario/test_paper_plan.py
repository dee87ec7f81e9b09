"""The guide *Many houses* holds what the table of unit costs comes to, and nothing older."""

from pathlib import Path

import pytest
from bench.paper_plan import HOUSES, plan, tables, units, year_of_a_house

GUIDES = Path(__file__).parents[2] / "dashboards" / "guides"
OF = {name: one.value for name, one in units().items()}


@pytest.mark.parametrize(("language", "guide"), [("en", "scale.md"), ("de", "de/scale.md")])
def test_the_guide_holds_the_tables_as_they_are_computed(language: str, guide: str) -> None:
    text = (GUIDES / guide).read_text(encoding="utf-8")
    for table in "\n".join(tables(language)).split("\n\n"):
        assert table in text


def test_a_year_of_a_house_by_hand() -> None:
    simple = dict.fromkeys(OF, 0.0) | {
        "files_a_week": 25.0, "file_taken_in_s": 0.1, "works": 100.0, "work_hour_judged_s": 0.01,
    }  # fmt: skip
    year = year_of_a_house(simple)
    assert year["files taken in"] == pytest.approx(25 * 52.18 * 0.1 / 3600)
    assert year["works judged hour by hour"] == pytest.approx(100 * 8766 * 0.01 / 3600)
    assert sum(year.values()) == pytest.approx(2.4712, abs=1e-3)


def test_costs_grow_with_the_houses_and_what_gives_way_first_is_the_largest_share() -> None:
    one, ten = plan(1, OF), plan(10, OF)
    assert ten.processor_h == pytest.approx(10 * one.processor_h)
    assert ten.disk_ten_years_gb == pytest.approx(10 * one.disk_ten_years_gb)
    assert [plan(houses, OF).processes for houses in HOUSES] == sorted(
        plan(houses, OF).processes for houses in HOUSES
    )
    roomy = OF | dict.fromkeys(("process_average", "process_monday", "process_gb", "disk_tb"), 1e9)
    assert plan(1_000, roomy | {"process_threads": 10.0}).gives_way == "threads"
    assert plan(1_000, roomy | {"process_gb": 0.01}).gives_way == "memory"
    assert plan(1, roomy | {"process_threads": 1e9}).gives_way == "nothing: one process has room"


def test_every_measured_figure_names_the_bench_it_came_from() -> None:
    benches = {one.stem for one in Path(__file__).parents[1].joinpath("bench").glob("*.py")}
    for name, one in units().items():
        assert one.source == "assumed" or one.source.split()[0].removeprefix("bench.") in benches, (
            name
        )
