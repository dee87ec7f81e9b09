"""Whether a register is as it was: one light look, for what was read while it was the same.

SQLite counts what other connections have written (``PRAGMA data_version``); PostgreSQL names the
transactions that count (``pg_current_snapshot``). Where either says the same as before, nothing
that was read before can have changed.
"""

import contextlib
import threading
from collections.abc import Hashable
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy.engine import Engine
from sqlalchemy.exc import DBAPIError

LOOKS = {
    "sqlite": "PRAGMA data_version",
    "postgresql": "SELECT CAST(pg_current_snapshot() AS text)",
}
IN_MEMORY = (None, "", ":memory:")


@dataclass
class Moment:
    """What was read of one state of a register, by name."""

    known: dict[Hashable, Any] = field(default_factory=dict)


class RegisterState:
    """Looks whether a register is still as it was.

    Parameters
    ----------
    engine : sqlalchemy.Engine
        Its database. A connection of its own is held, on which nothing is ever written.
    """

    def __init__(self, engine: Engine) -> None:
        self._engine, kind = engine, engine.dialect.name
        # A database in memory has no other connection that could see what the first one writes.
        seen = kind != "sqlite" or engine.url.database not in IN_MEMORY
        self._look = LOOKS.get(kind, "") if seen else ""
        self._lock = threading.Lock()
        self._connection: Any = None  # the driver's own: outside any transaction
        self._seen: object = None
        self._known: dict[Hashable, Any] = {}

    @property
    def at_hand(self) -> bool:
        """Whether a look waits for no other machine."""
        return self._engine.dialect.name == "sqlite"

    def moment(self) -> Moment:
        """Return what is known of the register as it stands now; nothing where it has changed."""
        if not self._look:
            return Moment()
        with self._lock:
            try:
                now = self._looked()
            except (DBAPIError, self._engine.dialect.loaded_dbapi.Error):
                self._let_go()
                return Moment()  # what is asked of the register itself will tell
            if now != self._seen:
                self._seen, self._known = now, {}
            return Moment(self._known)

    def close(self) -> None:
        """Let the connection go."""
        with self._lock:
            self._let_go()

    def _looked(self) -> object:
        if self._connection is None:
            self._connection = self._connected()
        with contextlib.closing(self._connection.cursor()) as cursor:
            cursor.execute(self._look)
            return cursor.fetchone()[0]

    def _connected(self) -> Any:
        lent = self._engine.raw_connection()
        if self.at_hand:
            lent.cursor().execute("PRAGMA busy_timeout=0")
        else:
            lent.driver_connection.autocommit = True  # type: ignore[union-attr]
        lent.detach()  # no other request is ever given it
        return lent

    def _let_go(self) -> None:
        if self._connection is not None:
            with contextlib.suppress(self._engine.dialect.loaded_dbapi.Error):
                self._connection.close()
        # Another connection counts from another number.
        self._connection, self._seen, self._known = None, None, {}
