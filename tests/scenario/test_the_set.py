"""The set of the benchmarks, small: what it says it holds is in the stores, and its weeks go on."""

from pathlib import Path

from bench.full_museum import (
    END,
    MORNING,
    WEEK,
    Size,
    air,
    build,
    logger_name,
    on,
    weekly_file,
)
from bench.group_set import GroupSize, build_group, group_on, house_name

from service.group.house_files import every_house
from service.intake.taking_in import take_in
from service.storage import places
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


def test_the_set_of_a_group_shares_its_readings_until_a_house_takes_in_its_own(
    tmp_path: Path,
) -> None:
    size = GroupSize(houses=3, points=6, works=9, years=0.1, minutes=30, kinds=2)
    build_group(tmp_path / "set", size)
    houses = {one.name: one for one in every_house(group_on(tmp_path / "set"))}
    assert list(houses) == [house_name(0), house_name(1), house_name(2)]
    names, files = [], {}
    for name, house in houses.items():
        files[name] = {one.stat().st_ino for one in house.settings.data_dir.rglob("*.parquet")}
        with Stores.open(house.settings) as stores:
            names.append(places.sites(stores.register)[0].name)
            assert len(work_records(stores.register)) == 3
            assert len(placements(stores.register)) == 2
    assert names == ["Museum 0", "Museum 1", "Museum 2"]
    assert files[house_name(2)] == files[house_name(0)]
    assert not files[house_name(1)] & files[house_name(0)]

    later = (MORNING + WEEK).isoformat()
    own, first = (houses[house_name(n)].settings.with_changes(as_if=later) for n in (2, 0))
    with Stores.open(own) as stores:
        data = weekly_file(1, 30)
        receipt = take_in(stores, data, name="week.csv", logger_id=logger_name(1), zone="UTC")
        assert receipt.as_json()["added"] == 7 * 48
    with Stores.open(first) as stores:
        assert stores.readings.load(logger_name(1)).index[-1].to_pydatetime() < END
