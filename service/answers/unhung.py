"""A work that hangs nowhere: what can be said of it without any air."""

from analysis.answers.judgement import judge
from service.answers.museum import Museum
from service.estimates.assessments import Assessed
from service.storage.works import work_at


def unhung(museum: Museum, work_id: str) -> Assessed:
    """Return the answer for a work without a room: cannot tell, and what would mend it."""
    now = museum.as_of() or museum.clock()
    work = work_at(museum.stores.register, work_id, now)
    return Assessed(work, "", judge(work, None, None, at_utc=now))
