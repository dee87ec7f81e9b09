"""The wheel alone, in a clean environment, from another folder."""

import json
import os
import subprocess
import sys
import venv
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


def run(*arguments: str | Path, cwd: Path) -> str:
    environment = {k: v for k, v in os.environ.items() if k not in ("PYTHONPATH", "VIRTUAL_ENV")}
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
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Bin folder of an environment that holds the wheel and what it depends on."""
    work = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "build", "--wheel", "--no-isolation", "-o", work, ROOT, cwd=work)
    venv.create(work / "env", with_pip=True)
    python = work / "env" / "bin" / "python"
    constraints = ROOT / "constraints.txt"
    wheel = next(work.glob("*.whl"))
    run(python, "-m", "pip", "install", "-q", "-c", constraints, wheel, cwd=work)
    return work / "env" / "bin"


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
def test_the_installed_command_runs_the_whole_demo(installed: Path, tmp_path: Path) -> None:
    printed = run(installed / "stilltaut", "demo", "--no-serve", "--data", "d", cwd=tmp_path)
    assert "look first" in printed.lower()
    assert "leave be" in printed.lower()
