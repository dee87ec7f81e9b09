"""The wheel alone, in an environment of its own, from another folder.

What it depends on is not installed anew, which would take a minute: the environment sees the
packages of the one that runs the tests, and what the wheel declares is compared with its imports.
"""

import ast
import json
import os
import re
import shutil
import subprocess
import sys
import sysconfig
import venv
import zipfile
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[2]
OWN = ("analysis", "dashboards", "service", "sample_logs")
# Imported only where they are installed: a driver for a database by address, and worker processes.
OPTIONAL = {"psycopg", "dask", "distributed"}
DRAWS = "20"


def run(*arguments: str | Path, cwd: Path) -> str:
    environment = {k: v for k, v in os.environ.items() if k not in ("PYTHONPATH", "VIRTUAL_ENV")}
    environment["STILLTAUT_DRAWS"] = DRAWS
    done = subprocess.run(
        [str(a) for a in arguments],
        cwd=cwd,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode in (0, 1), done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="session")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    work = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "build", "--wheel", "--no-isolation", "-o", work, ROOT, cwd=work)
    return next(work.glob("*.whl"))


@pytest.fixture(scope="session")
def installed(wheel: Path) -> Path:
    """Bin folder of an environment that holds the wheel, and sees what it depends on."""
    venv.create(wheel.parent / "env", with_pip=False)
    python = wheel.parent / "env" / "bin" / "python"
    where = run(python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))", cwd=ROOT)
    seen = {sysconfig.get_path(name) for name in ("purelib", "platlib")}
    seen |= {path for path in sys.path if path.endswith("site-packages")}
    (Path(where.strip()) / "dependencies.pth").write_text("\n".join(sorted(seen)))
    pip = (sys.executable, "-m", "pip", "--python", python)
    run(*pip, "install", "-q", "--no-deps", "--ignore-installed", wheel, cwd=wheel.parent)
    with_compiled_code(Path(where.strip()))
    return wheel.parent / "env" / "bin"


def with_compiled_code(site_packages: Path) -> None:
    """Give installed modules the machine code that lies beside the equal source of the tree.

    It is looked up by the source's time; code of any other source is compiled anew.
    """
    for source in (ROOT / "analysis").rglob("*.py"):
        there = site_packages / source.relative_to(ROOT)
        codes = [*(source.parent / "__pycache__").glob(f"{source.stem}.*.nb[ic]")]
        if codes and there.read_bytes() == source.read_bytes():
            (there.parent / "__pycache__").mkdir(exist_ok=True)
            for code in codes:
                shutil.copy2(code, there.parent / "__pycache__" / code.name)
            os.utime(there, ns=(source.stat().st_atime_ns, source.stat().st_mtime_ns))


def test_the_wheel_declares_all_that_it_imports(wheel: Path) -> None:
    imported, declared = set(), set()
    with zipfile.ZipFile(wheel) as packed:
        for name in packed.namelist():
            if name.endswith(".py"):
                for node in ast.walk(ast.parse(packed.read(name))):
                    if isinstance(node, ast.Import):
                        imported |= {one.name.partition(".")[0] for one in node.names}
                    elif isinstance(node, ast.ImportFrom) and not node.level and node.module:
                        imported.add(node.module.partition(".")[0])
            elif name.endswith(".dist-info/METADATA"):
                told = packed.read(name).decode()
                required = re.findall(r"^Requires-Dist: ([\w.-]+)(?!.*extra)", told, re.M)
                declared |= {canonicalize_name(one) for one in required}
    foreign = imported - set(sys.stdlib_module_names) - set(OWN) - OPTIONAL
    owners = packages_distributions()
    wanted = {
        name: {canonicalize_name(one) for one in owners.get(name, [name])} for name in foreign
    }
    assert len(wanted) > 15
    assert {name for name, any_of in wanted.items() if not any_of & declared} == set()


@pytest.mark.slow
def test_the_three_packages_come_from_this_wheel_alone(installed: Path, tmp_path: Path) -> None:
    program = (
        "import importlib.metadata as m, json; d = m.packages_distributions();"
        "print(json.dumps({n: d[n] for n in ('analysis', 'dashboards', 'service')}))"
    )
    found = json.loads(run(installed / "python", "-c", program, cwd=tmp_path))
    assert found == {name: ["stilltaut"] for name in ("analysis", "dashboards", "service")}


@pytest.mark.slow
def test_tables_templates_steps_and_samples_are_in_the_wheel(
    installed: Path, tmp_path: Path
) -> None:
    program = (
        "from importlib.resources import files\n"
        "for package, name in (('analysis', 'published/references.toml'),"
        " ('dashboards', 'templates/base.html'), ('dashboards', 'static/app.css'),"
        " ('service', 'storage/migrations/env.py'), ('sample_logs', 'README.md')):\n"
        "    print(files(package).joinpath(name).is_file())\n"
    )
    assert run(installed / "python", "-c", program, cwd=tmp_path).split() == ["True"] * 5


@pytest.mark.slow
@pytest.mark.long
def test_the_installed_command_runs_the_whole_demo(installed: Path, tmp_path: Path) -> None:
    printed = run(installed / "stilltaut", "demo", "--no-serve", "--data", "d", cwd=tmp_path)
    assert "look first" in printed.lower()
    assert "leave be" in printed.lower()
