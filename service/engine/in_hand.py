"""Items taken in hand by threads, a few at once, and given back in order."""

from collections import deque
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextvars import ContextVar, copy_context
from itertools import islice
from typing import TypeVar

Found = TypeVar("Found")
Item = TypeVar("Item")
_in_hand = ContextVar("in hand", default=False)


def in_threads(
    function: Callable[[Item], Found], items: Sequence[Item], count: int
) -> Generator[Found, None, None]:
    """Yield what a function makes of each item, in order; so many are in hand at once.

    Within an item that is in hand the next waits for the one before.
    """
    if _in_hand.get():
        yield from map(function, items)
        return
    with ThreadPoolExecutor(count, "ahead") as threads:
        following = iter(items)

        def begin(many: int) -> Iterator[Future[Found]]:
            for item in islice(following, many):
                yield threads.submit(copy_context().run, _taken_in_hand, function, item)

        waiting = deque(begin(count))
        try:
            while waiting:
                found = waiting.popleft().result()
                waiting += begin(1)
                yield found
        finally:
            for one in waiting:
                one.cancel()


def _taken_in_hand(function: Callable[[Item], Found], item: Item) -> Found:
    _in_hand.set(True)
    return function(item)
