"""The guide to the estimate says what the tables and the program say."""

import re
from pathlib import Path

import numpy as np
import pytest
from bench.estimator_figures import dry_spell

from analysis.chain.enclosure import saturation_pressure_pa
from analysis.chain.relaxation import log_law
from analysis.chain.tension import series_factor
from analysis.parameters import Parameter, Status, parameter, table
from analysis.references import status_words

GUIDE = Path(__file__).resolve().parents[2] / "dashboards" / "guides" / "estimator.md"
DRAWN = ("prints", "panels", "hinges", "frames", "finishes", "walls", "moisture")


def print_row(name: str) -> Parameter:
    return parameter("prints", "fibre_base", name)


ROWS = {
    "movement along the grain": (print_row("beta_md"), 1e6),
    "movement across the grain": (print_row("beta_cd"), 1e6),
    "stiffness along the grain": (print_row("modulus_md_gpa"), 1.0),
    "stiffness across the grain": (print_row("modulus_cd_gpa"), 1.0),
    "stiffness × movement, along over across": (parameter("prints", "grain", "energy_ratio"), 1.0),
    "thickness": (print_row("thickness_mm"), 1.0),
    "moisture taken up": (print_row("moisture_slope"), 1.0),
    "softening": (print_row("softening_per_pct"), 1.0),
    "half-time behind the air of the frame": (print_row("core_half_time_h"), 1.0),
    "tension lost per tenfold time": (print_row("relax_per_decade"), 1.0),
    "lost to cycles of moisture": (print_row("mechano_sorptive_per_pct"), 1.0),
    "width of the sorption loop": (print_row("hysteresis_rh_pct"), 1.0),
    "stretch at mounting": (parameter("hinges", "mounting", "prestrain"), 1.0),
    "stiffness of the hinge tissue": (parameter("hinges", "tissue", "stiffness_n_m"), 1e-3),
    "free length of the hinge": (parameter("hinges", "tissue", "free_length_mm"), 1.0),
    "strength of pasted hinges": (parameter("hinges", "pasted", "capacity_n_m"), 1.0),
}


@pytest.fixture(scope="module")
def guide() -> str:
    return GUIDE.read_text(encoding="utf-8")


@pytest.mark.parametrize("what", list(ROWS))
def test_a_row_of_the_guide_is_that_of_the_table(guide: str, what: str) -> None:
    row, factor = ROWS[what]
    line = next(line for line in guide.splitlines() if line.startswith(f"| {what} |"))
    cells = [cell.strip() for cell in line.strip("|").split("|")]
    stated = [float(cell) for cell in cells[1:4]]
    assert stated == pytest.approx([row.low * factor, row.value * factor, row.high * factor])
    assert cells[5] == status_words(row)


def test_every_row_of_the_guide_is_tested(guide: str) -> None:
    rows = re.findall(r"^\| (.+?) \| [\d.]+ \|", guide, re.MULTILINE)
    assert sorted(rows) == sorted(ROWS)


def test_shares_of_published_derived_and_assumed() -> None:
    # "fewer than one in ten is a published measurement, about three in ten are derived"
    groups = (rows for name in DRAWN for rows in table(name).values())
    states = [row.status for rows in groups for row in rows.values()]
    share = {state: states.count(state) / len(states) for state in Status}
    assert share[Status.PUBLISHED] < 0.1
    assert share[Status.DERIVED] == pytest.approx(0.3, abs=0.07)
    assert share[Status.ASSUMED] > 0.5


def test_numbers_in_the_text(guide: str) -> None:
    left = [100 * float(log_law(s, 0.07)) for s in (3600.0, 86400.0, 30 * 86400.0)]
    assert [round(x) for x in left] == [88, 78, 68]
    assert "88 % is left after an hour, 78 % after a day, 68 % after a month" in guide
    warm, cold, frosty = (float(saturation_pressure_pa(t)) for t in (20.0, 9.0, 19.0))
    assert warm / cold == pytest.approx(2.0, abs=0.05)
    assert warm / frosty == pytest.approx(1.06, abs=0.005)
    one = np.ones(1)
    taken = [
        1 - float(series_factor(one, 1.2e6 * one, 0.02 * one, c * one, 0.12e6 * one)[0])
        for c in (1.0, 0.5)
    ]
    assert taken == pytest.approx([0.286, 0.444], abs=0.001)
    grows_mm = 1500 * 10 * print_row("beta_cd").value
    assert grows_mm == pytest.approx(1.4, abs=0.06)
    assert parameter("grades", "release", "edge_look").value == 4.0
    assert "A look along the edges that found all of them to hold counts as four." in guide


def test_the_dry_month_of_the_guide_is_the_programs(guide: str) -> None:
    _, history = dry_spell()
    stated = re.search(
        r"headroom was ([\d.]+) %RH before the dry month and ([\d.]+) %RH three", guide
    )
    assert stated is not None
    ours = [history.headroom_up_pct[24 * day, 1] for day in (29, 80)]
    assert [float(number) for number in stated.groups()] == pytest.approx(ours, abs=0.25)
    assert ours[1] < ours[0]


def test_the_guides_pictures_are_there(guide: str) -> None:
    pictures = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", guide)
    assert pictures == [
        "figures/frame-section.svg",
        "figures/dry-month.svg",
        "figures/chain-year.svg",
    ]
    assert [name for name in pictures if not (GUIDE.parent / name).is_file()] == []
