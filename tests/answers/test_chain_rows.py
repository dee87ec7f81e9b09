"""The chain of an hour as people read it: rows, bars, the account of stretch."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from bench.calibration import MOUNTED, START, room_year

from analysis.air.room_air import RoomAir
from analysis.answers.explain import Chain, Link, explain
from analysis.answers.sensitivity import Ends, Influence
from analysis.answers.value_of_information import with_what_knowing_brings
from analysis.results import Range
from analysis.simulation.priors import Draws, draw
from analysis.works import Finish, Paper, Work
from dashboards.charts.chain import chain_figure, chain_words
from dashboards.text.reasons import (
    account,
    account_words,
    ends_words,
    few_draws_words,
    reason_line,
    reason_steps,
    reason_text,
)

N = 60
WORK = Work(
    "E1",
    "Pier",
    1500.0,
    1000.0,
    Paper.FIBRE_BASE,
    Finish.GLOSSY,
    mounted_utc=MOUNTED,
    mounted_rh_pct=48.0,
)
AT = START + timedelta(days=200, hours=12)
LINK = Link("surface", "steepest slope", Range(0.0, 3.0, 9.0), "mrad")


@pytest.fixture(scope="module")
def air() -> RoomAir:
    return room_year()


@pytest.fixture(scope="module")
def chain(air: RoomAir) -> Chain:
    draws = draw(WORK, N)
    return with_what_knowing_brings(explain(WORK, draws, air, AT), WORK, draws, air)


def deciding(one: Influence, ends: Ends) -> Link:
    """Return a link that one parameter decides."""
    return replace(LINK, influences=[one], ends=ends)


def test_every_step_has_its_leading_rows_and_the_rest_behind_them(chain: Chain) -> None:
    steps = reason_steps(chain)
    assert [step.step for step in steps] == ["room", "frame", "print", "tension", "surface"]
    assert [len(step.leading) for step in steps] == [1, 1, 1, 2, 1]
    words = [line.words for step in steps for line in (*step.leading, *step.others)]
    assert "Height of the waves" in words
    assert not any("relaxation took" in word for word in words)  # it stands in the account


def test_a_row_says_what_decides_what_would_settle_it_and_what_that_would_bring(
    chain: Chain,
) -> None:
    line = reason_line(chain, chain.link("headroom_up_pct"))
    assert 1 <= len(line.bars) <= 3
    assert all(0.2 <= abs(bar.size) <= 1.0 for bar in line.bars)
    first = line.bars[0]
    assert ("of the spread" if first.both_ways else "(rank correlation") in first.way
    assert "narrower" in line.bars[0].way
    assert line.settled_by
    assert line.ends.startswith("With the ")


def test_no_row_says_its_number_twice(chain: Chain) -> None:
    for step in reason_steps(chain):
        for line in (*step.leading, *step.others):
            assert not line.sentence.startswith(line.words)


def test_ends_in_words() -> None:
    slope = Ends(2e-4, 8e-4, 8.0, 3.0, 0.0, 1.0, 0.2)
    assert ends_words(deciding(Influence("prestrain", -0.8), slope)) == (
        "With the stretch at mounting at 0.8 mm per m or more: 0 mrad; at 0.2 mm per m or less: "
        "8 mrad."
    )
    rare = replace(slope, low=0.0, low_some=0.38, high_some=0.004)
    assert ends_words(deciding(Influence("prestrain", -0.8), rare)) == (
        "With the stretch at mounting at 0.8 mm per m or more: above zero in under 1 % of the "
        "draws; at 0.2 mm per m or less: in 38 %."
    )
    grain = ends_words(deciding(Influence("grain_vertical", 0.5), replace(slope, high=2.0)))
    assert grain == "With the grain upright: 2 mrad; level: 8 mrad."
    both = ends_words(deciding(Influence("half_time_h", 0.1, 0.5), replace(slope, high=8.0)))
    assert both.endswith("; in between: 3 mrad.")


def test_the_rows_of_the_account_add_up(air: RoomAir) -> None:
    drawn = draw(WORK, N)
    still = {key: np.full(N, float(np.median(array))) for key, array in drawn.values.items()}
    still["hysteresis_offset_rh_pct"] = np.zeros(N)
    found = account(explain(WORK, Draws("E1", drawn.release, still), air, AT))
    assert found is not None
    for column in (1, 2):
        *parts, left = (float(row[column].replace("−", "-")) for row in found.rows)
        assert sum(parts) == pytest.approx(left, abs=0.031)  # seven numbers to two decimals


def test_what_took_most_is_named(chain: Chain) -> None:
    assert account_words(chain).endswith(("is left.", "is still there."))
    links = [
        replace(link, value=Range(0.7, 0.9, 1.2)) if link.name == "crept_cd" else link
        for link in chain.links
    ]
    assert account_words(replace(chain, links=links)).startswith(
        "Giving hinges took most from its stretch: about 0.90 mm per m across the grain"
    )


def test_what_gave_stretch_back_is_named_beside_what_took_most(chain: Chain) -> None:
    middles = {"panel_strain": -0.44, "print_strain": -0.41, "prestrain": 0.4, "left_cd": 0.37}
    middles |= dict.fromkeys(("cycled_cd", "crept_cd", "relaxed_cd"), 0.0)
    known = {name: Range(x, x, x) for name, x in middles.items()}
    links = [
        replace(
            link, value=known.get(link.name, known.get(link.name.removesuffix("_cd"), link.value))
        )
        for link in chain.links
    ]
    assert account_words(replace(chain, links=links)) == (
        "The panel's movement took most from its stretch: about 0.44 mm per m across the grain; "
        "the print's movement gave about 0.41 back; of 0.40 at mounting, 0.37 is left."
    )


def test_what_is_not_told_stands_nowhere(air: RoomAir) -> None:
    sealed = replace(WORK, conditioned=True)
    found = explain(sealed, draw(sealed, N), air, AT)
    assert account(found) is None
    assert account_words(found) == ""
    text = "\n".join(reason_text(found))
    assert text.count("not told") == 5
    assert "N/m" not in text
    drawn = [text.get_text() for axes in chain_figure(found).axes for text in axes.texts]
    assert drawn.count("not told") == 5
    assert chain_words(found).count("not told") == 5


@pytest.mark.parametrize(("fall", "said"), [(48.0, True), (6.0, False)])
def test_a_spare_downwards_names_the_floor_of_the_image_layer(
    chain: Chain, fall: float, said: bool
) -> None:
    # hinges are not the only limit of drying: gelatin stiffens below 25 to 30 %RH (recalled)
    values = {
        "print_rh_pct": Range(46.0, 48.0, 50.0),
        "headroom_down_pct": Range(fall - 1.0, fall, fall + 1.0),
    }
    links = [replace(one, value=values.get(one.name, one.value)) for one in chain.links]
    told = replace(chain, links=links)
    words = "Below about 25 to 30 %RH an image layer of gelatin stiffens and may crack"
    assert (words in reason_line(told, told.link("headroom_down_pct")).sentence) is said
    assert (words in "\n".join(reason_text(told))) is said


def test_few_draws_are_named(chain: Chain) -> None:
    assert few_draws_words(chain) == ""
    assert "about 11 draws count" in few_draws_words(replace(chain, effective=10.6))
