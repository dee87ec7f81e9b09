"""How soon the page of a large group is whole after a start, and in how much memory.

``python -m bench.group_page FOLDER`` takes a group that `bench.group_set` has made. Once, it lets
one house of each kind say how it stands and keeps that word in all copies of it, as if all had been
served; then it serves the group in a process of its own and asks for the page, which is whole when
it tells of every house, each with the hour of its word where that is an earlier one.
"""

import argparse
import os
import re
import sys
import threading
import time
from dataclasses import replace
from pathlib import Path

import httpx
import uvicorn

from bench.group_set import group_on, house_name
from bench.living_museum import alone
from bench.monday_and_pages import held_mb
from service.answers.museum import Museum
from service.group.group_app import Group
from service.group.house_files import every_house, folder_of
from service.group.standings import KEPT_IN, LastWord, keep_word, rests_on, standing_of
from service.settings import Settings
from service.storage.stores import Stores

DRAWS = 20  # what a house says costs less so; what it takes to tell it does not
WANTED_S = 4.0


def say(group: Settings, kinds: int) -> dict[str, float]:
    """Let one house of each kind say how it stands, and keep that in every house of its kind."""
    houses = every_house(group)
    for kind in range(kinds):
        settings = group.with_changes(data_dir=folder_of(group) / house_name(kind))
        with Stores.open(settings) as stores:
            museum = Museum(stores, settings)
            rests, said = rests_on(museum), standing_of(museum)
        for number in range(kind, len(houses), kinds):
            folder = folder_of(group) / house_name(number)
            own = replace(said, name=f"Museum {number}")
            keep_word(folder, LastWord(rests, own, time.time()))
    return {}


def page(group: Settings, watch_s: float) -> dict[str, float]:
    """Serve the group, ask for the page until every house is told of, go on for a while."""
    found = {"memory before [MB]": held_mb()}
    many, begun = len(every_house(group)), time.perf_counter()
    server = uvicorn.Server(uvicorn.Config(Group(group), port=0, log_level="error", lifespan="on"))
    thread = threading.Thread(target=server.run)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    found["serving after [s]"] = time.perf_counter() - begun
    port = server.servers[0].sockets[0].getsockname()[1]
    with httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=600.0) as reader:
        while True:
            asked = time.perf_counter()
            text = reader.get("/houses").text
            found.setdefault("the first page took [s]", time.perf_counter() - asked)
            told = told_of(text)
            found.setdefault("of houses it told", told)
            if told == many:
                break
        found["told of every house after [s]"] = time.perf_counter() - begun
        found["of these as of an earlier hour"] = len(re.findall(r"As of ", text))
        found["sent [kB]"] = len(text) / 1e3
        until = time.perf_counter() + watch_s
        while time.perf_counter() < until:
            asked = time.perf_counter()
            text = reader.get("/houses").text
            took = time.perf_counter() - asked
            found["longest page meanwhile [s]"] = max(
                took, found.get("longest page meanwhile [s]", 0.0)
            )
            time.sleep(2.0)
        found["a page then [s]"], found["of houses it then told"] = took, told_of(text)
        houses = server.config.app.houses.every()  # type: ignore[union-attr]
        found["open by then"] = sum(one.is_open for one in houses)
        found["memory then [MB]"] = held_mb()
    server.should_exit = True
    thread.join(5.0)
    return found


def told_of(text: str) -> int:
    """Return of how many houses a page tells how they stand."""
    _, _, houses = text.partition("the most urgent first</h2>")
    return houses.count('class="work-title"')


def reported(found: dict[str, float]) -> None:
    """Print what was found, and end: houses that are just being opened are not waited for."""
    for name, value in found.items():
        print(f"{name}: {value:.2f}", flush=True)
    print(f"(wanted: told of every house within {WANTED_S:g} s)")


def main() -> None:
    """Print the report."""
    parser = argparse.ArgumentParser(prog="group_page")
    parser.add_argument("folder", type=Path, help="A group that bench.group_set has made.")
    parser.add_argument("--kinds", type=int, default=5)
    parser.add_argument("--watch", type=float, default=60.0)
    given = parser.parse_args(sys.argv[1:])
    group = group_on(given.folder).with_changes(draws=DRAWS)
    if not (folder_of(group) / house_name(0) / KEPT_IN).exists():
        alone(say, group, given.kinds)
    reported(page(group, given.watch))
    os._exit(0)


if __name__ == "__main__":
    main()
