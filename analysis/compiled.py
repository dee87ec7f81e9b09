"""Compilation of the physics: the same plain functions for tests, fits and the estimator's loop."""

from collections.abc import Callable
from typing import TypeVar, cast

from numba import njit

Function = TypeVar("Function", bound=Callable[..., object])
# Sums may be reordered so that draws are handled side by side; NaN and infinity keep their meaning.
ALLOWED = {"reassoc", "nsz", "arcp", "contract"}


def compiled(function: Function) -> Function:
    """Compile a function of numbers (decorator); the result is kept on disk between runs."""
    return cast(Function, njit(cache=True, error_model="numpy", fastmath=ALLOWED)(function))


def written_out(function: Function) -> Function:
    """Compile a function into each of its callers (decorator): its rows become constants there."""
    inlined = njit(error_model="numpy", fastmath=ALLOWED, inline="always")
    return cast(Function, inlined(function))


def compiled_parallel(function: Function) -> Function:
    """Compile a loop over works, shared out to all cores (decorator)."""
    kept = njit(cache=True, error_model="numpy", fastmath=ALLOWED, parallel=True)
    return cast(Function, kept(function))
