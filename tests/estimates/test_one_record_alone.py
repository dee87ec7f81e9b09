"""A record that nothing can be computed with silences its work alone, and is named there."""

import sqlite3
from contextlib import closing
from typing import Any

import pytest

from analysis.results import Listing
from dashboards.render import page_html
from service.answers.rounds import museum_round, round_json
from service.records.record_pages import work_record_page


@pytest.mark.parametrize(
    "damage",
    [
        "UPDATE mounts SET mounted_rh_pct = 140 WHERE work_id = 'W-1'",
        "UPDATE frames SET spacer_mm = -2 WHERE work_id = 'W-1'",
        "UPDATE hangings SET wall = 'moon' WHERE work_id = 'W-1'",
    ],
)
def test_the_others_are_judged_and_the_page_says_what_is_held(small: Any, damage: str) -> None:
    small.hang("W-1")
    small.hang("W-2")
    small.bring("n1", 0, 9)
    with closing(sqlite3.connect(small.settings.data_dir / "register.db")) as register:
        register.execute("PRAGMA ignore_check_constraints = ON")
        assert register.execute(damage).rowcount == 1
        register.commit()
    small.museum.forget()
    said = round_json(museum_round(small.museum), "UTC")
    works = {work["work_id"]: work for room in said["rooms"] for work in room["works"]}
    assert works["W-1"]["listing"] == Listing.CANNOT_TELL.value
    assert works["W-1"]["reason"].startswith("Cannot tell: its record holds ")
    page = work_record_page(small.museum, "W-1", "")
    assert page.problem.startswith("Cannot tell: its record holds ")
    assert "What stands here" not in page_html(page)
    assert work_record_page(small.museum, "W-2", "").problem == ""
    assert "its record" not in works["W-2"]["reason"]
    assert works["W-2"]["p_visible_now"] is not None
