"""What can go wrong, as a tree.

StilltautError
├── OutOfRangeError        a number lies outside what the quantity can be
├── UnknownNameError       a name is not one of those known; the known ones are listed
└── NotEnoughError         too little data or too few facts to answer

Every error carries the five parts of a useful message: what was read, where, what was found,
what was expected, what to do.
"""

from collections.abc import Callable, Iterable, Mapping
from typing import Any


class StilltautError(Exception):
    """Base of every error this program raises on purpose.

    Parameters
    ----------
    read : str
        What was being read: a file, a table, a form, a function's input.
    where : str
        The place in it: line, column, time, field.
    found : str
        What stood there.
    expected : str
        What should have stood there.
    action : str
        What a person can do about it.

    Examples
    --------
    >>> str(StilltautError(read="north.csv", where="line 7", found="'abc'",
    ...     expected="a number", action="Correct the line and add the file again."))
    "north.csv, line 7: found 'abc', expected a number. Correct the line and add the file again."
    """

    in_words = ""  # the same in a house's language, where somebody has put it into words

    def __init__(self, *, read: str, where: str, found: str, expected: str, action: str) -> None:
        self.read, self.where, self.found = read, where, found
        self.expected, self.action = expected, action
        place = f"{read}, {where}" if where else read
        super().__init__(f"{place}: found {found}, expected {expected}. {action}")

    def __reduce__(self) -> tuple[Callable[..., Any], tuple[Any, ...]]:
        """Return how another process makes the same error of it: with all its parts."""
        return _as_it_was, (type(self), self.args, self.__dict__)


class OutOfRangeError(StilltautError):
    """A number lies outside what the quantity can be."""


class NotEnoughError(StilltautError):
    """Too little data or too few facts to answer."""


class UnknownNameError(StilltautError):
    """A name is not one of those known.

    Parameters
    ----------
    read : str
        The table or form that was asked.
    name : str
        The unknown name.
    known : iterable of str
        The names that exist.
    """

    def __init__(self, *, read: str, name: str, known: Iterable[str]) -> None:
        names = ", ".join(sorted(known))
        super().__init__(
            read=read,
            where="",
            found=f"the name {name!r}",
            expected=f"one of {names}" if names else "a name that exists; none does yet",
            action="Use one of these names, or add a row to the table.",
        )


def _as_it_was(
    kind: type[StilltautError], args: tuple[object, ...], parts: Mapping[str, object]
) -> StilltautError:
    error = kind.__new__(kind, *args)
    error.__dict__.update(parts)
    return error
