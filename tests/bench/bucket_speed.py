"""A house in a bucket against the same house in a folder, each request delayed as by a network.

``python -m bench.bucket_speed`` makes ten rooms of ten years in both, the bucket on a real server
that speaks S3, and prints seconds on the wall and their ratio: the readings of all rooms, the first
page of a machine that has nothing at hand, the same after a new start, and a weekly file with the
first page after it. Every request to the bucket waits 20 ms more. Each step has a process of its
own; the clock is what counts here, so the machine should have nothing else to do.
"""

import argparse
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from fixtures.object_stores import BUCKET, REGION, an_object_server

from bench.full_museum import Size, build_in, logger_name, on, room_name, sizes, weekly_file
from bench.living_museum import alone, this_week
from service.answers.museum import Museum
from service.intake.taking_in import take_in
from service.settings import Settings
from service.storage.objects.bucket import Bucket
from service.storage.stores import Stores

DELAY_S = 0.020
ASKING = ("_fetched", "_send", "_below", "exists", "remove", "open")
asked = 0


def delay_requests(seconds: float) -> None:
    """Let every request of this process to a bucket wait, and count them."""

    def late(request: Callable[..., Any]) -> Callable[..., Any]:
        def asking(*given: Any, **named: Any) -> Any:
            global asked
            asked += 1
            time.sleep(seconds)
            return request(*given, **named)

        return asking

    for name in ASKING:
        setattr(Bucket, name, late(getattr(Bucket, name)))


def built(settings: Settings, size: Size) -> dict[str, float]:
    """Make the house."""
    build_in(settings, size)
    return {}


def readings(settings: Settings, size: Size) -> dict[str, float]:
    """Read the whole record of every room."""
    delay_requests(DELAY_S)
    with Stores.open(settings) as stores:
        return timed(
            "all readings", lambda: [stores.readings.load(one) for one in stores.readings.loggers()]
        )


def first_page(settings: Settings, size: Size) -> dict[str, float]:
    """Answer the first page."""
    delay_requests(DELAY_S)
    with Stores.open(settings) as stores:
        return timed("first page", lambda: this_week(Museum(stores, settings)))


def weekly(settings: Settings, size: Size) -> dict[str, float]:
    """Take a weekly file in and answer the first page after it, the page before at hand."""
    delay_requests(DELAY_S)
    settings = settings.with_changes(as_if=on(settings.data_dir, size, 1).as_if)
    with Stores.open(settings) as stores:
        museum = Museum(stores, settings)
        this_week(museum)
        data = weekly_file(0, size.minutes)

        def taken() -> None:
            take_in(stores, data, name=f"{room_name(0)}.csv", logger_id=logger_name(0), zone="UTC")

        found = timed("weekly file", taken)
        return found | timed("first page after a weekly file", lambda: this_week(museum))


def timed(what: str, work: Callable[[], object]) -> dict[str, float]:
    """Return the seconds that something takes, and how many requests."""
    before, start = asked, time.perf_counter()
    work()
    return {what: time.perf_counter() - start, f"{what}: requests": asked - before}


def measured(settings: Settings, size: Size) -> dict[str, float]:
    """Measure all steps of one house."""
    alone(built, settings, size)
    shutil.rmtree(settings.data_dir / "copies", ignore_errors=True)
    found: dict[str, float] = {}
    for when in ("nothing at hand", "copies at hand"):
        found |= {
            f"{name}, {when}": value for name, value in alone(readings, settings, size).items()
        }
    for kept in ("copies", "results"):
        shutil.rmtree(settings.data_dir / kept, ignore_errors=True)
    for when in ("a new machine", "a new start"):
        page = alone(first_page, settings, size)
        found |= {f"{name}, {when}": value for name, value in page.items()}
    return found | alone(weekly, settings, size)


def main() -> None:
    """Print both houses' seconds and their ratio."""
    parser = argparse.ArgumentParser(prog="bucket_speed")
    sizes(parser)
    parser.set_defaults(works=40, draws=60)
    given = parser.parse_args(sys.argv[1:])
    size = Size(**{name: getattr(given, name) for name in Size.__annotations__})
    print(f"{size.rooms} rooms, {size.years:g} years, {size.works} works, {1e3 * DELAY_S:g} ms")
    with tempfile.TemporaryDirectory() as place, an_object_server() as server:
        folder = on(Path(place) / "folder", size)
        bucket = replace(
            on(Path(place) / "bucket", size),
            store=f"s3://{BUCKET}/bench",
            store_endpoint=server,
            store_region=REGION,
        )
        near, far = measured(folder, size), measured(bucket, size)
    for name, seconds in near.items():
        if "requests" in name:
            continue
        what, _, when = name.partition(", ")
        count = far[f"{what}: requests" + (f", {when}" if when else "")]
        print(
            f"{name}: folder {seconds:.2f} s, bucket {far[name]:.2f} s, {count:.0f} requests; "
            f"{far[name] / seconds:.2f}"
        )


if __name__ == "__main__":
    main()
