"""The chain of one work at one hour, as numbers and as a picture."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from analysis.drawn_parameters import UNITS
from analysis.errors import NotEnoughError
from analysis.explain import PROBED, Chain, explain
from analysis.parameter_words import PARAMETER_WORDS
from analysis.priors import draw
from analysis.room_air import RoomAir
from analysis.works import Finish, FrameBuild, Mount, Paper, Work
from bench.calibration import MOUNTED, START, room_year
from dashboards.charts import style
from dashboards.charts.chain import chain_figure

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


@pytest.fixture(scope="module")
def air() -> RoomAir:
    return room_year()


@pytest.fixture(scope="module")
def chain(air: RoomAir) -> Chain:
    return explain(WORK, draw(WORK, N), air, AT)


def test_chain_runs_from_room_to_surface(chain: Chain) -> None:
    assert [link.step for link in chain.links] == [
        "room",
        "frame",
        "print",
        "tension",
        "tension",
        "surface",
    ]
    assert chain.refused == ""


def test_ranges_are_in_order_and_the_room_is_what_was_measured(chain: Chain, air: RoomAir) -> None:
    for link in chain.links:
        assert link.value.low <= link.value.mid <= link.value.high
    hour = (200 * 24) + 12
    assert chain.links[0].value.mid == pytest.approx(air.rh_low_pct[hour], abs=0.3)
    # frames.toml, sensor.offset_pct: triangular, 2 %RH at most
    assert chain.links[0].value.high - chain.links[0].value.low < 4.0


def test_every_probed_link_says_what_decides_it(chain: Chain) -> None:
    for link in chain.links[2:]:
        assert link.decides
        assert len(link.influences) <= 5
    headroom = next(link for link in chain.links if link.quantity.startswith("headroom"))
    assert "decides the headroom" in headroom.decides
    assert abs(headroom.influences[0].correlation) > 0.3


def test_a_narrowed_cause_stops_deciding(air: RoomAir) -> None:
    wide = explain(WORK, draw(WORK, N), air, AT)
    first = wide.links[4].influences[0].name
    fixed = draw(WORK, N)
    middle = np.full(N, np.median(fixed[first]))
    narrow = explain(WORK, fixed.replace(**{first: middle}), air, AT)
    assert narrow.links[4].influences[0].name != first


def test_weights_move_the_chain(air: RoomAir) -> None:
    draws = draw(WORK, N)
    damp = draws["prestrain"] < np.quantile(draws["prestrain"], 0.2)
    weighted = explain(WORK, draws, air, AT, np.where(damp, 1.0, 1e-9) / damp.sum())
    plain = explain(WORK, draws, air, AT)
    assert weighted.links[4].value.mid < plain.links[4].value.mid


def test_refused_hours_carry_their_reason(air: RoomAir) -> None:
    sealed = replace(WORK, frame=FrameBuild.E)
    assert explain(sealed, draw(sealed, N), air, AT).refused == "closing RH unknown"


@pytest.mark.parametrize(
    "work",
    [replace(WORK, mounted_utc=AT + timedelta(days=9)), replace(WORK, mount=Mount.BONDED)],
)
def test_not_yet_mounted_or_bonded_has_no_chain(air: RoomAir, work: Work) -> None:
    with pytest.raises(NotEnoughError):
        explain(work, draw(work, N), air, AT)


def test_picture_has_a_bar_for_every_link_and_is_repeatable(chain: Chain) -> None:
    figure = chain_figure(chain)
    assert len(figure.axes) == len(chain.links)
    words = [axes.texts[0].get_text() for axes in figure.axes]
    for link, text in zip(chain.links, words, strict=True):
        assert link.unit in text
    assert style.svg(figure) == style.svg(chain_figure(chain))


def test_every_parameter_has_words() -> None:
    assert set(PARAMETER_WORDS) == set(UNITS)
    assert {probed.step for probed in PROBED} == {"print", "tension", "surface"}
