"""Cells that a spreadsheet would take for a formula: marked when written, unmarked when read."""

import re

MARK = "'"
# What begins a formula for one spreadsheet or another, behind any marks that stand there already.
_FORMULA = re.compile(r"'*[=+\-@\t\r]")
_ONE = r"[+-]?[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?"
_NUMBER = re.compile(rf"{_ONE}(?: to {_ONE})?")


def marked(cell: str) -> str:
    """Return a cell that is read as text by a spreadsheet; numbers and ranges stay as they are.

    Examples
    --------
    >>> print(marked("=1+1"), marked("-5.2"), marked("-5 to 3"), marked("wall 2"), sep=", ")
    '=1+1, -5.2, -5 to 3, wall 2
    """
    risky = _FORMULA.match(cell) and not _NUMBER.fullmatch(cell)
    return MARK + cell if risky else cell


def unmarked(cell: str) -> str:
    """Return a cell as it was before `marked`.

    Examples
    --------
    >>> unmarked("'=1+1"), unmarked("'tis")
    ('=1+1', "'tis")
    """
    return cell[1:] if cell.startswith(MARK) and _FORMULA.match(cell) else cell
