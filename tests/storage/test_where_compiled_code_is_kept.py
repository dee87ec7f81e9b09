"""An install that cannot be written to, and nobody's home folder."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from service import compiled_cache

PROGRAM = Path(compiled_cache.__file__).parents[1]


def bound_by_permissions() -> list[str]:
    """Return what makes a command heed permissions, which root otherwise does not."""
    if os.getuid() != 0:
        return []
    if shutil.which("setpriv") is None:
        pytest.skip("running as root, and there is no setpriv (util-linux) to give its rights up")
    return ["setpriv", "--bounding-set=-dac_override,-dac_read_search"]


def test_a_folder_that_is_set_is_used_for_all_that_is_kept(tmp_path: Path) -> None:
    environment = {compiled_cache.OWN: str(tmp_path / "cache")}
    compiled_cache.settle(environment)
    kept = [environment[compiled_cache.COMPILED], environment[compiled_cache.FONTS]]
    assert [Path(one).parent for one in kept] == [tmp_path / "cache"] * 2
    assert environment[compiled_cache.WAITING] == "passive"
    compiled_cache.settle(asked := {compiled_cache.WAITING: "active"})
    assert asked[compiled_cache.WAITING] == "active"
    assert all(Path(one).is_dir() for one in kept)


@pytest.mark.parametrize("with_folder", [True, False])
def test_the_program_begins_where_nothing_of_it_can_be_written(
    tmp_path: Path, with_folder: bool
) -> None:
    place, cache = tmp_path / "program", tmp_path / "cache"
    left_out = shutil.ignore_patterns("__pycache__")
    for package in ("analysis", "dashboards", "service"):
        shutil.copytree(PROGRAM / package, place / package, ignore=left_out)
    cache.mkdir()
    for folder in [place, *(one for one in place.rglob("*") if one.is_dir())]:
        folder.chmod(0o555)
    environment = {
        "PATH": os.environ["PATH"], "PYTHONPATH": str(place), "HOME": "/nonexistent",
        "TMPDIR": str(cache), "PYTHONDONTWRITEBYTECODE": "1",
    } | ({"STILLTAUT_CACHE_DIR": str(cache / "own")} if with_folder else {})  # fmt: skip
    # What is compiled finds its folder, or refuses, when it is imported; compiling it takes long.
    begin = "import os; from service import compiled_cache; compiled_cache.settle(); "
    begin += "import analysis.simulation.estimator as begun; "
    begin += "print(begun.__file__, os.environ['NUMBA_CACHE_DIR'])"
    ran = subprocess.run(
        [*bound_by_permissions(), sys.executable, "-c", begin],
        env=environment, cwd="/", capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert ran.returncode == 0, ran.stderr
    program, compiled = ran.stdout.split()
    assert program.startswith(str(place))
    assert compiled.startswith(str(cache))
    assert (cache / "own" / "compiled").is_dir() is with_folder
    assert with_folder or not list(cache.iterdir())  # a temporary folder goes with its process
