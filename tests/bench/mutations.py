"""Thirty named constants and signs, each changed alone in a copy: some test must then fail.

    PYTHONPATH=tests python -m bench.mutations            all of them, one after another
    PYTHONPATH=tests python -m bench.mutations 3 17       some, by number
    PYTHONPATH=tests python -m bench.mutations --sample 6

The copy lies in a temporary folder; the tree itself is never changed. Exit code 1 names survivors.
"""

import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
COPIED = ("analysis", "dashboards", "service", "sample_logs", "tests", "pyproject.toml")


@dataclass(frozen=True)
class Mutation:
    """One change: what stands in a file, what stands there instead, and the tests that must see it.

    ``before`` stands in the file once, or once after ``after`` (a table's heading).
    """

    what: str
    file: str
    before: str
    instead: str
    tests: str
    after: str = ""


def row(what: str, table: str, name: str, before: str, instead: str, tests: str) -> Mutation:
    """Return a change of one number in a row of ``published``."""
    file = f"analysis/published/{table}.toml"
    return Mutation(what, file, f"value = {before}", f"value = {instead}", tests, f"[{name}]\n")


SURFACE = "tests/chain/test_sheet_and_surface.py"
TENSION = "tests/chain/test_relaxation_and_tension.py"
MATERIALS = "tests/chain/test_published_materials.py"
MOISTURE = "tests/chain/test_published_enclosure.py tests/chain/test_enclosure_values.py"
MUTATIONS = (
    Mutation("slope of a wave", "analysis/chain/cockle.py",
             "return 2000.0 * math.sqrt(slack)", "return 1900.0 * math.sqrt(slack)", SURFACE),
    Mutation("height of a wave", "analysis/chain/cockle.py",
             "2.0 * wavelength_m * math.sqrt(slack) / math.pi",
             "2.1 * wavelength_m * math.sqrt(slack) / math.pi", SURFACE),
    Mutation("sign of the buckling strain in the loop", "analysis/simulation/step.py",
             "max(-md, -cd) - b[Row.BUCKLE + j]", "max(-md, -cd) + b[Row.BUCKLE + j]", SURFACE),
    Mutation("sign of the buckling strain where slack is counted",
             "analysis/simulation/step.py",
             "-b[Row.SEEN_CD + j]) - b[Row.BUCKLE + j]", "-b[Row.SEEN_CD + j]) + b[Row.BUCKLE + j]",
             SURFACE),
    Mutation("buckling strain", "analysis/chain/cockle.py",
             "(12.0 * (1.0 + poisson)) * size", "(12.0 * (1.0 - poisson)) * size", SURFACE),
    Mutation("sign of thermal expansion", "analysis/chain/sheet.py",
             "beta_per_psi * path_change + alpha * temp_change_k",
             "beta_per_psi * path_change - alpha * temp_change_k", SURFACE),
    Mutation("hinge in series", "analysis/chain/tension.py",
             "2.0 * free_length_m / (coverage", "1.0 * free_length_m / (coverage", TENSION),
    Mutation("creep above the sustained load only", "analysis/chain/tension.py",
             "share * max(reserve - sustained, 0.0)", "share * max(reserve + sustained, 0.0)",
             TENSION),
    Mutation("sign of softening", "analysis/chain/sheet.py",
             "np.exp(-np.asarray(k) * np.asarray(dmc_pct))",
             "np.exp(np.asarray(k) * np.asarray(dmc_pct))", SURFACE),
    Mutation("standard gravity", "analysis/chain/sheet.py", "GRAVITY = 9.80665",
             "GRAVITY = 9.70665", SURFACE),
    Mutation("isotherm", "analysis/chain/isotherm.py",
             "return capacity * c * x / ((1.0 - x) * (1.0 + (c - 1.0) * x))",
             "return capacity * c * x / ((1.0 - x) * (1.0 + (c + 1.0) * x))", MOISTURE),
    Mutation("sign of the shift with temperature", "analysis/chain/isotherm.py",
             "np.exp(heat * temperature_term(temp_c))", "np.exp(-heat * temperature_term(temp_c))",
             MOISTURE),
    row("movement of resin-coated paper, across", "prints", "resin_coated.beta_cd", "7e-05",
        "9.5e-05", SURFACE),
    row("movement of resin-coated paper, along", "prints", "resin_coated.beta_md", "3e-05",
        "4.5e-05", SURFACE),
    row("movement of fibre-base paper across", "prints", "fibre_base.beta_cd", "9e-05", "1.3e-04",
        MATERIALS),
    row("lag of a resin-coated core", "prints", "resin_coated.core_half_time_h", "36.0", "0.1",
        MATERIALS),
    row("gas constants of air and water", "moist_air", "air.mass_ratio", "0.621945", "0.611945",
        "tests/air"),
    row("wet bulb", "moist_air", "wet_bulb.water_slope", "2.326", "2.526", "tests/air"),
    Mutation("parts of a change of humidity", "analysis/events/event_cause.py",
             "mean * (change - from_temperature)", "mean * (change + from_temperature)",
             "tests/events"),
    Mutation("outdoor moisture, not humidity", "analysis/events/event_cause.py",
             "outdoor.vapour_pa / room.vapour_pa if", "outdoor.rh_pct / room.rh_pct if",
             "tests/events"),
    row("size of a spike", "events", "spike.rh_pct", "10.0", "17.0", "tests/events"),
    Mutation("end of a spike between readings", "analysis/events/spikes.py",
             "at_s[last] + min(crossed, 1.0) *", "at_s[last] + 1.0 *", "tests/events"),
    row("mould: humidity of onset", "mould", "dose.humid_above", "75.0", "70.0", "tests/harm"),
    row("ageing: activation", "ageing", "activation.hydrolysis", "100.0", "90.0", "tests/harm"),
    row("salt: sodium chloride", "salts", "sodium_chloride.constant", "75.5164", "74.5164",
        "tests/instruments"),
    Mutation("sign of an offset", "analysis/instruments/calibration.py",
             "layer.gain * values[held] + layer.offset", "layer.gain * values[held] - layer.offset",
             "tests/instruments"),
    row("percentile of EN 15757", "record_rules", "historic.upper_percentile", "93.0", "90.0",
        "tests/limits"),
    row("bow of acrylic", "glazing", "acrylic.bow_mm_per_m2", "1.0", "2.0",
        "tests/planning/test_spacer.py"),
    Mutation("waves take from the clearance", "analysis/planning/spacer.py",
             "depth.mid - sum(t.mid for t in terms)", "depth.mid + sum(t.mid for t in terms)",
             "tests/planning/test_spacer.py"),
    row("floor for the image layer", "gelatin", "image_layer.floor", "30.0", "20.0",
        "tests/harm/test_gelatin.py"),
)  # fmt: skip


def mutated(text: str, change: Mutation) -> str:
    """Return a file's text with the change made; raises where it does not stand there once."""
    start = text.index(change.after) if change.after else 0
    end = text.find("\n[", start + 1) if change.after else -1
    part = text[start : end if end > 0 else len(text)]
    if part.count(change.before) != 1:
        raise ValueError(
            f"{change.what}: {change.before!r} stands {part.count(change.before)} times"
        )
    return text[:start] + part.replace(change.before, change.instead) + text[start + len(part) :]


def survives(change: Mutation, copy: Path) -> bool:
    """Whether every test passes with the change."""
    path = copy / change.file
    text = path.read_text(encoding="utf-8")
    path.write_text(mutated(text, change), encoding="utf-8")
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-n", "0", "-p", "no:cacheprovider",
               *change.tests.split(), change.file]  # fmt: skip
    if not change.file.endswith(".py"):
        command.pop()
    try:
        run = subprocess.run(command, cwd=copy, capture_output=True, text=True, check=False)
    finally:
        path.write_text(text, encoding="utf-8")
    if run.returncode not in (0, 1):
        raise RuntimeError(
            f"{change.what}: pytest ended with {run.returncode}\n{run.stdout[-2000:]}"
        )
    return run.returncode == 0


def chosen(arguments: Sequence[str]) -> list[int]:
    """Return the numbers of the changes to make."""
    if arguments[:1] == ["--sample"]:
        return sorted(random.Random(7).sample(range(len(MUTATIONS)), int(arguments[1])))
    return [int(number) for number in arguments] or list(range(len(MUTATIONS)))


def main(arguments: Sequence[str]) -> int:
    """Make the changes one at a time and print which of them no test saw."""
    survivors = []
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder)
        for name in COPIED:
            place = ROOT / name
            whole = shutil.copytree if place.is_dir() else shutil.copy
            whole(place, copy / name)
        for number in chosen(arguments):
            change = MUTATIONS[number]
            alive = survives(change, copy)
            print(f"{number:2d} {'SURVIVES' if alive else 'seen    '} {change.what}", flush=True)
            survivors += [change.what] if alive else []
    print(f"{len(survivors)} not seen by any test: {', '.join(survivors) or 'none'}")
    return 1 if survivors else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
