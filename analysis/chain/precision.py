"""Single precision: compiled functions of the chain, rebuilt so that no number in them is wider.

A processor handles twice as many numbers of 32 bits at a time as of 64. Numba takes each number
written in a function for one of 64 bits, and with it whatever it meets. Therefore a function that
is to run in single precision is read, its written numbers are given 32 bits, and so it goes on
through all it calls. There is one text of the physics; both precisions come from it.
"""

import ast
import inspect
import textwrap
from collections.abc import Callable
from functools import cache
from typing import Any, TypeVar, cast

import numpy as np

from analysis.chain.compiled import part, written_out

Function = TypeVar("Function", bound=Callable[..., object])
SINGLE = "_single"


class _WrittenNumbers(ast.NodeTransformer):
    """Give every number that is written with a point 32 bits."""

    def visit_Constant(self, node: ast.Constant) -> ast.expr:
        """Wrap one written number."""
        if not isinstance(node.value, float):
            return node
        return ast.copy_location(ast.Call(ast.Name(SINGLE, ast.Load()), [node], []), node)


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
    tree = ast.parse(textwrap.dedent(inspect.getsource(plain)))
    definition = cast(ast.FunctionDef, tree.body[0])
    definition.decorator_list, definition.returns = [], None
    for argument in definition.args.args:
        argument.annotation = None
    tree = ast.fix_missing_locations(_WrittenNumbers().visit(tree))
    names = {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)}
    around = {
        name: _narrowed(value) if name in names else value
        for name, value in plain.__globals__.items()
    }
    around[SINGLE] = np.float32
    exec(compile(tree, plain.__code__.co_filename, "exec"), around)  # the same text, read above
    again = written_out if function.targetoptions.get("inline") == "always" else part
    return again(around[plain.__name__])


def _narrowed(value: Any) -> Any:
    """Return what a function finds under a name, as it has it in single precision."""
    if isinstance(value, float):
        return np.float32(value)
    if isinstance(value, tuple) and value and all(isinstance(one, float) for one in value):
        return tuple(np.float32(one) for one in value)
    return _in_single(value) if hasattr(value, "py_func") else value
