"""Turns that houses take: not all of them work something out in the background at once."""

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

LENT_S = 300.0


class Turns:
    """So many at once go on; whoever takes longer than `LENT_S` no longer counts.

    So a house whose database is silent holds the others up for that long and no longer.

    Parameters
    ----------
    many : int
        How many go on at once.
    lent_s : float
        For how long a turn counts [s].

    Examples
    --------
    >>> turns = Turns(1, lent_s=0.5)
    >>> with turns.waited_for(), turns.if_free() as free:
    ...     free
    False
    >>> with turns.waited_for(), turns.waited_for():  # the first has had its time
    ...     print("both")
    both
    """

    def __init__(self, many: int, lent_s: float = LENT_S) -> None:
        self._many, self._lent_s = many, lent_s
        self._begun: dict[object, float] = {}
        self._changed = threading.Condition()

    @contextmanager
    def waited_for(self) -> Iterator[None]:
        """Go on once there is a turn."""
        mine = object()
        with self._changed:
            while not self._take(mine):
                self._changed.wait(min(1.0, self._lent_s))
        try:
            yield
        finally:
            self._give_back(mine)

    @contextmanager
    def if_free(self) -> Iterator[bool]:
        """Take a turn if there is one now; say whether there was."""
        mine = object()
        with self._changed:
            taken = self._take(mine)
        try:
            yield taken
        finally:
            self._give_back(mine)

    def _take(self, mine: object) -> bool:
        now = time.monotonic()
        free = sum(now - at < self._lent_s for at in self._begun.values()) < self._many
        if free:
            self._begun[mine] = now
        return free

    def _give_back(self, mine: object) -> None:
        with self._changed:
            self._begun.pop(mine, None)
            self._changed.notify()
