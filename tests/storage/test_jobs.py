"""Jobs in the register: claimed once, taken up after a death, given up after many."""

import concurrent.futures
import os
import subprocess
import sys
import time
from collections.abc import Mapping
from datetime import datetime, timedelta
from functools import partial
from typing import Any

import pytest
from sqlalchemy import select

from service.errors import StoreError
from service.intake.taking_in import finish_received, take_in
from service.jobs import Jobs, OthersFirstError, Task
from service.storage import job_records
from service.storage.job_records import (
    MOST_TRIES,
    STORED,
    JobState,
    change_preview,
    claim,
    confirm_job,
    drop_job,
    job_named,
    jobs_of,
    others_wait,
    put_job,
)
from service.storage.outbox import alone, take_lease
from service.storage.register import now_utc
from service.storage.schema import LeaseRow
from service.storage.stores import Stores
from service.storage.uploads import UploadState, mark


def doubled(task: Task) -> Mapping[str, Any]:
    task.step("doubling")
    return {"twice": 2 * int(task.record.arguments["number"])}


def failing(_: Task) -> Mapping[str, Any]:
    raise StoreError(read="disk", where="", found="full", expected="room", action="Make room.")


def surprised(_: Task) -> Mapping[str, Any]:
    raise ZeroDivisionError("surprise")


KINDS = {"double": doubled, "fail": failing, "surprise": surprised}


def test_a_job_is_done_in_order_and_its_result_kept(stores: Stores) -> None:
    jobs = Jobs(stores.register, KINDS)
    first = put_job(stores.register, "double", "one", {"number": 1})
    second = put_job(stores.register, "double", "two", {"number": 2})
    assert jobs.do_waiting() == 2
    assert job_named(stores.register, first.job_id).result == {"twice": 2}
    done = job_named(stores.register, second.job_id)
    assert (done.state, done.result, done.step) == ("done", {"twice": 4}, "doubling")
    assert jobs.do_waiting() == 0


@pytest.mark.parametrize(("kind", "found"), [("fail", "full"), ("surprise", "ZeroDivisionError")])
def test_a_failure_is_kept_in_five_parts(stores: Stores, kind: str, found: str) -> None:
    job = put_job(stores.register, kind, "one", {})
    Jobs(stores.register, KINDS).do_waiting()
    failed = job_named(stores.register, job.job_id)
    assert failed.state == JobState.FAILED
    assert failed.problem is not None
    assert found in failed.problem["found"]


def owned(stores: Stores, owner: str, monkeypatch: pytest.MonkeyPatch) -> str:
    """Return a job that another process has in hand."""
    job = put_job(stores.register, "double", "one", {"number": 1})
    with monkeypatch.context() as other:
        other.setattr(job_records, "this_process", lambda: owner)
        claimed = claim(stores.register)
    assert claimed is not None
    assert claimed.job_id == job.job_id
    return job.job_id


def host() -> str:
    return job_records.this_process().partition("/")[0]


def test_a_job_in_hand_elsewhere_is_left_until_its_lease_ends(
    stores: Stores, monkeypatch: pytest.MonkeyPatch
) -> None:
    owned(stores, "elsewhere/1/x", monkeypatch)
    assert claim(stores.register) is None
    assert claim(stores.register, now_utc() + timedelta(minutes=5)) is not None


def test_a_job_of_a_process_that_died_is_taken_up_at_once(
    stores: Stores, monkeypatch: pytest.MonkeyPatch
) -> None:
    with subprocess.Popen([sys.executable, "-c", ""]) as gone:
        number = gone.pid
    job_id = owned(stores, f"{host()}/{number}/x", monkeypatch)
    assert Jobs(stores.register, KINDS).do_waiting() == 1
    assert job_named(stores.register, job_id).tries == 2


def test_a_number_used_again_is_no_owner(stores: Stores, monkeypatch: pytest.MonkeyPatch) -> None:
    owned(stores, f"{host()}/{os.getpid()}/an-earlier-one", monkeypatch)
    assert claim(stores.register) is not None


def test_a_living_process_keeps_its_job(stores: Stores, monkeypatch: pytest.MonkeyPatch) -> None:
    owned(stores, f"{host()}/{os.getppid()}/x", monkeypatch)
    assert claim(stores.register) is None


def test_a_job_that_ends_every_process_is_given_up(
    stores: Stores, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = put_job(stores.register, "double", "one", {"number": 1})
    for number in range(MOST_TRIES):
        monkeypatch.setattr(job_records, "this_process", partial(str, f"elsewhere/{number}/x"))
        assert claim(stores.register, now_utc() + number * timedelta(hours=1)) is not None
    monkeypatch.setattr(job_records, "this_process", lambda: "elsewhere/99/x")
    last = claim(stores.register, now_utc() + timedelta(days=1))
    assert last is not None
    assert last.state == JobState.FAILED
    assert job_named(stores.register, job.job_id).problem is not None


def test_a_preview_waits_for_a_person(stores: Stores) -> None:
    register = stores.register
    one = put_job(register, "double", "one", {"number": 1}, state=JobState.PREVIEW)
    two = put_job(register, "double", "two", {}, batch=one.batch, state=JobState.PREVIEW)
    jobs = Jobs(register, KINDS)
    assert jobs.do_waiting() == 0
    assert [job.title for job in jobs_of(register, batch=one.batch)] == ["one", "two"]
    change_preview(register, one.job_id, {"number": 5})
    confirm_job(register, one.job_id, {"number": 6})
    drop_job(register, two.job_id)
    assert jobs.do_waiting() == 1
    assert job_named(register, one.job_id).result == {"twice": 12}
    confirm_job(register, one.job_id, {"number": 7})  # sent twice: done already
    assert jobs.do_waiting() == 0
    assert job_named(register, two.job_id).state == JobState.DROPPED


def test_a_thread_does_what_is_written_down_and_its_rounds(stores: Stores) -> None:
    rounds: list[bool] = []
    jobs = Jobs(stores.register, KINDS, [lambda interrupted: rounds.append(interrupted())])
    jobs.start()
    job = put_job(stores.register, "double", "one", {"number": 1})
    jobs.wake()
    assert jobs.wait_for(job.job_id, 20.0).result == {"twice": 2}
    jobs.close()
    assert rounds


def test_a_forked_process_has_a_name_of_its_own(stores: Stores) -> None:
    mine = job_records.this_process()
    code = (
        "import os; from service.storage.job_records import this_process as p; a = p(); "
        "r, w = os.pipe(); n = os.fork(); "
        "n or (os.write(w, p().encode()), os._exit(0)); os.waitpid(n, 0); "
        "print(a != os.read(r, 99).decode())"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "True"
    assert job_records.this_process() == mine


def test_a_duty_is_free_once_the_process_that_held_it_has_ended(stores: Stores) -> None:
    code = "from service.storage.job_records import this_process as p; print(p())"
    ended = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert take_lease(stores.register, "follow up", f"{ended.stdout.strip()}/1", 300.0)
    with alone(stores.register, "follow up", 300.0) as mine:
        assert mine
        with concurrent.futures.ThreadPoolExecutor(1) as other:
            assert other.submit(held_elsewhere, stores).result()
    assert take_lease(stores.register, "follow up", "another host/7/x/1", 300.0)
    assert held_elsewhere(stores)  # of other machines nothing is known until the time runs out


def held_elsewhere(stores: Stores) -> bool:
    with alone(stores.register, "follow up", 300.0) as mine:
        return not mine


def test_every_file_is_stored_before_the_works_are_judged(stores: Stores) -> None:
    done: list[str] = []

    def stored_then_judged(task: Task) -> Mapping[str, Any]:
        if not task.record.step.startswith(STORED):
            done.append(f"{task.record.title} stored")
            task.step(f"{STORED}: one")
        if others_wait(stores.register, "file"):
            raise OthersFirstError
        done.append(f"{task.record.title} judged")
        return {}

    for name in ("a", "b", "c"):
        put_job(stores.register, "file", name, {})
    Jobs(stores.register, {"file": stored_then_judged}).do_waiting()
    assert done[:3] == ["a stored", "b stored", "c stored"]
    assert sorted(done[3:]) == ["a judged", "b judged", "c judged"]
    assert {job.state for job in jobs_of(stores.register)} == {JobState.DONE}


def test_a_duty_is_held_on_to_for_as_long_as_it_takes(stores: Stores) -> None:
    def until() -> datetime:
        with stores.register.reading() as session:
            return session.scalars(select(LeaseRow.until_utc)).one()

    with alone(stores.register, "a file", 0.3, renewed=True) as mine:
        assert mine
        first = until()
        for _ in range(3000):
            if until() > first:
                break
            time.sleep(0.02)
        assert until() > first
    assert take_lease(stores.register, "a file", "another host/7/x/1", 300.0)


def test_a_file_that_another_machine_has_in_hand_is_left_to_it(stores: Stores) -> None:
    export = b"Time,Temp (C)\n2026-01-01 00:00,20.0\n2026-01-01 01:00,20.5\n"
    receipt = take_in(stores, export, name="a.csv", logger_id="n1", zone="UTC")
    mark(stores.register, receipt.upload, UploadState.RECEIVED)
    duty = f"file {receipt.sha256} n1"
    assert take_lease(stores.register, duty, "another host/7/x/1", 300.0)
    assert finish_received(stores) == ()
    assert take_lease(stores.register, duty, "another host/7/x/1", -1.0)  # it fell silent
    (finished,) = finish_received(stores)
    assert (finished.added, finished.same) == (0, 2)
