"""The first hour of a new house: the steps that lead from nothing to the first lists."""

from collections.abc import Sequence
from dataclasses import dataclass

from dashboards.forms.form import RecordForm


@dataclass(frozen=True)
class FirstStep:
    """One step: what is to be done, where, and whether it is done."""

    words: str
    address: str
    done: bool


@dataclass(frozen=True)
class FirstHour:
    """The steps in their order; the form of the first one while nothing is known yet."""

    steps: Sequence[FirstStep]
    house: RecordForm | None = None

    @property
    def done(self) -> int:
        """How many steps are done before the first that is not."""
        return next((at for at, one in enumerate(self.steps) if not one.done), len(self.steps))

    @property
    def next(self) -> FirstStep | None:
        """The step that comes next; None where all are done."""
        return next((one for one in self.steps if not one.done), None)
