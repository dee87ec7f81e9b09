"""A process that adds files or restores archives and is killed while it does.

Reads one JSON command a line: the settings, the file or the archive, and when to die: after some
seconds, or at the n-th step that makes something durable. Answers how that ended, and how long it
took.
"""

import json
import os
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, event

from service.intake.taking_in import finish_received, take_in
from service.register.restore import restore_into
from service.settings import load_settings
from service.storage.objects.bucket import Bucket
from service.storage.stores import Stores


def main() -> None:
    for line in sys.stdin:
        command = json.loads(line)
        begin = time.perf_counter()
        child = os.fork()
        if child == 0:
            steps = Steps(command["at_step"])
            add(command, steps) if "file" in command else restore(command, steps)
            os._exit(0)
        if command["after_s"] is not None:
            time.sleep(command["after_s"])
            os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        lasted_s = time.perf_counter() - begin
        sys.stdout.write(f"{os.waitstatus_to_exitcode(status)} {lasted_s}\n")
        sys.stdout.flush()


def add(command: dict[str, Any], steps: "Steps") -> None:
    os.replace = steps.before(os.replace)
    os.fsync = steps.before(os.fsync)
    steps.count_in_a_bucket()
    with Stores.open(load_settings(command["settings"])) as stores:
        event.listen(stores.register.engine, "commit", steps.before(lambda _: None))
        finish_received(stores)
        file = Path(command["file"])
        take_in(stores, file, name=file.name, logger_id="n1", zone="UTC")


def restore(command: dict[str, Any], steps: "Steps") -> None:
    os.replace = steps.before(os.replace)
    steps.count_in_a_bucket()
    event.listen(Engine, "commit", steps.before(lambda _: None))
    restore_into(load_settings(command["settings"]), Path(command["archive"]))


class Steps:
    """Counts the steps that make something durable, and dies before the chosen one."""

    def __init__(self, last: int | None) -> None:
        self.last = last
        self.count = 0

    def count_in_a_bucket(self) -> None:
        for name in ("put", "place", "remove"):
            setattr(Bucket, name, self.before(getattr(Bucket, name)))

    def before(self, function: Callable[..., Any]) -> Callable[..., Any]:
        def counted(*arguments: Any) -> Any:
            self.count += 1
            if self.count == self.last:
                os.kill(os.getpid(), signal.SIGKILL)
            return function(*arguments)

        return counted


if __name__ == "__main__":
    main()
