"""The set of a group: invented museums by the hundred, made in minutes and kept out of git.

``python -m bench.group_set FOLDER`` makes 200 museums of 25 measuring points and 100 works each,
ten years at five minutes: 5,000 points, 20,000 works. ``--houses 3 --points 6 --works 9 --years 1``
makes a smaller group. It is served by ``stilltaut group serve --data FOLDER``.

A few museums are made by `bench.full_museum`, each with air of its own; every other one is a copy
of one of them under its own name, with a register of its own. Files of readings are never changed
once they are written, so a copy links to them and takes no further room; what a house takes in
later is its own.
"""

import argparse
import os
import shutil
import time
from dataclasses import dataclass
from pathlib import Path

from analysis.records.room_records import Site
from bench.full_museum import MORNING, Size, build
from service.group.house_files import folder_of, write_house
from service.settings import Settings
from service.storage.records import put_record
from service.storage.stores import Stores


@dataclass(frozen=True)
class GroupSize:
    """How large the group is; its points and works are shared out among its houses evenly."""

    houses: int = 200
    points: int = 5_000
    works: int = 20_000
    years: float = 10.0
    minutes: int = 5
    kinds: int = 5

    @property
    def house(self) -> Size:
        """How large each house is."""
        rooms, works = self.points // self.houses, self.works // self.houses
        return Size(rooms=rooms, years=self.years, minutes=self.minutes, works=works)


def house_name(number: int) -> str:
    """Return the name of a house."""
    return f"house-{number:03d}"


def group_on(folder: Path) -> Settings:
    """Return the settings of the group on the morning after its last readings."""
    return Settings(data_dir=folder, as_if=MORNING.isoformat())


def build_group(folder: Path, size: GroupSize) -> None:
    """Make the group."""
    group = group_on(folder)
    with Stores.open(group) as stores:
        put_record(stores.register, Site("group", "The invented group", "Europe/Vienna"))
    for number in range(size.houses):
        name = house_name(number)
        house = folder_of(group) / name
        if number < size.kinds:
            build(house, size.house, seed=number * size.house.rooms)
        else:
            linked(folder_of(group) / house_name(number % size.kinds), house)
        with Stores.open(group.with_changes(data_dir=house)) as stores:
            put_record(stores.register, Site("main", f"Museum {number}", "Europe/Vienna", 180.0))
        write_house(group, name)


def linked(original: Path, house: Path) -> None:
    """Copy a house: its register is its own, its files of readings are the same ones."""
    for path in original.rglob("*"):
        copy = house / path.relative_to(original)
        if path.is_dir():
            copy.mkdir(parents=True, exist_ok=True)
            continue
        copy.parent.mkdir(parents=True, exist_ok=True)
        if path.suffix == ".parquet":
            os.link(path, copy)
        else:
            shutil.copyfile(path, copy)


def room_taken(folder: Path) -> int:
    """Return how many bytes a group takes; a file that several houses link to counts once."""
    found = {}
    for path in folder.rglob("*"):
        if path.is_file():
            held = path.stat()
            found[held.st_ino] = held.st_size
    return sum(found.values())


def main() -> None:
    """Make the group that the command line says, and say what it came to."""
    parser = argparse.ArgumentParser(prog="group_set")
    parser.add_argument("folder", type=Path, help="A folder that is not there yet.")
    for name, kind in GroupSize.__annotations__.items():
        parser.add_argument(f"--{name}", type=kind, default=getattr(GroupSize(), name))
    given = parser.parse_args()
    if given.folder.exists():
        parser.error(f"{given.folder} is there already")
    size = GroupSize(**{name: getattr(given, name) for name in GroupSize.__annotations__})
    if size.points % size.houses or size.works % size.houses:
        parser.error("points and works are shared out among the houses evenly")
    start, processor = time.perf_counter(), time.process_time()
    build_group(given.folder, size)
    wall, processor = time.perf_counter() - start, time.process_time() - processor
    many = round(size.points * size.years * 365.25 * 24 * 60 / size.minutes)
    print(
        f"{size.houses} houses, {size.points:,} points, {size.years:g} years at "
        f"{size.minutes} min, {size.works:,} works: {many:,} readings, "
        f"{room_taken(given.folder) / 1e6:,.0f} MB, {wall:.0f} s ({processor:.0f} s of processor)"
    )


if __name__ == "__main__":
    main()
