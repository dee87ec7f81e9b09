"""What libraries take from the environment when they are first imported; so this comes before them.

Where compiled code and lists of fonts are kept: never in the data folder, never needed; one library
refuses to begin where it finds no folder. And how threads wait for each other: asleep, for the
loop over works is short and often run, and threads that spin keep everybody else from the
processor.
"""

import atexit
import os
import shutil
import tempfile
from collections.abc import MutableMapping
from importlib.util import find_spec
from pathlib import Path

OWN = "STILLTAUT_CACHE_DIR"
COMPILED, FONTS = "NUMBA_CACHE_DIR", "MPLCONFIGDIR"  # by the libraries that keep them
WAITING = "OMP_WAIT_POLICY"  # OpenMP API 5.0, 6.7


def settle(environment: MutableMapping[str, str] = os.environ) -> None:
    """Name the folder set for it, or a temporary one where there is no other.

    Without either, compiled code stays beside the program, or in the user's cache folder.
    """
    environment.setdefault(WAITING, "passive")
    folder = environment.get(OWN, "")
    if not folder:
        if COMPILED in environment or _beside_the_program() or _of_the_user(environment):
            return
        folder = tempfile.mkdtemp(prefix="stilltaut-cache-")
        atexit.register(shutil.rmtree, folder, ignore_errors=True)
    for name, part in ((COMPILED, "compiled"), (FONTS, "fonts")):
        if name not in environment:
            made = Path(folder) / part
            made.mkdir(parents=True, exist_ok=True)
            environment[name] = str(made)


def _beside_the_program() -> bool:
    found = find_spec("analysis")
    places = found.submodule_search_locations if found else None
    return bool(places) and all(os.access(place, os.W_OK) for place in places or ())


def _of_the_user(environment: MutableMapping[str, str]) -> bool:
    home = environment.get("XDG_CACHE_HOME") or environment.get("HOME", "")
    return bool(home) and os.access(home, os.W_OK)
