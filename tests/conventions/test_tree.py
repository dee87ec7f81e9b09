"""The tree for contributors names every module, and no module that is not there."""

import re
from pathlib import Path

import pytest
from bench.mutations import MUTATIONS, Mutation, mutated

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ("analysis", "dashboards", "service")


def tree() -> dict[str, str]:
    """Return, for each folder at the top of the tree, what is said of it and of what it holds."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    lines = text.split("## The tree")[1].split("\n## ")[0].split("\n\nImports run")[0].splitlines()
    found: dict[str, str] = {}
    folder = ""
    for line in lines:
        top = re.match(r" {4}(\w+)/", line)
        folder = top[1] if top else folder
        found[folder] = f"{found.get(folder, '')}\n{line}"
    return found


def modules(package: str) -> list[str]:
    folder = ROOT / package
    files = [path.stem for path in folder.glob("*.py") if not path.stem.startswith("__")]
    folders = [path.parent.name for path in folder.glob("*/__init__.py")]
    return sorted(files + folders)


@pytest.mark.parametrize("package", PACKAGES)
def test_every_module_stands_in_the_tree(package: str) -> None:
    said = tree()[package]
    named, families = set(re.findall(r"\w+", said)), tuple(re.findall(r"(\w+_)…", said))
    missing = [name for name in modules(package) if name not in named]
    assert [name for name in missing if not name.startswith(families)] == []


@pytest.mark.parametrize("package", PACKAGES)
def test_what_begins_a_line_of_the_tree_is_there(package: str) -> None:
    lines = tree()[package].splitlines()[2:]
    first = [found[1] for line in lines if (found := re.match(r" {6}(\w+)", line))]
    there = {*modules(package), *(path.name for path in (ROOT / package).iterdir())}
    assert first
    assert [name for name in first if not any(x.startswith(name) for x in there)] == []


@pytest.mark.parametrize("package", PACKAGES)
def test_folders_stay_small_enough_to_read(package: str) -> None:
    root = ROOT / package
    crowded = {
        str(folder.relative_to(ROOT)): len(list(folder.glob("*.py")))
        for folder in (root, *(path.parent for path in root.glob("**/__init__.py")))
        if len(list(folder.glob("*.py"))) > (18 if folder == root else 31)
    }
    assert crowded == {}


@pytest.mark.parametrize("package", PACKAGES)
def test_no_name_stands_twice_in_a_package(package: str) -> None:
    mirrors = {"commands", "routes", "migrations", "versions"}
    names = [
        path.stem
        for path in (ROOT / package).rglob("*.py")
        if path.stem != "__init__" and not mirrors & set(path.parts)
    ]
    assert sorted(name for name in set(names) if names.count(name) > 1) == []


@pytest.mark.parametrize("change", MUTATIONS, ids=lambda change: change.what)
def test_what_the_bench_of_changes_alters_stands_once(change: Mutation) -> None:
    text = (ROOT / change.file).read_text(encoding="utf-8")
    assert mutated(text, change) != text
