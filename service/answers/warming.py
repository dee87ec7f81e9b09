"""The latest week worked out before anybody asks for it, so that the first page comes at once."""

from service.answers.museum import Museum
from service.jobs import Job, Jobs


def warm_up(museum: Museum, jobs: Jobs) -> Job:
    """Queue the work behind the first page: the latest week of every room."""
    return jobs.start("the latest week", lambda job: _warm(museum, jobs, job))


def _warm(museum: Museum, jobs: Jobs, job: Job) -> None:
    week = museum.this_week()
    for room in museum.rooms() if week else ():
        if jobs.closing:
            return
        job.step = f"working out {room.name}"
        museum.room_week(room.room, str(week))
