"""Errors of the outer world, as a tree (see `analysis.errors` for the five parts).

StilltautError
├── NotUnderstoodError     a file is no table of readings, or not one we can tell apart
├── QuestionError          a file fits two readings; a person must choose
├── StoreError             a store holds something it should not, or cannot be written
└── EngineError            whoever is to work something out is not there, or calculates otherwise
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from analysis.errors import StilltautError


class NotUnderstoodError(StilltautError):
    """The file is not a table of readings, or no layout fits it."""


def remark(text: str) -> str:
    """Return what is told of a file as it is; the catalogue gathers what is given to this."""
    return text


@dataclass(frozen=True)
class Answer:
    """One answer to a question about a file, as it may be given back.

    ``columns`` is what the reader is then told besides (`service.ingest.read.read_bytes`),
    ``day_first`` likewise; ``words`` say for people what the answer means.
    """

    words: str
    columns: Mapping[str, str] = field(default_factory=dict)
    day_first: bool | None = None

    def options(self) -> str:
        """Return the answer as options of the commands.

        Examples
        --------
        >>> Answer("", {"rh_pct": "Channel 2"}).options()
        "--column rh_pct='Channel 2'"
        >>> Answer("", {"start": "2025-06-02 00:00", "interval": "900s"}).options()
        "--start '2025-06-02 00:00' --interval '900s'"
        """
        own = ("start", "interval")
        stated = [f"--{k}='{v}'".replace("=", " ", 1) if k in own else f"--column {k}='{v}'"
                  for k, v in self.columns.items()]  # fmt: skip
        if self.day_first is not None:
            stated.append("--day-first" if self.day_first else "--month-first")
        return " ".join(stated)


class QuestionError(StilltautError):
    """The file fits more than one reading and guessing would be wrong.

    Parameters
    ----------
    read, where, found, expected, action : str
        The five parts of a message.
    answers : sequence of Answer
        The readings to choose from, likeliest first, where they can be listed.
    """

    def __init__(
        self,
        *,
        read: str,
        where: str,
        found: str,
        expected: str,
        action: str,
        answers: Sequence[Answer] = (),
    ) -> None:
        self.answers = tuple(answers)
        super().__init__(read=read, where=where, found=found, expected=expected, action=action)

    def beside(self, stated: Mapping[str, str], several: Sequence[str]) -> "QuestionError":
        """Return the question with answers that do not undo what was said before.

        Parameters
        ----------
        stated : mapping of str to str
            What the reader was told.
        several : sequence of str
            Keys under which several columns stand, with a plus sign between.
        """
        answers, action = [], self.action
        for answer in self.answers:
            both = {k: f"{stated[k]}+{answer.columns[k]}" for k in several
                    if stated.get(k) and k in answer.columns}  # fmt: skip
            joined = Answer(answer.words, {**answer.columns, **both}, answer.day_first)
            action = action.replace(answer.options(), joined.options())
            answers.append(joined)
        parts = {"read": self.read, "where": self.where, "found": self.found}
        return QuestionError(**parts, expected=self.expected, action=action, answers=answers)


class StoreError(StilltautError):
    """A store holds something it should not, or cannot be written."""


class EngineError(StilltautError):
    """Those who are to work something out are not there, or would come to other digits."""
