"""Derived results, kept so that they need not be computed twice. May be deleted at any time.

``DATA/results/name.npz`` holds arrays and plain values together with the key of the inputs they
were made from; asked for with another key, or unreadable, they count as not there. A file appears
whole or not at all while the machine runs. It is not synced: what a power cut tears fails its
checksum, counts as not there and is computed again.
"""

import io
import json
import os
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote

import numpy as np
import numpy.typing as npt

from service.storage.durable import PART, locked, unwritable

FACTS = "__facts__"


@dataclass(frozen=True)
class Result:
    """Arrays and plain values that belong together."""

    arrays: Mapping[str, npt.NDArray[Any]] = field(default_factory=dict)
    facts: Mapping[str, Any] = field(default_factory=dict)


class Results:
    """The folder of results.

    Parameters
    ----------
    folder : pathlib.Path
        ``DATA/results``; made with the first result.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def save(self, name: str, inputs: str, result: Result) -> None:
        """Keep a result under a name, in place of the earlier one. Many may save at once.

        Parameters
        ----------
        name : str
            Parts separated by "/", for example ``checkpoints/work-7/2026-W11``.
        inputs : str
            Key of everything it was computed from: digests of months, the work, the release.
        """
        text = json.dumps({"inputs": inputs, "facts": result.facts}, ensure_ascii=False)
        out = io.BytesIO()
        np.savez(out, **{FACTS: np.frombuffer(text.encode(), "u1")}, **result.arrays)  # type: ignore[arg-type]
        path = self._path(name)
        part = self.folder / ("incoming" + PART)  # only who holds the lock touches it
        with locked(self.folder / ".lock"):
            try:
                path.parent.mkdir(parents=True, exist_ok=True)
                part.write_bytes(out.getvalue())
                os.replace(part, path)
            except OSError as problem:
                raise unwritable(path.parent, problem) from problem

    def load(self, name: str, inputs: str) -> Result | None:
        """Return the result of that name if it was made from these inputs, else None."""
        try:
            with self._path(name).open("rb") as file, np.load(file, allow_pickle=False) as stored:
                head = json.loads(stored[FACTS].tobytes())
                if head["inputs"] != inputs:
                    return None
                arrays = {key: stored[key] for key in stored.files if key != FACTS}
        except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
            return None
        return Result(arrays, head["facts"])

    def names(self, under: str = "") -> list[str]:
        """Return the names of all results, or of those below a first part."""
        folder = self.folder / _quoted(under) if under else self.folder
        found = (path.relative_to(self.folder).with_suffix("") for path in folder.rglob("*.npz"))
        return sorted(unquote(path.as_posix()) for path in found)

    def names_in(self, folder: str) -> list[str]:
        """Return the last parts of the names that have one part more than ``folder``."""
        found = (self.folder / _quoted(folder)).glob("*.npz")
        return sorted(unquote(path.stem) for path in found)

    def forget(self, name: str) -> None:
        """Remove a result, if it is there."""
        self._path(name).unlink(missing_ok=True)

    def _path(self, name: str) -> Path:
        return self.folder / (_quoted(name) + ".npz")


def _quoted(name: str) -> str:
    parts = (quote(part, safe=" ") for part in name.split("/"))
    return "/".join(part.replace(".", "%2E") if set(part) <= {"."} else part for part in parts)
