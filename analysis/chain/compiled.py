"""Compilation of the physics: the same plain functions for tests, fits and the estimator's loop.

Compiled code is kept on disk, so that only a fresh machine waits for it. What is kept is looked up
by the function's own file. Therefore a function marked `compiled` calls only functions of its own
file; one that calls further is a `part`, compiled anew into whatever calls it; and the loop over
works, which contains them all, carries the digest of all their sources in its own key.
"""

import os
import subprocess
import sys
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from functools import wraps
from hashlib import sha256
from importlib.resources import files
from typing import Any, TypeVar, cast

from numba import get_num_threads, njit, set_num_threads
from numba.core.registry import cpu_target

Function = TypeVar("Function", bound=Callable[..., object])
# Sums may be reordered so that draws are handled side by side; NaN and infinity keep their meaning.
ALLOWED = {"reassoc", "nsz", "arcp", "contract"}
# Not every pool of threads that numba may find on a machine bears two callers at once.
_pool = threading.Lock()
APART = "STILLTAUT_COMPILES"  # set for the process that compiles
# Threads that have nothing to do sleep: those that spin take other programs, and this one, a core.
os.environ.setdefault("OMP_WAIT_POLICY", "passive")


def compiled(function: Function) -> Function:
    """Compile a function that calls only its own file (decorator); kept on disk."""
    return cast(Function, njit(cache=True, error_model="numpy", fastmath=ALLOWED)(function))


def part(function: Function) -> Function:
    """Compile a function that calls other files' (decorator); not kept by itself."""
    return cast(Function, njit(error_model="numpy", fastmath=ALLOWED)(function))


def written_out(function: Function) -> Function:
    """Compile a function into each of its callers (decorator): its rows become constants there."""
    inlined = njit(error_model="numpy", fastmath=ALLOWED, inline="always")
    return cast(Function, inlined(function))


def compiled_parallel(module: str) -> Callable[[Function], Function]:
    """Compile a loop over works, shared out to all cores (decorator); one caller at a time.

    Kept on disk. Where a process compiles it, it runs parts of it that come to other last digits
    than what it keeps. So that all processes agree, it is compiled in one of its own, by
    ``compile_now`` of a module, and read back.
    """

    def decorated(function: Function) -> Function:
        options = {"cache": True, "error_model": "numpy", "fastmath": ALLOWED, "parallel": True}
        kept: Any = njit(**options)(function)  # type: ignore[call-overload]

        @wraps(function)
        def one_at_a_time(*values: object) -> object:
            with _pool:
                if not kept.signatures and not _is_kept(kept, values):
                    _compiled_apart(module)
                return kept(*values)

        return cast(Function, one_at_a_time)

    return decorated


def _is_kept(kept: Any, values: Iterable[object]) -> bool:
    """Whether a loop is on disk for numbers of these kinds."""
    kinds = tuple(map(kept.typeof_pyval, values))
    key = kept._cache._index_key(kinds, kept.targetctx.codegen())
    return kept._cache._cache_file.load(key) is not None


def _compiled_apart(module: str) -> None:
    """Compile a module's loops in another process; where that fails, they are compiled here."""
    if os.environ.get(APART):
        return
    program = f"from {module} import compile_now; compile_now()"
    around = {**os.environ, APART: "yes", "PYTHONPATH": os.pathsep.join(sys.path)}
    command = [sys.executable, "-P", "-c", program]  # not from the folder in which it stands
    subprocess.run(command, env=around, check=False, capture_output=True)


def target() -> tuple[str, str]:
    """Return for which processor, and with which of its instructions, functions are compiled.

    That of this machine, or what ``NUMBA_CPU_NAME`` and ``NUMBA_CPU_FEATURES`` say. Sums whose
    order is free come to other last digits on another.
    """
    kind, name, features = cpu_target.target_context.codegen().magic_tuple()
    return f"{name} ({kind})", str(features)


@contextmanager
def threads_for(works: int) -> Iterator[None]:
    """Run a loop over works on no more threads than there are works: others would only spin.

    It holds for the calling thread alone, and what it could use before is restored.
    """
    before = get_num_threads()
    set_num_threads(min(max(works, 1), before))
    try:
        yield
    finally:
        set_num_threads(before)


def sources_digest(modules: Iterable[str]) -> int:
    """Return a number that changes with the source of any of these modules of `analysis`.

    Examples
    --------
    >>> sources_digest(["chain.cockle"]) == sources_digest(["chain.cockle"])
    True
    """
    digest = sha256()
    for name in modules:
        digest.update(files("analysis").joinpath(f"{name.replace('.', '/')}.py").read_bytes())
    return int.from_bytes(digest.digest()[:7], "big")
