"""Files whose bytes were changed at random: nothing breaks, and no other row changes unsaid.

``run`` damages 100,000 files; ``python -m bench.damaged_bytes 2000`` so many, and
``python -m bench.damaged_bytes 0 NUMBER`` shows what became of one.
"""

import gc
import os
import sys
import traceback
import warnings
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from analysis.errors import StilltautError
from bench.reading_back import READ, outcome
from bench.written_files import written
from bench.written_series import Rng, Written
from service.errors import QuestionError
from service.ingest.read import FileReading, read_bytes

FILES, CHUNK = 100_000, 500
# Rows enough to be judged by.
LINES = 80
MOST_S = 5.0
SAME, TOLD, ASKED, REFUSED = "as before", "told", "asked", "refused"
HEADING = "heading says another unit or name"
SILENT, TRACEBACK, WARNING, SLOW = "SILENT", "TRACEBACK", "WARNING", "SLOW"
WRONG = (SILENT, TRACEBACK, WARNING)
BAD = (*WRONG, SLOW)
# Where the rows of a file stand in no lines of its own (JSON, archives), so many may be touched.
MOST_ROWS = 8
# Bytes that mean something in a file of readings.
TELLING = [bytes([b]) for b in b'";,\t|\n\r\0. -:0159%CFK#xTRHe'] + [b"\xe9", "°".encode()]


@dataclass(frozen=True)
class Base:
    """A whole file, what it reads as, and the rows in each of its lines."""

    made: Written
    reading: FileReading
    wide: int

    def line_at(self, place: int) -> int:
        """Return the number of the line, from 0, in which a byte stands."""
        end = b"\n\0" if self.made.data.find(b"\n\0") >= 0 else b"\0\n"
        return self.made.data[:place].count(end if self.wide == 2 else b"\n")


@lru_cache(maxsize=64)
def base(number: int) -> Base:
    """Return a whole file that reads without a question: the first from a number on."""
    for one in range(number * 1000, number * 1000 + 1000):
        made = shortened(written(one))
        if len(made.data) < 40_000 and not made.damaged and outcome(made)[0] == READ:
            with warnings.catch_warnings():
                warnings.simplefilter("error")
                reading = read_bytes(made.name, made.data, zone=made.zone)
            wide = 2 if reading.understanding.encoding.startswith("utf-16") else 1
            return Base(made, reading, wide)
    raise LookupError(f"no whole file from {number} on")


def shortened(made: Written) -> Written:
    """Return a text with its first lines alone, so that many can be damaged in little time."""
    lines = made.data.split(b"\n", LINES)
    if not made.line_times or len(lines) <= LINES or b"\0" in made.data:
        return made
    data = b"\n".join([*lines[:LINES], b""])
    times = made.line_times[:LINES]
    last = {time for time in times if time is not None}
    truth = {name: frame[frame.index.isin(last)] for name, frame in made.truth.items()}
    return replace(made, data=data, line_times=times, truth=truth)


def run(files: int = FILES) -> Iterator[str]:
    """Damage files, and count what became of them."""
    chunks = [(at, min(CHUNK, files - at)) for at in range(0, files, CHUNK)]
    counts: Counter[str] = Counter()
    bad: list[str] = []
    with ProcessPoolExecutor(min(2, os.cpu_count() or 1)) as pool:
        for verdicts, lines in pool.map(_chunk, chunks):
            counts.update(verdicts)
            bad += lines
    order = (SAME, TOLD, ASKED, REFUSED, HEADING, *BAD)
    yield f"damaged bytes: {files:,} files: " + ", ".join(f"{counts[v]:,} {v}" for v in order)
    yield from bad[:40]


def _chunk(span: tuple[int, int]) -> tuple[Counter[str], list[str]]:
    counts: Counter[str] = Counter()
    lines = []
    for number in range(span[0], span[0] + span[1]):
        verdict, why = damaged(number)
        counts[verdict] += 1
        if verdict in BAD:
            lines.append(f"  {number} {verdict}: {why}")
    gc.collect()
    return counts, lines


def damaged(number: int) -> tuple[str, str]:
    """Return what becomes of the file of a number, and why."""
    rng = np.random.default_rng([7, number])
    whole = base(number % 60)
    data, touched = changed(rng, whole)
    start_s = _work_s()
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        verdict, why = _verdict(whole, data, touched)
    took_s = _work_s() - start_s
    slow = took_s > MOST_S and verdict not in WRONG
    return (SLOW, f"{took_s:.1f} s of work; {why}") if slow else (verdict, why)


def _work_s() -> float:
    """Return the seconds of work so far of this process and those it waited for."""
    spent = os.times()
    return spent.user + spent.system + spent.children_user + spent.children_system


def _verdict(whole: Base, data: bytes, touched: set[int]) -> tuple[str, str]:
    try:
        found = read_bytes(whole.made.name, data, zone=whole.made.zone)
    except QuestionError:
        return ASKED, ""
    except StilltautError as problem:
        return (REFUSED, "") if problem.action and problem.found else (TRACEBACK, str(problem))
    except Warning:
        return WARNING, traceback.format_exc(limit=-3)
    except Exception:
        return TRACEBACK, traceback.format_exc(limit=-3)
    difference = _differs(whole, found, touched)
    if not difference:
        return SAME, ""
    return _word(whole.reading, found), f"{difference} ({', '.join(whole.made.facts)})"


def _word(before: FileReading, after: FileReading) -> str:
    """Return whether the reading tells of the difference."""
    was, now = before.understanding, after.understanding
    if set(now.problems) - set(was.problems) or set(now.notes) - set(was.notes):
        return TOLD
    units = [(c.name, c.unit, c.quantity) for c in was.channels]
    return HEADING if [(c.name, c.unit, c.quantity) for c in now.channels] != units else SILENT


def _differs(whole: Base, found: FileReading, touched: set[int]) -> str:
    """Return the first difference in a row that was not touched, or nothing."""
    hurt = {whole.made.line_times[n] for n in touched if n < len(whole.made.line_times)}
    for name, before in whole.reading.sensors.items():
        if name not in found.sensors:
            return f"no sensor {name!r}, but {list(found.sensors)}"
        kept = before[~before.index.isin([time for time in hurt if time is not None])]
        after = found.sensors[name].reindex(kept.index)
        for column in ("temp_c", "rh_pct"):
            apart = ~np.isclose(kept[column], after[column], rtol=0, atol=1e-9, equal_nan=True)
            if apart.sum() > (0 if whole.made.line_times else MOST_ROWS):
                at = int(np.flatnonzero(apart)[0])
                values = f"{after[column].iloc[at]} for {kept[column].iloc[at]}"
                return f"{int(apart.sum())} of {column}: {values} at {kept.index[at]}"
    return ""


def changed(rng: Rng, whole: Base) -> tuple[bytes, set[int]]:
    """Return a file's bytes changed in one to four places, and the lines that were touched."""
    data, touched = whole.made.data, set[int]()
    # From the end to the start, so that places keep their meaning.
    for place in sorted(_places(rng, data), reverse=True):
        stop, new = _change(rng, data, place)
        first, last = whole.line_at(place), whole.line_at(min(stop + 1, len(whole.made.data)))
        ends = whole.wide == 2 and (stop - place - len(new)) % 2
        last = len(whole.made.line_times) if ends else last
        touched |= set(range(max(first - 1, 0), last + 2))
        data = data[:place] + new + data[stop:]
    return data, touched


def _places(rng: Rng, data: bytes) -> Sequence[int]:
    """Return where to change: often among the headings."""
    count = int(rng.integers(1, 5))
    reach = min(len(data), 400) if rng.random() < 0.4 else len(data)
    return [int(place) for place in rng.integers(0, reach, count)]


def _change(rng: Rng, data: bytes, place: int) -> tuple[int, bytes]:
    """Return up to where bytes are taken out, and what is put in their place."""
    some = TELLING[int(rng.integers(len(TELLING)))]
    span = place + int(rng.integers(1, 40))
    flipped = bytes([data[min(place, len(data) - 1)] ^ (1 << int(rng.integers(8)))])
    return (
        (place + 1, flipped),
        (place + 1, bytes([int(rng.integers(256))])),
        (place + 1, some),
        (place, some),
        (place + 1, b""),
        (span, b""),
        (place, data[place:span]),
        (place + 2, data[place : place + 2][::-1]),
    )[int(rng.integers(8))]  # fmt: skip


def main(arguments: Sequence[str]) -> None:
    """Damage so many files, or show one."""
    if len(arguments) < 2:
        print(*run(*map(int, arguments)), sep="\n")
        return
    for number in map(int, arguments[1:]):
        whole = base(number % 60)
        data, touched = changed(np.random.default_rng([7, number]), whole)
        Path(f"/tmp/damaged-{number}-{whole.made.name}").write_bytes(data)
        print(number, whole.made.facts, sorted(touched)[:9], *damaged(number), sep="\n  ")


if __name__ == "__main__":
    main(sys.argv[1:])
