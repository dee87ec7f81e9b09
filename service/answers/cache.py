"""Answers kept in memory while what they were made from has not changed: each made once."""

import sys
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any, TypeVar, cast

import numpy as np
import pandas as pd

from service.storage.versions import Stamp

Found = TypeVar("Found")
PLAIN, PLAIN_BYTES = frozenset({float, int, bool, type(None), datetime, timedelta}), 40


class _Answer:
    """One answer, what it rests on, its size, and the lock that lets it be made once."""

    def __init__(self, stamp: Stamp) -> None:
        self.stamp = stamp
        self.lock = threading.RLock()
        self.made = False
        self.value: Any = None
        self.size = 0


class AnswerCache:
    """Answers by name, each thrown away as soon as what it rests on has another number.

    Threads that ask for the same name wait for the one that makes it; those that ask for another
    name do not. What was made while something changed is kept under the older stamp, and made anew
    when it is asked for next. A failure is raised for the thread that made it; those that waited
    try for themselves.

    Parameters
    ----------
    most_bytes : int
        No more than this is kept: what is largest goes first, of equal ones what was asked for
        longest ago. A whole record is soon read again; what was worked out from it is not.

    Examples
    --------
    >>> kept = AnswerCache(most_bytes=2**20)
    >>> kept.get("sum", (("room:north", 1),), lambda: 1 + 1)
    2
    >>> kept.get("sum", (("room:north", 1),), lambda: 3)
    2
    >>> kept.get("sum", (("room:north", 2),), lambda: 3)
    3
    >>> small = AnswerCache(most_bytes=100_000)
    >>> for many in (9_000, 10, 9_000, 10):
    ...     _ = small.get(many, (), lambda many=many: np.zeros(many))
    >>> small.size_bytes < 100_000, small.at_hand(10, ()) is not None
    (True, True)
    """

    def __init__(self, most_bytes: int) -> None:
        self._most_bytes = most_bytes
        self._lock = threading.Lock()
        self._answers: OrderedDict[Hashable, _Answer] = OrderedDict()
        self._bytes = 0

    def get(self, name: Hashable, stamp: Stamp, make: Callable[[], Found]) -> Found:
        """Return what ``make`` gives, from memory while its stamp is the same."""
        answer = self._answer(name, stamp)
        with answer.lock:
            if not answer.made:
                answer.value = make()
                answer.made = True
                self._weigh(name, answer)
            return cast(Found, answer.value)

    def at_hand(self, name: Hashable, stamp: Stamp) -> Any:
        """Return what is kept under a name, or None; never makes it and never waits for it."""
        answer = self._answer(name, stamp)
        return answer.value if answer.made else None

    def forget(self) -> None:
        """Throw everything away; what is being made just now is not kept either."""
        with self._lock:
            self._answers, self._bytes = OrderedDict(), 0

    @property
    def size_bytes(self) -> int:
        """How much is kept, as far as it can be told."""
        return self._bytes

    def _answer(self, name: Hashable, stamp: Stamp) -> _Answer:
        """Return the answer of that name at a stamp, made or not."""
        with self._lock:
            answer = self._answers.get(name)
            if answer is None or answer.stamp != stamp:
                self._bytes -= 0 if answer is None else answer.size
                answer = self._answers[name] = _Answer(stamp)
            self._answers.move_to_end(name)
            return answer

    def _weigh(self, name: Hashable, answer: _Answer) -> None:
        size = size_of(answer.value)
        with self._lock:
            if self._answers.get(name) is not answer:
                return
            answer.size = size
            self._bytes += size
            self._give_way(self._most_bytes, answer)

    def keep_no_more_than(self, most_bytes: int) -> None:
        """Throw answers away until what is kept is no more than this; more may be kept later."""
        with self._lock:
            self._give_way(most_bytes)

    def _give_way(self, most_bytes: int, but: _Answer | None = None) -> None:
        while self._bytes > most_bytes:
            others = [key for key, one in self._answers.items() if one.size and one is not but]
            if not others:
                return
            largest = max(others, key=lambda key: self._answers[key].size)
            self._bytes -= self._answers.pop(largest).size


def size_of(value: object) -> int:
    """Return about how many bytes of memory a value holds; what it holds twice counts once.

    Examples
    --------
    >>> import numpy as np
    >>> size_of((np.zeros(1000), np.zeros(1000))) >= 16000
    True
    """
    seen: set[int] = set()
    size, waiting = 0, [value]
    while waiting:
        one = waiting.pop()
        if type(one) in PLAIN:  # most of what there is: to look each up would cost more
            size += PLAIN_BYTES
            continue
        if id(one) in seen:
            continue
        seen.add(id(one))
        size += _own_size(one)
        waiting += _parts(one)
    return size


def _own_size(value: object) -> int:
    if isinstance(value, np.ndarray):
        return sys.getsizeof(value) if value.base is None else 0
    if isinstance(value, pd.DataFrame | pd.Series | pd.Index):
        deep = value.memory_usage(deep=True)
        return int(deep if isinstance(deep, int) else deep.sum())
    return sys.getsizeof(value)


def _parts(value: object) -> Iterable[object]:
    if isinstance(value, np.ndarray):
        return () if value.base is None else (value.base,)
    if isinstance(value, Mapping):
        return (*value.keys(), *value.values())
    if isinstance(value, list | tuple | set | frozenset):
        return tuple(value)
    names = getattr(value, "__dataclass_fields__", ())
    return tuple(getattr(value, name) for name in names)
