"""What a work's record holds that nothing can be computed with: it silences that work alone."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from analysis.errors import StilltautError
from analysis.learning.inspections import Inspection as Seen, standing
from analysis.records.inspection_records import Inspection
from analysis.simulation.drawn_parameters import BUILD_FACTS, UNITS
from analysis.simulation.phases import Phase, require_phases
from analysis.simulation.refusals import require_possible
from analysis.works import Finish, Paper, Work
from dashboards.text.error_words import error_words
from dashboards.text.messages import _
from service.estimates.hanging_history import life_until
from service.storage.inspections import inspections
from service.storage.stores import Stores
from service.storage.works import WorkRecord, prints, work_record

KNOWN = {**UNITS, **BUILD_FACTS}
LARGEST_WAVE_MM = 1000.0
# What a record that cannot be computed with may raise on its way through the calculation.
NOT_COMPUTED = (StilltautError, ValueError, ArithmeticError, LookupError)


@dataclass(frozen=True)
class RecordProblem:
    """Where a record holds what nothing can be computed with, and what it holds there."""

    work_id: str
    where: str
    found: str

    @classmethod
    def of(cls, work_id: str, problem: Exception) -> "RecordProblem":
        """Return an error of the calculation as what the record holds."""
        if isinstance(problem, StilltautError):
            return cls(work_id, problem.where or problem.read, problem.found)
        return cls(work_id, "register", str(problem) or type(problem).__name__)

    @property
    def words(self) -> str:
        """The problem in a few words, after "its record holds"."""
        return f"{self.found} ({self.where})"

    def __str__(self) -> str:
        """Return the problem as `stilltaut check` prints it."""
        return _(
            "work {work}: its record holds {found}, with which nothing can be computed. "
            "Correct or withdraw it on the work's page.",
            work=self.work_id,
            found=f"{error_words(self.found)} ({error_words(self.where)})",
        )


Phased = tuple[Work, tuple[Phase, ...]]


def phases_or_problem(
    record: WorkRecord, seen: Sequence[Inspection], at_utc: datetime
) -> Phased | RecordProblem:
    """Return a work at a time with its phases before, or what makes it impossible to compute."""
    key = record.print.work_id
    try:
        work, earlier = life_until(record, at_utc)
        for one in (work, *(phase.work for phase in earlier)):
            require_possible(one, known=KNOWN)
        require_phases(work, earlier)
        standing([as_seen(one) for one in seen])
        for inspection in seen:
            if inspection.wave_mm is not None and not inspection.wave_mm <= LARGEST_WAVE_MM:
                return RecordProblem(
                    key, _inspection_words(inspection), f"waves of {inspection.wave_mm:g} mm"
                )
    except (StilltautError, ValueError, TypeError, ArithmeticError) as problem:
        return RecordProblem.of(key, problem)
    return work, earlier


def stand_in(record: WorkRecord) -> Work:
    """Return a work of which nothing is used but its number and its title."""
    sheet = record.print
    return Work(sheet.work_id, sheet.title, 1.0, 1.0, Paper.PLAIN, Finish.MATT)


def as_seen(one: Inspection) -> Seen:
    """Return an inspection of the register as learning sees it."""
    return Seen(one.at_utc, one.grade, wave_mm=one.wave_mm, released=one.released)


def record_problems(stores: Stores, now_utc: datetime) -> Iterator[RecordProblem]:
    """Yield what the records of all works hold that nothing can be computed with."""
    for sheet in prints(stores.register):
        record = work_record(stores.register, sheet.work_id)
        found = phases_or_problem(record, inspections(stores.register, sheet.work_id), now_utc)
        if isinstance(found, RecordProblem):
            yield found


def _inspection_words(inspection: Inspection) -> str:
    return f"inspection of {inspection.at_utc:%Y-%m-%d %H:%M} UTC"


def latest_inspection(seen: Sequence[Inspection], mounted: datetime | None) -> Seen | None:
    """Return the last look at a work since it was mounted as it is.

    A hinge found loose stays the last word until somebody has found that all hold.
    """
    counted = [one for one in seen if mounted is None or one.at_utc >= mounted]
    at_edges = [one for one in counted if one.released is not None]
    if at_edges and at_edges[-1].released:
        return as_seen(at_edges[-1])
    return as_seen(counted[-1]) if counted else None
