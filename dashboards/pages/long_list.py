"""A long list page by page: which part of it is shown, and where the parts before and after are."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from dashboards.text.messages import _
from dashboards.text.wording import number

A_PAGE = 50


@dataclass(frozen=True)
class Leaf:
    """One part of a long list: the entries from ``after`` up to ``until`` of ``total``.

    ``before`` and ``next`` are the addresses of the parts beside it, or "".
    """

    after: int
    until: int
    total: int
    before: str = ""
    next: str = ""

    @property
    def words(self) -> str:
        """What is shown of how many; empty where that is all."""
        if self.after == 0 and self.until == self.total:
            return ""
        first, last, total = (number(n) for n in (self.after + 1, self.until, self.total))
        return _("{first}–{last} of {total}", first=first, last=last, total=total)


def leaf(total: int, after: int, address: Callable[[int], str], many: int = A_PAGE) -> Leaf:
    """Return the part of a list that begins after so many entries.

    Examples
    --------
    >>> part = leaf(120, 50, "/works?after={}".format)
    >>> part.words, part.before, part.next
    ('51–100 of 120', '/works?after=0', '/works?after=100')
    >>> leaf(3, 0, str).words
    ''
    """
    return leaf_at([*range(0, total, many), total], after, address)


def leaf_at(bounds: Sequence[int], after: int, address: Callable[[int], str]) -> Leaf:
    """Return the part that holds the entry after so many, the last one where there is none.

    Parameters
    ----------
    bounds : sequence of int
        How many entries stand before each part, then how many there are.
    address : callable
        How many entries to pass over → the address of what follows.
    """
    spans = [*pairwise(bounds)] or [(0, 0)]
    here = max((n for n, (first, _last) in enumerate(spans) if first <= after), default=0)
    first, last = spans[here]
    return Leaf(
        first,
        last,
        bounds[-1] if bounds else 0,
        address(spans[here - 1][0]) if here else "",
        address(last) if here + 1 < len(spans) else "",
    )


def whole_groups(sizes: Sequence[int], many: int = A_PAGE) -> list[int]:
    """Return the bounds of parts that keep groups whole and hold about so many entries.

    Examples
    --------
    >>> whole_groups([30, 15, 20, 80, 5], 50)
    [0, 45, 65, 145, 150]
    >>> whole_groups([], 50)
    [0]
    """
    bounds, reached = [0], 0
    for size in sizes:
        if reached > bounds[-1] and reached + size - bounds[-1] > many:
            bounds.append(reached)
        reached += size
    return [*bounds, reached] if reached else bounds
