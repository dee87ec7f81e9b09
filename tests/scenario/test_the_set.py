"""The set of the benchmarks, small: what it says it holds is in the stores, and its weeks go on."""

from pathlib import Path

from bench.full_museum import END, WEEK, Size, air, build, logger_name, on, weekly_file

from service.intake.taking_in import take_in
from service.storage.loggers import placements
from service.storage.stores import Stores
from service.storage.works import work_records

SMALL = Size(rooms=3, years=0.1, minutes=30, works=31)


def test_the_set_holds_what_it_says_and_its_next_week_follows_without_a_gap(tmp_path: Path) -> None:
    build(tmp_path / "set", SMALL)
    with Stores.open(on(tmp_path / "set", SMALL)) as stores:
        works = work_records(stores.register)
        assert len(works) == 31
        assert {len(one.hangings) for one in works.values()} == {1}
        assert len(placements(stores.register)) == 3
        before = stores.readings.load(logger_name(1))
        assert before.index[-1].to_pydatetime() < END
        receipt = take_in(
            stores, weekly_file(1, 30), name="week.csv", logger_id=logger_name(1), zone="UTC"
        )
        assert receipt.as_json()["added"] == 7 * 48
        after = stores.readings.load(logger_name(1))
        assert set(after.index.to_series().diff().dropna().dt.total_seconds()) == {1800.0}


def test_rooms_with_a_plant_are_steadier_than_those_without() -> None:
    year = [air(END - 52 * WEEK, END, 60, seed)["rh_pct"] for seed in range(3)]
    swings = [float(one.quantile(0.95) - one.quantile(0.05)) for one in year]
    assert swings[0] < swings[2]
    assert swings[1] < swings[2]
    assert all(one.min() > 15.0 and one.max() < 80.0 for one in year)
