"""``python -m bench`` runs every module of this folder that has a function ``run``.

``python -m bench dew_points`` runs the named ones.
"""

import importlib
import pkgutil
import sys
from pathlib import Path


def main(names: list[str]) -> None:
    """Print the lines of each benchmark."""
    known = sorted(module.name for module in pkgutil.iter_modules([str(Path(__file__).parent)]))
    for name in names or known:
        if name == "__main__":
            continue
        module = importlib.import_module(f"bench.{name}")
        run = getattr(module, "run", None)
        if run is not None and run.__module__ == module.__name__:  # not one it imported
            for line in run():
                print(line, flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
