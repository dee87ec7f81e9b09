"""Works are judged anew behind the pages: once for many changes, and never too early."""

import threading
from typing import Any

from service.jobs import Jobs
from service.records.register_saving import judge_anew, judge_work_anew
from service.storage.notices import notices


def test_changes_in_one_room_wait_for_one_judging(small: Any) -> None:
    small.hang("W-1")
    small.bring("n1", 0, 9)
    small.museum.forget()
    jobs, hold = Jobs(), threading.Event()
    jobs.start("something long", lambda _: hold.wait(20.0))
    for _ in range(5):
        judge_work_anew(small.museum, jobs, "W-1")
    judge_anew(small.museum, jobs, ["south"])
    assert jobs.waits("judging the works anew: north")
    assert len(jobs._jobs) == 3
    hold.set()
    last = jobs.start("the last", lambda _: None)
    assert last.finished.wait(20.0)
    assert not jobs.waits("judging the works anew: north")
    jobs.close()
    assert all(job.problem is None for job in jobs._jobs.values())
    assert small.museum.assessed_before("north")
    assert notices(small.stores.register) == ()
