"""Numbers, dates and sentences are worded in `dashboards.text`; what else formats says why."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGES = ("analysis", "dashboards", "service")
HOME = "dashboards/text/"
# Files, or folders, that format numbers or times for a reason other than a sentence for people.
NOT_FOR_READERS = {
    "dashboards/marks.py": "coordinates of drawings in SVG",
    "dashboards/charts/hinge.py": "coordinates of a drawing in SVG",
    "dashboards/charts/strips.py": "coordinates of drawings in SVG",
    "analysis/records/": "cells of files and messages about them, as they stand there",
    "analysis/simulation/refusals.py": "error messages",
    "analysis/forecast/transfer.py": "error messages",
    "service/ingest/": "messages about a file, in the file's own figures",
    "service/intake/": "messages about a file, in the file's own figures",
    "service/commands/read.py": "readings as machines read them",
    "service/commands/file_options.py": "messages about an option, as it was written",
    "service/commands/air.py": "times as machines read them",
    "service/climate/": "names of weeks and keys of what is kept",
    "service/estimates/checkpoints.py": "names of what is kept",
    "service/estimates/record_problems.py": "what a record holds, in the words of an error",
    "service/notices/causes.py": "the key of a cause",
    "service/register/": "cells of files, times in names of files",
    "service/records/": "the value of a field, as it is sent again",
    "service/storage/": "names of files and keys",
}


def modules() -> Iterator[Path]:
    """Yield the modules of the three packages outside the one that words."""
    for package in PACKAGES:
        for path in sorted((ROOT / package).rglob("*.py")):
            name = path.relative_to(ROOT).as_posix()
            if not name.startswith(HOME) and "/migrations/" not in name:
                yield path


def of_errors(tree: ast.Module) -> set[int]:
    """Return the nodes inside what is raised, or made to be raised: messages of errors."""
    found: set[int] = set()
    for node in ast.walk(tree):
        named = ""
        if isinstance(node, ast.Call):
            named = getattr(node.func, "id", getattr(node.func, "attr", ""))
        if isinstance(node, ast.Raise) or named.endswith("Error") or named.startswith("_require"):
            found |= {id(inner) for inner in ast.walk(node)}
    return found


def formats(source: str) -> list[int]:
    """Return the lines on which a number or a time is formatted, messages of errors aside."""
    tree = ast.parse(source)
    aside = of_errors(tree)
    lines = []
    for node in ast.walk(tree):
        if id(node) in aside:
            continue
        spec = isinstance(node, ast.FormattedValue) and node.format_spec is not None
        call = isinstance(node, ast.Call) and getattr(node.func, "attr", "") == "strftime"
        rounded = (
            isinstance(node, ast.FormattedValue)
            and isinstance(node.value, ast.Call)
            and getattr(node.value.func, "id", "") == "round"
        )
        if spec or call or rounded:
            lines.append(getattr(node, "lineno", 0))
    return lines


def excused(name: str) -> bool:
    return any(name == known or name.startswith(known) for known in NOT_FOR_READERS)


def test_numbers_and_times_are_formatted_in_the_text_module_only() -> None:
    found = {path.relative_to(ROOT).as_posix(): formats(path.read_text()) for path in modules()}
    new = {name: lines for name, lines in found.items() if lines and not excused(name)}
    assert not new, f"word these in dashboards/text: {new}"


def test_every_excuse_is_needed() -> None:
    names = [path.relative_to(ROOT).as_posix() for path in modules() if formats(path.read_text())]
    idle = [
        known
        for known in NOT_FOR_READERS
        if not any(name == known or name.startswith(known) for name in names)
    ]
    assert not idle


@pytest.mark.parametrize(
    ("source", "lines"),
    [
        ('f"{rh:.1f} %RH"', [1]),
        ('"a"\nday.strftime("%B")', [2]),
        ('f"{round(rh)} %"', [1]),
        ('raise OutOfRangeError(found=f"{rh:.1f} %")', []),
        ('f"{name} is taut"', []),
    ],
)
def test_what_counts_as_formatting(source: str, lines: list[int]) -> None:
    assert formats(source) == lines


JUDGED = ("judgement.py", "explain.py", "sensitivity.py", "work_changes.py", "chain_quantities.py")


@pytest.mark.parametrize("name", JUDGED)
def test_a_judgement_holds_no_sentence(name: str) -> None:
    tree = ast.parse((ROOT / "analysis" / "answers" / name).read_text())
    aside = of_errors(tree) | {
        id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)
    }
    said = [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in aside
    ]
    assert not [words for words in said if words.endswith(".") and " " in words]
