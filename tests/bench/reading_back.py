"""Files written in random ways, read back: each gives its series, or a question whose answer does.

``run`` reads 10,000 of them; ``python -m bench.reading_back NUMBER`` shows what becomes of one.
"""

import sys
import time
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd

from analysis.errors import StilltautError
from bench.written_files import written
from bench.written_series import Written
from service.errors import QuestionError
from service.ingest.read import FileReading, read_bytes

FIRST, FILES = 1_000_000, 10_000
MOST_QUESTIONS, MOST_ANSWERS = 4, 6
READ, ASKED, REFUSED, WRONG = "read", "asked, and the answer read", "refused", "WRONG"


def run() -> Iterator[str]:
    """Read the files back and count what became of them."""
    counts: Counter[str] = Counter()
    wrong: list[str] = []
    start = time.perf_counter()
    for number in range(FIRST, FIRST + FILES):
        made = written(number)
        verdict, why = outcome(made)
        counts[verdict] += 1
        if verdict in (WRONG, REFUSED):
            wrong.append(f"  {number} {verdict}: {why} ({', '.join(made.facts)})")
    took_ms = 1000 * (time.perf_counter() - start) / FILES
    shown = ", ".join(f"{counts[v]:,} {v}" for v in (READ, ASKED, REFUSED, WRONG))
    yield f"reading back: {FILES:,} written files: {shown}; {took_ms:.1f} ms each"
    yield from wrong[:40]


@dataclass(frozen=True)
class Given:
    """What was answered so far; ``surely`` tells that every answer is the right one."""

    columns: Mapping[str, str] = field(default_factory=dict)
    day_first: bool | None = None
    surely: bool = True

    def excluding(self, other: "Given") -> "Given":
        """Return these answers and another."""
        order = self.day_first if other.day_first is None else other.day_first
        columns = {**self.columns, **other.columns}
        return Given(columns, order, self.surely and other.surely)


def outcome(made: Written) -> tuple[str, str]:
    """Return what became of a file, and why."""
    try:
        reading = _read(made, Given())
    except QuestionError as question:
        return (ASKED, "") if made.no_answer else _asked(made, question, Given(), 1)
    except StilltautError as problem:
        return (ASKED, "") if made.no_answer else _said(made, problem)
    difference = differs(made, reading)
    return (WRONG, difference) if difference else (READ, "")


def _read(made: Written, given: Given) -> FileReading:
    return read_bytes(
        made.name,
        made.data,
        zone=made.zone,
        columns=given.columns,
        day_first=given.day_first,
    )


def _said(made: Written, problem: StilltautError) -> tuple[str, str]:
    """Return what becomes of a refused file once a person says which column is which."""
    if "--column" not in problem.action or not made.columns:
        return REFUSED, str(problem)
    verdict, why = _tried(made, Given(made.columns), 1)
    return verdict, f"{problem} → {why}"


def _asked(made: Written, question: QuestionError, given: Given, depth: int) -> tuple[str, str]:
    """Return whether one of the answers, given as it is asked for, leads to the series."""
    if depth > MOST_QUESTIONS:
        return REFUSED, f"more than {MOST_QUESTIONS} questions: {question}"
    worst = (REFUSED, "no answer is known")
    for answer in _answers(made, question):
        verdict, why = _tried(made, given.excluding(answer), depth)
        if verdict == ASKED:
            return ASKED, str(question)
        if worst[0] != WRONG:
            worst = (verdict, why)
    return worst[0], f"{question} → {worst[1]}"


def _answers(made: Written, question: QuestionError) -> Iterator[Given]:
    """Return the answers a question lists, or what a person who knows the file would say."""
    for answer in question.answers[:MOST_ANSWERS]:
        right = answer.day_first is not None and answer.day_first == made.day_first
        yield Given(answer.columns, answer.day_first, right)
    if "-first" in question.action:
        yield Given({}, made.day_first)
    if "--column time=" in question.action:
        yield Given({"time": made.time_columns})
    if "--column" in question.action and made.columns:
        yield Given(made.columns)


def _tried(made: Written, given: Given, depth: int) -> tuple[str, str]:
    try:
        reading = _read(made, given)
    except QuestionError as question:
        return _asked(made, question, given, depth + 1)
    except StilltautError as problem:
        return REFUSED, f"{given} → {problem}"
    difference = differs(made, reading)
    if not difference:
        return ASKED, ""
    return WRONG if given.surely else REFUSED, f"{given} → {difference}"


def differs(made: Written, reading: FileReading) -> str:
    """Return in what a reading differs from the series that was written, or nothing."""
    labels = _labels(made, reading)
    if labels is None:
        return f"sensors {list(reading.sensors)} for {list(made.truth)}"
    for name, label in labels.items():
        difference = _difference(made, made.truth[name], reading.sensors[label])
        if difference:
            return f"{name or 'the sensor'}: {difference}"
    return ""


def _labels(made: Written, reading: FileReading) -> dict[str, str] | None:
    """Return the sensor of the reading for each that was written."""
    if len(reading.sensors) != len(made.truth):
        return None
    if len(made.truth) == 1:
        return dict(zip(made.truth, reading.sensors, strict=True))
    found = {
        name: [label for label in reading.sensors if _named(name, label)] for name in made.truth
    }
    if any(len(labels) != 1 for labels in found.values()):
        return None
    return {name: labels[0] for name, labels in found.items()}


def _named(name: str, label: str) -> bool:
    """Return whether a label holds a name; two of its letters may be swapped in the file itself."""
    alike = sorted(name.casefold()) == sorted(label.casefold())
    return alike or name.casefold() in label.casefold()


def _difference(made: Written, truth: pd.DataFrame, got: pd.DataFrame) -> str:
    """Return the first difference between a series and what was read of it."""
    truth = truth.dropna(how="all")
    got = got.dropna(subset=["temp_c", "rh_pct"], how="all")
    index = pd.DatetimeIndex(got.index)
    if made.tolerance_s:
        index = index.round("s")
        got = got.set_axis(index)
    strange = index.difference(pd.DatetimeIndex(truth.index))
    if len(strange):
        return f"{len(strange)} times that were not written, such as {strange[0]}"
    missing = [t for t in truth.index.difference(index) if t not in made.damaged]
    if missing:
        return f"{len(missing)} times are not there, such as {missing[0]}"
    for column in ("temp_c", "rh_pct"):
        want, have = truth[column].reindex(index), got[column]
        hurt = index.isin(list(made.damaged)) & have.isna().to_numpy()
        apart = ~np.isclose(want, have, rtol=0, atol=1e-6, equal_nan=True) & ~hurt
        if apart.any():
            at = int(np.flatnonzero(apart)[0])
            values = f"{have.iloc[at]} for {want.iloc[at]}"
            return f"{int(apart.sum())} of {column}: {values} at {index[at]}"
    return ""


def main(numbers: list[str]) -> None:
    """Show files by their numbers: how they were written, and what became of them."""
    for number in map(int, numbers):
        made = written(number)
        Path(f"/tmp/{made.name}").write_bytes(made.data)
        print(number, made.facts, made.zone, made.columns, *outcome(made), sep="\n  ")


if __name__ == "__main__":
    main(sys.argv[1:])
