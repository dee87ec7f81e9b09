"""A work that is lent or stored keeps its last answer, with its date and the room it left."""

from datetime import timedelta

import numpy as np
from fixtures.short_museum import DAY, START, Clock, add_work, bring

from analysis.records.work_records import Hanging
from dashboards.text.wording import NONE
from service.answers.museum import Museum
from service.answers.rounds import museum_round, round_json, round_text
from service.storage.records import put_record


def test_a_work_away_says_where_it_was_and_what_was_last_said(museum: Museum, clock: Clock) -> None:
    add_work(museum)
    bring(museum, "north-1", (30, 48.0), start=START)
    clock.now = START + 30 * DAY
    away = Hanging("W-1", "north", START, START + 20 * DAY)
    put_record(museum.stores.register, away)
    museum.forget()
    (work,) = round_json(museum_round(museum), museum.zone)["unplaced"]
    said = work["last_answer"].replace("\N{NO-BREAK SPACE}", " ")
    assert said.startswith(
        "Away from North since 21 January 2026. Last judged there from readings to 20 January 2026"
    )
    assert "waves " in said
    assert NONE not in said
    assert work["p_visible_now"] is None
    printed = " ".join(" ".join(round_text(museum_round(museum), museum.zone)).split())
    assert "Away from North since 21 January 2026." in printed.replace("\N{NO-BREAK SPACE}", " ")


def test_a_work_away_from_a_room_that_was_never_measured_says_so(
    museum: Museum, clock: Clock
) -> None:
    add_work(museum)
    away = Hanging("W-1", "north", START, START + timedelta(days=20))
    put_record(museum.stores.register, away)
    clock.now = START + 30 * DAY
    (work,) = round_json(museum_round(museum), museum.zone)["unplaced"]
    assert work["last_answer"] == (
        "Away from North since 21 January 2026; it was not judged there."
    )
    assert np.isnan(museum.unplaced()[0].judgement.p_visible_now)
