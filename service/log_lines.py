"""The log: one line an event, as text for people or as JSON for a machine, with its request.

Secrets are in no line: requests are logged by the kind of their address, and nothing that was sent
is logged at all.
"""

import json
import logging
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import UTC, datetime

TEXT, JSON = "text", "json"
_number: ContextVar[str] = ContextVar("number of the request", default="")


@contextmanager
def numbered(number: str) -> Iterator[None]:
    """Let every line within say to which request it belongs."""
    token = _number.set(number)
    try:
        yield
    finally:
        _number.reset(token)


class JsonLines(logging.Formatter):
    """One JSON object a line: time, level, where, message, request, and the facts of the line.

    Examples
    --------
    >>> line = logging.LogRecord("a", logging.INFO, "", 0, "taken %s", ("in",), None)
    >>> made = json.loads(JsonLines().format(line))
    >>> made["level"], made["message"]
    ('info', 'taken in')
    """

    def format(self, record: logging.LogRecord) -> str:
        """Return a record as one line."""
        made: dict[str, object] = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "process": record.process,
            "message": record.getMessage(),
        }
        if number := _number.get():
            made["request"] = number
        made |= getattr(record, "facts", {})
        if record.exc_info:
            made["trace"] = self.formatException(record.exc_info)
        return json.dumps(made, ensure_ascii=False, default=str)


def begin_logging(form: str) -> None:
    """Write the log to standard error: warnings as text, or every request too as JSON."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(
        JsonLines() if form == JSON else logging.Formatter("%(levelname)s %(name)s: %(message)s")
    )
    root = logging.getLogger()
    root.handlers[:] = [handler]
    root.setLevel(logging.WARNING)
    logging.getLogger("service").setLevel(logging.INFO if form == JSON else logging.WARNING)
