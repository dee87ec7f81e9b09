"""A process that finds nothing compiled says to the bit what all later ones say."""

import os
import shutil
import subprocess
import sys
from importlib.resources import files
from pathlib import Path

import pytest

PROGRAM = """
import hashlib
import numpy as np
from analysis.simulation import layout, loop
made = hashlib.sha256()
for works, n in ((2, 200), (3, 20)):
    dice = np.random.default_rng(7)
    fixed, state, hours, k = (
        dice.uniform(0.3, 0.7, shape)
        for shape in (
            (works, len(layout.FIXED), n), (works, len(layout.STATE), n), (400, len(layout.HOUR)),
            len(layout.CONSTANTS),
        )
    )
    sums, ranges = np.zeros((works, 400, len(layout.SUMS))), np.empty((works, 0, 0, 3), np.float32)
    active = np.ones(works, dtype=np.bool_)
    loop.all_works(hours, fixed, state, active, k, sums, ranges)
    made.update(state.tobytes() + sums.tobytes())
print(made.hexdigest())
"""


@pytest.mark.long
def test_what_is_compiled_anew_says_the_same_as_what_was_kept(tmp_path: Path) -> None:
    shutil.copytree(
        str(files("analysis")), tmp_path / "analysis", ignore=shutil.ignore_patterns("*.nb?")
    )
    around = {**os.environ, "PYTHONPATH": str(tmp_path)}
    said = []
    for _ in range(2):
        command = [sys.executable, "-P", "-c", PROGRAM]
        ran = subprocess.run(command, env=around, check=True, capture_output=True, text=True)
        said.append(ran.stdout)
        assert list((tmp_path / "analysis" / "simulation" / "__pycache__").glob("*.nbi"))
    assert said[0] == said[1]
