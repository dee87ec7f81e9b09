"""Single precision: compiled functions of the chain, rebuilt so that no number in them is wider.

A processor handles twice as many numbers of 32 bits at a time as of 64. Numba takes each number
written in a function for one of 64 bits, and with it whatever it meets. Therefore a function that
is to run in single precision is read, its written numbers are given 32 bits, and so it goes on
through all it calls. There is one text of the physics; both precisions come from it.
"""

import inspect
import io
import textwrap
import tokenize
from collections.abc import Callable
from functools import cache
from typing import Any, TypeVar, cast

import numpy as np

from analysis.chain.compiled import part, written_out

Function = TypeVar("Function", bound=Callable[..., object])
SINGLE = "_single"


def in_single(function: Function) -> Function:
    """Return a compiled function, with all it calls, for numbers of 32 bits.

    Parameters
    ----------
    function : callable
        Marked `part`, `compiled` or `written_out` in `analysis.chain.compiled`. Numbers that reach
        it as arguments, in arrays too, keep the precision they come in.
    """
    return cast(Function, _in_single(function))


@cache
def _in_single(function: Any) -> Any:
    plain = function.py_func
    words = _words_narrowed(textwrap.dedent(inspect.getsource(plain)))
    names = {text for kind, text in words if kind == tokenize.NAME} - {plain.__name__}
    around = {
        name: _narrowed(value) if name in names else value
        for name, value in plain.__globals__.items()
    }
    around[SINGLE] = np.float32
    text = tokenize.untokenize(words)
    exec(compile(text, plain.__code__.co_filename, "exec"), around)  # the same text, read above
    again = written_out if function.targetoptions.get("inline") == "always" else part
    return again(around[plain.__name__])


def _words_narrowed(source: str) -> list[tuple[int, str]]:
    """Return the words of a function, without decorators, its numbers with a point given 32 bits.

    Word by word: Python 3.11 may raise an error in one thread that reads arrays (NumPy parses their
    headings) while another takes a text apart into a tree.

    Examples
    --------
    >>> words = _words_narrowed("@part" + chr(10) + "def half(x): return 0.5 * x + 1")
    >>> tokenize.untokenize(words).strip()
    'def half (x ):return _single (0.5 )*x +1'
    """
    words: list[tuple[int, str]] = []
    for word in tokenize.generate_tokens(io.StringIO(source).readline):
        if not words and word.string != "def":
            continue
        if word.type == tokenize.NUMBER and not word.string.isdigit():
            words += [(tokenize.NAME, SINGLE), (tokenize.OP, "("), word[:2], (tokenize.OP, ")")]
        else:
            words.append(word[:2])
    return words


def _narrowed(value: Any) -> Any:
    """Return what a function finds under a name, as it has it in single precision."""
    if isinstance(value, float):
        return np.float32(value)
    if isinstance(value, tuple) and value and all(isinstance(one, float) for one in value):
        return tuple(np.float32(one) for one in value)
    return _in_single(value) if hasattr(value, "py_func") else value
