"""A folder from which files are taken in by themselves, once they are complete.

A file lies in the folder of its logger, ``WATCHED/north-1/week.csv``, or beside those folders where
its name tells the logger. What is stored is moved to ``done``, what a person must look at to
``asked``, each with a receipt beside it, and waits on the page where files are brought in.
"""

import logging
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from analysis.errors import StilltautError
from service.answers.museum import Museum
from service.errors import QuestionError
from service.ingest.read import FileReading
from service.intake.arrivals import by_logger, held
from service.intake.files_in_hand import receive
from service.intake.proposals import suggested_logger
from service.intake.suspicions import doubts
from service.intake.taking_in import take_in
from service.storage.durable import make_folder, replace_file, sync_folder
from service.storage.job_records import OPEN, jobs_of
from service.storage.loggers import loggers
from service.storage.originals import sha256_of
from service.storage.outbox import alone
from service.storage.register import now_utc

log = logging.getLogger(__name__)
DONE, ASKED = "done", "asked"
WAITS = "It waits on the page where files are brought in."
UNFINISHED = (".part", ".tmp", ".crdownload", ".filepart")
# A file that has not grown for so long is complete.
QUIET_S = 5.0
DUTY, LEASE_S = "watched folder", 300.0


@dataclass(frozen=True)
class Seen:
    """A file as it was at a look."""

    size: int
    changed_ns: int


class WatchedFolder:
    """Takes in what is complete in a folder, whenever it is looked at.

    Parameters
    ----------
    museum : Museum
        Whose readings they are.
    folder : pathlib.Path
        The folder; made when missing.
    quiet_s : float
        A file that has been as it is for so long is complete [s].
    """

    def __init__(self, museum: Museum, folder: Path, quiet_s: float = QUIET_S) -> None:
        self._museum, self._folder, self._quiet_s = museum, folder, quiet_s
        self._before: dict[Path, Seen] = {}

    def __call__(self, interrupted: Callable[[], bool]) -> None:
        """Take in what is complete; break off between two files when asked to."""
        make_folder(self._folder)
        found = dict(self._files())
        now_ns = now_utc().timestamp() * 1e9
        for path, seen in found.items():
            if interrupted():
                return
            quiet = now_ns - seen.changed_ns >= self._quiet_s * 1e9
            if quiet and self._before.get(path) == seen:
                self._take_alone(path)
        self._before = found

    def _files(self) -> Iterator[tuple[Path, Seen]]:
        folders = [
            one for one in sorted(self._folder.iterdir()) if one.is_dir() and _counts(one.name)
        ]
        for folder in [self._folder, *(one for one in folders if one.name not in (DONE, ASKED))]:
            for path in sorted(folder.iterdir()):
                if path.is_file() and not path.is_symlink() and _counts(path.name):
                    stat = path.stat()
                    yield path, Seen(stat.st_size, stat.st_mtime_ns)

    def _take_alone(self, path: Path) -> None:
        """Take a file in unless another process does, or has done so already."""
        with alone(self._museum.stores.register, DUTY, LEASE_S) as mine:
            if mine and path.exists():
                self._take(path)

    def _take(self, path: Path) -> None:
        try:
            words, aside = self._stored(path, held(path))
        except StilltautError as problem:
            log.warning("%s stays where it is: %s", path.name, problem)
            return
        self._move(path, aside, words)

    def _stored(self, path: Path, data: Path | bytes) -> tuple[str, str]:
        """Take a file in, or let it wait for a person; return the receipt and where it goes."""
        logger_id = self._logger_of(path)
        if not logger_id:
            self._ask(path, data, "")
            return f"Which logger is it from? {WAITS}", ASKED
        try:
            taken = take_in(
                self._museum.stores,
                data,
                name=path.name,
                logger_id=logger_id,
                zone=self._clock_of(logger_id),
                by="watched folder",
                keep_unread=True,
                on_read=lambda reading: self._look(reading, logger_id),
            )
        except StilltautError as problem:
            self._ask(path, data, logger_id)
            return f"{problem}\n{WAITS}", ASKED
        return "\n".join(taken.lines()), DONE

    def _logger_of(self, path: Path) -> str:
        known = [one.logger for one in loggers(self._museum.stores.register)]
        if path.parent != self._folder:
            return path.parent.name if path.parent.name in known else ""
        return suggested_logger(self._museum, path.name)[0]

    def _clock_of(self, logger_id: str) -> str | None:
        known = {one.logger: one.zone for one in loggers(self._museum.stores.register)}
        return known.get(logger_id) or None

    def _look(self, reading: FileReading, logger_id: str) -> None:
        """Raise where a person should look at the readings before they are stored."""
        found = doubts(
            self._museum.stores,
            by_logger(reading, logger_id, {}),
            sha256=reading.understanding.sha256,
            now_utc=self._museum.clock(),
            zone=self._museum.zone,
        )
        asked = [doubt.words for doubt in found if doubt.asked]
        if asked:
            raise QuestionError(
                read=reading.understanding.file,
                where="readings",
                found=" ".join(asked),
                expected="readings that nobody needs to look at first",
                action="Look at it and confirm it, or bring in another file.",
            )

    def _ask(self, path: Path, data: Path | bytes, logger_id: str) -> None:
        """Let a file wait for a person, unless it waits already."""
        sha256 = sha256_of(data)
        waiting = jobs_of(self._museum.stores.register, states=OPEN)
        if all(job.arguments.get("sha256") != sha256 for job in waiting):
            receive(self._museum, [(path.name, data)], logger_id)

    def _move(self, path: Path, aside: str, receipt: str) -> None:
        target = self._folder / aside
        make_folder(target)
        name = f"{now_utc():%Y-%m-%dT%H%M%S} {path.name}"
        replace_file(target / f"{name}.receipt.txt", (receipt + "\n").encode())
        os.replace(path, target / name)
        sync_folder(target)
        sync_folder(path.parent)


def _counts(name: str) -> bool:
    return not name.startswith(".") and not name.endswith(UNFINISHED)
