"""Answers kept in memory while nothing has changed: each made once, while all others go on."""

import threading
from collections.abc import Callable, Hashable
from typing import Any, TypeVar, cast

Found = TypeVar("Found")


class _Answer:
    """One answer, and the lock that lets it be made once."""

    def __init__(self) -> None:
        self.lock = threading.RLock()
        self.made = False
        self.value: Any = None


class Kept:
    """Answers by name, all thrown away as soon as the version is another.

    Threads that ask for the same name wait for the one that makes it; those that ask for another
    name do not. What was made while the version changed is given out, and not kept. A failure is
    raised for the thread that made it; those that waited try for themselves.

    Parameters
    ----------
    version : callable
        Returns a number that grows with every change to what answers are made from.
    most : int
        More answers than this are not kept: all are thrown away then.

    Examples
    --------
    >>> kept = Kept(lambda: 1)
    >>> kept.get("sum", lambda: 1 + 1), kept.get("sum", lambda: 3)
    (2, 2)
    """

    def __init__(self, version: Callable[[], int], most: int = 400) -> None:
        self._version_now, self._most = version, most
        self._lock = threading.Lock()
        self._version = -1
        self._answers: dict[Hashable, _Answer] = {}

    def get(self, name: Hashable, make: Callable[[], Found]) -> Found:
        """Return what ``make`` gives, from memory while nothing has changed since."""
        answer = self._answer(name)
        with answer.lock:
            if not answer.made:
                answer.value = make()
                answer.made = True
            return cast(Found, answer.value)

    def at_hand(self, name: Hashable) -> Any:
        """Return what is kept under a name, or None; never makes it and never waits for it."""
        answer = self._answer(name)
        return answer.value if answer.made else None

    def forget(self) -> None:
        """Throw everything away; what is being made just now is not kept either."""
        with self._lock:
            self._answers = {}

    def _answer(self, name: Hashable) -> _Answer:
        """Return the answer of that name at the present version, made or not."""
        with self._lock:
            version = self._version_now()
            if version != self._version or len(self._answers) > self._most:
                self._answers, self._version = {}, version
            return self._answers.setdefault(name, _Answer())
