"""What the checks of a reading cost: its times, its columns and what stands beside them, judged.

Each check is timed where it is called, in the same runs as the reading around it; what is left of
the reading is the reading without them.
"""

import importlib
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from unittest.mock import patch

from bench.reading import READINGS, write_export
from service.ingest.read import read_file

MOST = 0.1
RUNS = 5
# Where they are called: the proposals for the time, the columns nothing claimed, the columns beside
# each other, the clock and the axis, the level.
CHECKS = (
    ("service.ingest.plan", "time_columns"),
    ("service.ingest.plan", "_require_no_doubt"),
    ("service.ingest.plan", "_require_whole_headings"),
    ("service.ingest.takencolumns", "require_not_exchanged"),
    ("service.ingest.takencolumns", "require_what_they_say"),
    ("service.ingest.assembly", "_leaps"),
    ("service.ingest.assembly", "turns_of"),
    ("service.ingest.assembly", "leaps_of"),
    ("service.ingest.assembly", "Assembly.set_clocks"),
    ("service.ingest.read", "require_one_time"),
    ("service.ingest.read", "require_one_level"),
)


@dataclass
class Spent:
    """The work in checks so far [s]; one within another counts once."""

    checks_s: float = 0.0
    depth: int = 0

    def timed(self, check: Callable[..., Any]) -> Callable[..., Any]:
        """Return a check that adds the work it takes."""

        def run_it(*given: Any, **named: Any) -> Any:
            self.depth += 1
            start_s = time.process_time()
            try:
                return check(*given, **named)
            finally:
                self.depth -= 1
                if not self.depth:
                    self.checks_s += time.process_time() - start_s

        return run_it


def run() -> Iterator[str]:
    """Yield what the checks of a long export cost, as a share of the reading without them."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "export.csv"
        write_export(path)
        found = [_once(path) for _ in range(RUNS)]
    checks_s, rest_s = (min(one) for one in zip(*found, strict=True))
    yield (
        f"checks of {READINGS:,} rows: {1000 * checks_s:.1f} ms of work beside {1000 * rest_s:.0f} "
        f"ms without them, ratio {checks_s / rest_s:.3f} (wanted: at most {MOST})"
    )


def _once(path: Path) -> tuple[float, float]:
    """Return the work of the checks of one reading, and that of the rest [s]."""
    spent = Spent()
    with ExitStack() as stack:
        for module, name in CHECKS:
            owner: Any = importlib.import_module(module)
            *within, last = name.split(".")
            for part in within:
                owner = getattr(owner, part)
            stack.enter_context(patch.object(owner, last, spent.timed(getattr(owner, last))))
        start_s = time.process_time()
        read_file(path, zone="UTC+1")
        all_s = time.process_time() - start_s
    return spent.checks_s, all_s - spent.checks_s


if __name__ == "__main__":
    print(*run(), sep="\n")
