"""A process that serves a museum and is killed while it does; see `bench.kills`.

Reads one JSON command a line: the data folder, the port, the watched folder. Serves in a child of
its own, so that a start costs no imports, and writes the child's number; ends with its input.
"""

import json
import os
import sys
from pathlib import Path
from typing import Any

import uvicorn

from service.settings import Settings
from service.web.app import create_app


def main() -> None:
    for line in sys.stdin:
        command = json.loads(line)
        child = os.fork()
        if child == 0:
            serve(command)
            os._exit(0)
        sys.stdout.write(f"{child}\n")
        sys.stdout.flush()
        os.waitpid(child, 0)
        sys.stdout.write("gone\n")
        sys.stdout.flush()


def serve(command: dict[str, Any]) -> None:
    settings = Settings(data_dir=Path(command["data"]), watch_dir=command["watched"], draws=20)
    uvicorn.run(
        create_app(settings), port=command["port"], log_level="warning", proxy_headers=False
    )


if __name__ == "__main__":
    main()
