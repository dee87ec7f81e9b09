"""A room's air page: every question answered with its definition, or "cannot tell"."""

from typing import Any

import pytest

from analysis.harm.condensation import BARE_WALL, wall_surface
from analysis.harm.gelatin import CONTACT_CAUTION
from analysis.harm.mould import HEALTH_CAUTION
from analysis.limits.published_limits import published_limits
from analysis.limits.verdict import Outcome
from analysis.records.room_records import AgreedBand, Calibration
from analysis.works import Wall
from dashboards.lines import Finding, LimitLine
from dashboards.text.limit_text import limits_answer
from service.answers.air_figures import air_answer, air_picture, statistic_lines
from service.answers.air_findings import air_findings
from service.answers.limit_lines import (
    COMMON,
    limit_lines,
    more_limits,
    room_limit_lines,
)
from service.storage.loggers import put_calibration
from service.storage.records import put_record
from service.web.routes.air import YEAR


def findings(small: Any, room: str = "north") -> dict[str, Finding]:
    found = air_picture(small.museum, room, YEAR)
    return {one.heading: one for one in air_findings(small.museum, room, found)}


@pytest.fixture
def measured(small: Any) -> Any:
    """Seven weeks of two loggers in a room with an outside wall, another room, outdoor air."""
    small.place("n2", "north", from_utc=small.day(-1))
    small.bring("n1", 0, 49)
    small.bring("n2", 0, 49, wet=4.0)
    small.bring("s1", 0, 49, wet=-6.0)
    small.bring("out", 0, 49, wet=30.0)
    return small


def test_the_four_definitions_stand_side_by_side(measured: Any) -> None:
    said = findings(measured)["How far does it swing?"].sentences
    for quantity in ("humidity", "temperature"):
        of_quantity = [one for one in said if f" of {quantity}" in one]
        for name in ("range24", "lag24", "dev24", "dayspan"):
            assert sum(name in one for one in of_quantity) == 1
    assert "provisional, 49 days of record of the 395 needed" in said[-1]


def test_slow_harm_has_its_cautions_and_says_what_is_assumed(measured: Any) -> None:
    found = findings(measured)
    ageing = " ".join(found["How fast does it age paper and colour?"].sentences)
    assert "(100 kJ/mol;" in ageing
    assert "(70 kJ/mol;" in ageing
    mould = found["Could mould grow in the room's air?"]
    assert mould.caution == HEALTH_CAUTION
    assert any(one.startswith("Second opinion, by daily doses") for one in mould.sentences)
    gelatin = found["Was gelatin soft?"]
    assert gelatin.caution == CONTACT_CAUTION
    assert sum("(assumed;" in one for one in gelatin.sentences) >= 3


def test_outside_walls_are_reckoned_for_the_walls_that_works_hang_on(measured: Any) -> None:
    measured.hang("W-1", wall=Wall.OUTSIDE_MASONRY)
    wall = findings(measured)["Could water form on its outside walls?"]
    text = " ".join(wall.sentences)
    assert "outside wall, solid masonry" in text
    assert "insulated" not in text
    assert "Behind a frame this is an upper bound" in wall.caution
    outdoor = measured.museum.outdoor()["temp_c"]
    frame = measured.museum.readings("north").frame
    _, middle, _ = wall_surface(frame, outdoor, Wall.OUTSIDE_MASONRY, BARE_WALL)
    assert f"least margin {middle.least_margin_k:.1f} K" in text


def test_a_room_without_outside_walls_has_no_such_question(measured: Any) -> None:
    assert "Could water form on its outside walls?" not in findings(measured, "south")


def test_without_an_outdoor_logger_the_wall_cannot_be_told(small: Any) -> None:
    small.bring("n1", 0, 10)
    (said,) = findings(small)["Could water form on its outside walls?"].sentences
    assert said.startswith("Cannot tell: outside walls (north), but no outdoor logger")


def test_rooms_loggers_outdoors_and_months_are_compared(measured: Any) -> None:
    text = " ".join(findings(measured)["How does it compare?"].sentences)
    assert "The loggers of the room differed by 4.0 %RH on average" in text
    assert "North gallery was 6.0 %RH damper" in text
    assert "than South gallery, on average" in text
    assert "against the outdoors" in text
    assert "January 2026 against 2025: cannot tell, 0 % of January 2025 was measured" in text


def test_the_calibration_bears_on_verdicts_and_on_dew_points(measured: Any) -> None:
    register, since = measured.stores.register, measured.day(-20)
    text = " ".join(findings(measured)["How good are the instruments?"].sentences)
    assert "n1: No calibration is known." in text
    assert "±3 %RH (assumed: a good logger when new)" in text
    for logger in ("n1", "n2"):
        exact = Calibration(logger, "rh_pct", 33.0, 33.0, 75.0, 75.0, since, 1.5, reference="salts")
        put_calibration(register, exact)
    text = " ".join(findings(measured)["How good are the instruments?"].sentences)
    assert "±1.5 %RH (by its calibration)" in text
    assert "(salts), 68 days before" in text
    lines = {line.limit: line for line in room_limit_lines(measured.museum, "north")}
    basis = lines["International green protocol for loans"].basis
    assert "outside beyond ±1.5 %RH and ±0.5 K" in basis
    assert "Hourly means of n1 and n2; their spread counts." in basis


def test_every_published_limit_is_within_reach_by_group(measured: Any) -> None:
    first, groups = (
        room_limit_lines(measured.museum, "north"),
        more_limits(measured.museum, "north"),
    )
    shown = [*first, *(line for group in groups for line in group.lines)]
    assert len(shown) == len(published_limits())
    assert [group.name for group in groups] == ["Climate classes", "Loans", "Storage"]
    assert all(line.verdict and line.sentence for line in shown)
    unverified = {limit.name for limit in published_limits().values() if not limit.verified}
    assert {line.limit for line in shown if not line.verified} == unverified


def test_short_records_are_provisional_and_the_agreed_band_comes_first(measured: Any) -> None:
    band = AgreedBand("north", "Agreed band", 40.0, 60.0, band_owner="collections care")
    put_record(measured.stores.register, band)
    own, protocol, *_ = room_limit_lines(measured.museum, "north")
    assert (own.limit, own.source) == ("Agreed band", "House")
    assert not protocol.verdict.startswith("provisional")
    classes = [x for x in room_limit_lines(measured.museum, "north") if "class" in x.limit]
    assert classes
    assert all(line.verdict.startswith("provisional, 49 days") for line in classes)
    assert {line.room_id for line in limit_lines(measured.museum)} == {"north", "south"}
    assert len(COMMON) < 10


def test_a_record_full_of_holes_says_cannot_tell(small: Any) -> None:
    small.bring("n1", 0, 3)
    small.bring("n1", 30, 33)
    found = air_picture(small.museum, "north", YEAR)
    assert air_answer(found.statistics).startswith("Cannot tell: 18 % of the period")
    assert {line.value for line in statistic_lines(found)} == {"cannot tell"}
    said = findings(small)["Was gelatin soft?"].sentences
    assert said[0].startswith("Cannot tell: 18 % of the period was measured")


def test_the_answer_tells_kept_outside_and_not_sure_apart() -> None:
    def line(room: str, outcome: Outcome, words: str = "") -> LimitLine:
        return LimitLine(room, room, "Band", "", words, "", "", True, "House", outcome=outcome)

    said = limits_answer(
        [
            line("East", Outcome.INSIDE, "conforms"),
            line("West", Outcome.OUTSIDE),
            line("North", Outcome.WITHIN_UNCERTAINTY),
            line("South", Outcome.OUTSIDE, "provisional, 9 days: outside"),
            line("Attic", Outcome.CANNOT_TELL),
        ]
    )
    assert said == (
        "East kept to its agreed band; West and South went outside their agreed bands; "
        "North is too near its edge for the sensors to say; Attic was measured too little to tell."
    )
