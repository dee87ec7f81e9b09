"""Where to hang a whole collection: begun once, killed and gone on with, it comes to the same."""

import contextlib
import time
from pathlib import Path

import httpx
import numpy as np
import pytest
from fixtures.serving import DRAWS, served

from analysis.learning.posterior import thinned
from analysis.planning.hanging import HangingTable, hanging_table
from service.answers import hanging_jobs
from service.answers.hanging_jobs import (
    PLAN_HANGING,
    Asked,
    begin_job,
    hanging_work,
    is_large,
    kept_table,
)
from service.answers.museum import Museum
from service.answers.planning import hanging_of, posteriors
from service.jobs import Jobs
from service.settings import Settings
from service.storage.job_records import JobState, claim, job_named, put_job
from service.storage.stores import Stores
from service.storage.works import prints


def shares(table: HangingTable) -> dict[tuple[str, str], float]:
    return {
        (row.work.work_id, place.room): cell.share
        for row in table.rows
        for place, cell in zip(table.places, row.cells, strict=True)
    }


def test_a_job_that_is_killed_goes_on_and_comes_to_the_same(own_museum: Path) -> None:
    settings = Settings(data_dir=own_museum, draws=DRAWS)
    with Stores.open(settings) as stores:
        museum = Museum(stores, settings)
        rooms = tuple(room.room for room in museum.rooms())[:2]
        asked = Asked(tuple(one.work_id for one in prints(stores.register))[:3], rooms)
        job = begin_job(museum, asked)
        assert begin_job(museum, asked).job_id == job.job_id
        said: list[str] = []

        def dies(words: str) -> None:
            said.append(words)
            if words.startswith("room 2"):
                raise KeyboardInterrupt

        with contextlib.suppress(KeyboardInterrupt):
            Jobs(stores.register, {PLAN_HANGING: hanging_work(museum, dies)}).do(job.job_id)
        left = job_named(stores.register, job.job_id)
        assert left.problem is None
        assert (left.state, left.tries) == (JobState.WAITING, 0)
        assert left.step.startswith("room 2 of 2")
        kept = stores.results.names("hanging")
        assert len(kept) >= 1

        again = Museum(stores, settings)
        assert Jobs(stores.register, {PLAN_HANGING: hanging_work(again)}).do_waiting() == 1
        done = job_named(stores.register, job.job_id)
        assert done.problem is None
        table = kept_table(again, done)
        assert table is not None
        for name in stores.results.names("hanging"):
            stores.results.forget(name)
        straight = hanging_of(
            Museum(stores, settings),
            asked.works,
            asked.rooms,
            draws=hanging_jobs.DRAWS,
        )
        told = hanging_table(straight.works, straight.years, straight.rooms_now)
        assert shares(table) == shares(told)


def test_thinned_draws_say_the_same_on_average(own_museum: Path) -> None:
    settings = Settings(data_dir=own_museum, draws=DRAWS)
    with Stores.open(settings) as stores:
        taught = [one for _room, one in posteriors(Museum(stores, settings)).values() if one]
        assert taught
        for one in taught:
            few = thinned(one, 20)
            assert len(few.weights) == 20
            assert few.weights.sum() == pytest.approx(1.0)
            for name, level in one.levels.items():
                weights = one.weights / one.weights.sum()
                mean = float(weights @ level)
                spread = float(np.sqrt(weights @ (level - mean) ** 2))
                assert abs(float(few.levels[name].mean()) - mean) <= spread
                assert set(few.levels[name]) <= set(level)
        assert thinned(taught[0], 10_000) is taught[0]


def test_files_to_be_stored_go_before_it(own_museum: Path) -> None:
    settings = Settings(data_dir=own_museum, draws=DRAWS)
    with Stores.open(settings) as stores:
        museum = Museum(stores, settings)
        begin_job(museum, Asked())
        file = put_job(stores.register, "take in", "week.csv", {})
        first = claim(stores.register)
        assert first is not None
        assert first.job_id == file.job_id


def finished(client: httpx.Client, address: str) -> str:
    """Return the page once it no longer says that it is being worked out."""
    until = time.monotonic() + 300
    while "It is being worked out" in (page := client.get(address).text):
        assert time.monotonic() < until
        time.sleep(0.2)
    return page


def test_the_page_offers_it_tells_how_far_it_is_and_shows_it(
    own_museum: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(hanging_jobs, "LARGE", 0)
    with served(own_museum) as client, client:
        offered = client.get("/plan/hang").text
        assert 'action="/plan/hang?wall=inside+wall"' in offered
        assert f"with {hanging_jobs.DRAWS} draws" in offered.replace("\N{NO-BREAK SPACE}", " ")
        answer = client.post("/plan/hang?wall=inside+wall")
        assert answer.status_code == 303
        page = finished(client, answer.headers["location"])
        assert "Worked out on" in page
        assert "<svg" in page


def test_few_works_are_no_job(own_museum: Path) -> None:
    settings = Settings(data_dir=own_museum, draws=DRAWS)
    with Stores.open(settings) as stores:
        assert not is_large(Museum(stores, settings), Asked())
