"""What to bear in mind beside a number: each flag where it stands, and where it does not."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from analysis.air.room_air import RoomAir
from analysis.answers.caveats import Circumstances, bear_in_mind, board_uptake_h
from analysis.chain.enclosure import plane_sheet_uptake
from analysis.results import History
from analysis.simulation.priors import draw
from analysis.works import Finish, FrameBuild, Override, Panel, Paper, Wall, Work
from dashboards.text.caveats_text import caveat_words

NOW = datetime(2026, 3, 1, tzinfo=UTC)
HOURS = 24 * 60
WORK = Work(
    "W1",
    "Kite over the weir",
    1200,
    900,
    Paper.FIBRE_BASE,
    Finish.MATT,
    panel=Panel.MUSEUM_BOARD,
    frame=FrameBuild.D,
    mounted_rh_pct=48.0,
    closed_utc=NOW - timedelta(days=400),
    overrides={"half_time_h": Override(18.0, 16.0, 20.0, "fitted from 60 days of paired loggers")},
)


def air(hours: int = HOURS, outdoor_c: float = 18.0, interval_s: float = 900.0) -> RoomAir:
    end = np.datetime64(NOW.replace(tzinfo=None), "s")
    rh = np.full(hours, 48.0)
    return RoomAir(
        time_utc=end - np.arange(hours)[::-1] * np.timedelta64(1, "h"),
        temp_c=np.full(hours, 20.0),
        rh_low_pct=rh,
        rh_high_pct=rh,
        outdoor_temp_c=np.full(hours, outdoor_c),
        measured=np.full(hours, True),
        interval_s=interval_s,
        first_low_pct=46.0,
        first_high_pct=50.0,
    )


def history(frame_pct: float = 48.0, print_pct: float = 48.0) -> History:
    """A week in which nothing moved."""
    one = np.zeros(168)
    parts: dict[str, Any] = dict.fromkeys(History.__dataclass_fields__, one)
    parts |= {
        "work_id": "W1",
        "time_utc": air().time_utc[-168:],
        "frame_rh_pct": np.full((168, 3), frame_pct),
        "print_rh_pct": np.full((168, 3), print_pct),
        "refused": np.full(168, ""),
        "slack_causes": {},
        "unmeasured_years": 0.0,
    }
    return History(**parts)


def flags(work: Work = WORK, **known: Any) -> dict[str, str]:
    facts: dict[str, Any] = {
        "at_utc": NOW,
        "draws": draw(work),
        "air": air(),
        "history": history(),
    } | known
    return {
        str(one.caveat): caveat_words(one, "UTC")
        for one in bear_in_mind(work, Circumstances(**facts))
    }


def test_a_measured_frame_on_an_inside_wall_needs_no_word() -> None:
    assert flags() == {}


def test_readings_too_far_apart_for_peaks() -> None:
    # Enclosure notes, section 11: interval > half-time / 6
    assert "interval" in flags(air=air(interval_s=3.1 * 3600))
    assert "every 3.1 h" in flags(air=air(interval_s=3.1 * 3600))["interval"]
    assert "interval" not in flags(air=air(interval_s=2.7 * 3600))


@pytest.mark.parametrize(("outdoor_c", "stands"), [(17.0, False), (0.0, True), (38.0, True)])
def test_front_and_back_that_differ(outdoor_c: float, stands: bool) -> None:
    # walls.toml: a quarter of the difference reaches a print on solid masonry; 1 K is the limit
    work = replace(WORK, wall=Wall.OUTSIDE_MASONRY)
    found = flags(work, air=air(outdoor_c=outdoor_c))
    assert ("not isothermal" in found) == stands
    if stands:
        assert ("colder" if outdoor_c < 20 else "warmer") in found["not isothermal"]
    assert "not isothermal" not in flags(air=air(outdoor_c=outdoor_c))  # an inside wall


def test_the_wall_is_judged_by_the_week_alone() -> None:
    work, cold = replace(WORK, wall=Wall.OUTSIDE_MASONRY), air(outdoor_c=18.0)
    cold.outdoor_temp_c[: HOURS - 200] = -10.0
    assert "not isothermal" not in flags(work, air=cold)


def test_a_board_that_is_slow_for_its_frame() -> None:
    # Enclosure notes, 7.3: the half-time should be three times the board's own
    fast = {"half_time_h": Override(6.0, 5.0, 7.0, "fitted")}
    honeycomb = replace(WORK, panel=Panel.PAPER_HONEYCOMB, frame=FrameBuild.C, overrides=fast)
    assert "slow board" in flags(honeycomb)
    assert "slow board" not in flags(replace(honeycomb, panel=Panel.METAL_FACED))
    assert "slow board" not in flags(replace(honeycomb, panel=Panel.MUSEUM_BOARD))
    assert "slow board" not in flags(replace(honeycomb, frame=FrameBuild.A))
    assert "slow board" not in flags(replace(WORK, panel=Panel.PAPER_HONEYCOMB))  # 18 h


def test_a_board_whose_mass_is_known_is_reckoned() -> None:
    stated = {
        "half_time_h": Override(8.0, 7.0, 9.0, "fitted"),
        "board_mass_kg_m2": Override(4.0, 3.8, 4.2, "weighed"),
        "back_permeance": Override(2.5e-9, 2e-9, 3e-9, "measured"),
    }
    # 0.1967 M xi/(W p): 0.1967 · 4 · 0.10162/(2.5e-9 · 2332.6) s = 3.8 h
    assert "3.8 h" in flags(replace(WORK, overrides=stated))["slow board"]
    light = stated | {"board_mass_kg_m2": Override(1.0, 0.9, 1.1, "weighed")}
    assert "slow board" not in flags(replace(WORK, overrides=light))


@pytest.mark.parametrize(("mu", "minutes"), [(5.0, 10.0), (20.0, 40.0), (60.0, 120.0)])
def test_half_uptake_of_a_two_millimetre_board(mu: float, minutes: float) -> None:
    # Enclosure notes, 7.3: 10, 40, 120 min for resistance factors 5, 20, 60; rounded there
    density, thickness_m, air_permeability = 700.0, 0.002, 1.9e-10
    found = board_uptake_h(density * thickness_m, 0.1016, air_permeability / mu / thickness_m)
    assert 60.0 * found == pytest.approx(minutes, rel=0.07)


def test_half_uptake_agrees_with_the_whole_series() -> None:
    # Crank 1975 p. 48; a sheet open on one face is half of one of twice the thickness
    thickness_m, diffusivity = 0.002, 1.0e-10
    seconds = 0.1967 * thickness_m**2 / diffusivity
    assert plane_sheet_uptake(seconds, 2 * thickness_m, diffusivity) == pytest.approx(0.5, abs=5e-4)


def test_a_fit_used_in_other_conditions() -> None:
    # Enclosure notes, section 11: beyond 5 K or 15 %RH of the fit
    assert "outside the fit" not in flags(fitted_in=((16.0, 24.0), (40.0, 50.0)))
    assert "°C" in flags(fitted_in=((8.0, 14.0), (40.0, 50.0)))["outside the fit"]
    assert "%RH" in flags(fitted_in=((19.0, 21.0), (20.0, 30.0)))["outside the fit"]


def test_a_coated_print_has_two_layers() -> None:
    work = replace(WORK, paper=Paper.RESIN_COATED)
    said = flags(work, history=history(frame_pct=60.0, print_pct=50.0))["two layers"]
    assert "now about 60 %RH" in said  # the image layer is where the frame is
    # print = share image + (1 - share) core, with about a fifth of the image: 47.5 %
    assert "now about 47 %RH" in said or "now about 48 %RH" in said
    assert "two layers" not in flags()


def test_a_half_time_that_is_only_usual() -> None:
    plain = replace(WORK, overrides={})
    said = flags(plain)["not measured"]
    assert said.startswith("Its half-time was not measured: 18 h (")
    assert said.endswith("is usual for its build; a logger left inside would tell.")
    assert "the logger in it can tell" in flags(plain, logger_inside=True)["not measured"]
    opened = replace(plain, frame=FrameBuild.A)
    assert flags(opened)["not measured"].endswith("is usual for its build.")
    board = {"board_mass_kg_m2": Override(1.0, 0.9, 1.1, "weighed")}
    assert "from its board" in flags(replace(WORK, overrides=board))["not measured"]
    weights = np.full(draw(plain).n, 1.0 / draw(plain).n)
    assert "fits what people saw" in flags(plain, weights=weights)["not measured"]


def test_a_record_shorter_than_a_half_time() -> None:
    sealed = {"half_time_h": Override(2000.0, 1800.0, 2200.0, "fitted")}
    assert "short record" in flags(replace(WORK, overrides=sealed))  # 60 days
    assert "short record" not in flags(air=air(24))


def test_a_frame_that_was_closed_lately() -> None:
    lately = replace(WORK, closed_utc=NOW - timedelta(days=5))
    assert "24 February 2026" in flags(lately)["lately closed"]
    assert "lately closed" not in flags(replace(WORK, closed_utc=NOW - timedelta(days=8)))
    slow = {"half_time_h": Override(300.0, 280.0, 320.0, "fitted")}  # remembers 41 days
    for days, stands in ((30, True), (45, False)):
        closed = replace(WORK, closed_utc=NOW - timedelta(days=days), overrides=slow)
        assert ("lately closed" in flags(closed)) == stands
    assert "lately closed" not in flags(replace(WORK, closed_utc=NOW + timedelta(days=1)))


def test_a_work_that_was_moved_lately() -> None:
    moved = NOW - timedelta(days=3)
    assert "26 February 2026" in flags(moved_utc=moved)["lately moved"]
    assert "lately moved" not in flags(moved_utc=NOW - timedelta(days=30))
    together = flags(replace(WORK, closed_utc=moved), moved_utc=moved)
    assert "lately moved" not in together
    assert "lately closed" in together


def test_sentences_are_short_and_claim_nothing() -> None:
    everything = replace(
        WORK, paper=Paper.RESIN_COATED, overrides={}, frame=FrameBuild.B,
        panel=Panel.PAPER_HONEYCOMB, wall=Wall.OUTSIDE_MASONRY, closed_utc=NOW,
    )  # fmt: skip
    found = flags(everything, air=air(outdoor_c=-5.0, interval_s=3600.0), moved_utc=NOW,
                  fitted_in=((0.0, 1.0), (0.0, 1.0)))  # fmt: skip
    assert len(found) >= 6
    for sentence in found.values():
        assert sentence.endswith(".")
        assert len(sentence) < 250
        assert not any(word in sentence.lower() for word in ("damage", "alarm", "critical"))
