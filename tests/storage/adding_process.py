"""A process that adds files and is killed while it does; run by test_killed_while_adding.

Reads one JSON command a line: the settings, the file, and when to die: after some seconds, or
at the n-th step that makes something durable. Answers how the adding ended and how long it took.
"""

import json
import os
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sqlalchemy import event

from service.intake.taking_in import finish_received, take_in
from service.settings import load_settings
from service.storage.objects.bucket import Bucket
from service.storage.stores import Stores


def main() -> None:
    for line in sys.stdin:
        command = json.loads(line)
        begin = time.perf_counter()
        child = os.fork()
        if child == 0:
            add(command)
            os._exit(0)
        if command["after_s"] is not None:
            time.sleep(command["after_s"])
            os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        lasted_s = time.perf_counter() - begin
        sys.stdout.write(f"{os.waitstatus_to_exitcode(status)} {lasted_s}\n")
        sys.stdout.flush()


def add(command: dict[str, Any]) -> None:
    steps = Steps(command["at_step"])
    os.replace = steps.before(os.replace)
    os.fsync = steps.before(os.fsync)
    for name in ("put", "place", "remove"):
        setattr(Bucket, name, steps.before(getattr(Bucket, name)))
    with Stores.open(load_settings(command["settings"])) as stores:
        event.listen(stores.register.engine, "commit", steps.before(lambda _: None))
        finish_received(stores)
        file = Path(command["file"])
        take_in(stores, file, name=file.name, logger_id="n1", zone="UTC")


class Steps:
    """Counts the steps that make something durable, and dies before the chosen one."""

    def __init__(self, last: int | None) -> None:
        self.last = last
        self.count = 0

    def before(self, function: Callable[..., Any]) -> Callable[..., Any]:
        def counted(*arguments: Any) -> Any:
            self.count += 1
            if self.count == self.last:
                os.kill(os.getpid(), signal.SIGKILL)
            return function(*arguments)

        return counted


if __name__ == "__main__":
    main()
