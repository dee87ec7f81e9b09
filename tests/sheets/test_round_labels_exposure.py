"""The round on paper, labels that a phone reads, a work's exposure month by month."""

import io
import re

import httpx
import numpy as np
from fixtures.invented_week import START, ZONE, room_week
from fixtures.paper import pages_of

from dashboards import links
from dashboards.look_lines import InspectionLine
from dashboards.sheets.exposure_sheet import exposure_answer, exposure_table
from dashboards.sheets.labels import Label, code_svg, label_sheet
from dashboards.sheets.typesetting import sheet_pdf


def test_the_round_on_paper_names_every_work_with_boxes_to_tick(web: httpx.Client) -> None:
    lists = web.get("/api/round").json()
    titles = [work["title"] for room in lists["rooms"] for work in room["works"]]
    text = " ".join(pages_of(web.get("/round.pdf").content))
    for title in titles:
        assert title in text
    assert "Walked by" in text
    assert text.count("edges hold") == len(titles) + len(lists["unplaced"])
    assert "/round.pdf" in web.get("/round").text


def test_the_round_of_one_room_is_of_that_room(web: httpx.Client) -> None:
    text = " ".join(pages_of(web.get("/round.pdf?room=north").content))
    assert "North Gallery" in text
    assert "East Room" not in text


def test_a_code_holds_the_address_and_nothing_else() -> None:
    svg = code_svg("https://museum.example/works/2018-02").decode()
    size = int(re.search(r'width="(\d+)"', svg)[1])  # type: ignore[index]
    # ISO/IEC 18004: version v has 17 + 4 v modules a side; 2 quiet ones each way, 4 units each.
    assert (size // 4 - 4 - 17) % 4 == 0
    assert size == int(re.search(r'height="(\d+)"', svg)[1])  # type: ignore[index]


def test_labels_of_works_and_loggers_are_sent(web: httpx.Client) -> None:
    works = " ".join(pages_of(web.get("/labels/works.pdf?room=north").content))
    assert "2016-03" in works
    loggers = " ".join(pages_of(web.get("/labels/loggers.pdf").content))
    assert "north-1" in loggers


def test_a_loggers_code_opens_its_own_line(web: httpx.Client) -> None:
    page = web.get("/instruments").text
    for logger in ("north-1", "store-1"):
        address = links.instruments(logger)
        assert address == f"/instruments#{links.anchor_of(logger)}"
        assert page.count(f'id="{links.anchor_of(logger)}"') == 1


def test_what_is_said_of_a_work_ends_before_it_was_last_seen(web: httpx.Client) -> None:
    text = " ".join(pages_of(web.get("/round.pdf").content))
    before = re.findall(r"(\S+) (?:last seen|not inspected yet)", text)
    assert len(before) > 10
    assert [word for word in before if not word.endswith((".", "!", "?"))] == []


def test_forty_labels_take_two_pages_and_lose_none() -> None:
    labels = [
        Label(f"Work of fish {n}", f"2020-{n:02d}", "work", f"http://h/{n}") for n in range(40)
    ]
    pages = pages_of(sheet_pdf(label_sheet(labels, "House")))
    assert len(pages) == 2
    assert all(one.number in " ".join(pages) for one in labels)


def test_no_labels_are_said_to_be_none() -> None:
    assert "Nothing to label yet." in pages_of(sheet_pdf(label_sheet([], "House")))[0]


def test_hours_of_exposure_are_those_of_the_history() -> None:
    history = room_week().histories["W02"]
    look = InspectionLine("i", START, 2, "A.")
    table = exposure_table(history, [look], ZONE, {(2026, 3): "North gallery"})
    (row,) = table.rows
    assert row[:3] == ("March 2026", "North gallery", "168")
    assert int(row[5]) == int((history.p_slack > 0.5).sum())
    assert int(row[6]) == int((history.p_visible > 0.5).sum())
    assert row[7].startswith("2 (16 March 2026")


def test_hours_of_which_nothing_is_told_are_not_counted() -> None:
    history = room_week().histories["W10"]
    assert not np.isfinite(history.p_slack).any()
    (row,) = exposure_table(history, [], ZONE, {}).rows
    assert row[2:7] == ("0", "–", "–", "0", "0")


def test_the_first_sentence_of_an_exposure_counts_its_hours() -> None:
    history = room_week().histories["W02"]
    said = exposure_answer(history)
    assert said.startswith("Over 168 h the print was probably at ")
    assert f"for {int((history.p_visible > 0.5).sum())} h waves were likelier than not" in said
    for none in (None, room_week().histories["W10"]):
        assert exposure_answer(none).startswith("Of none of its hours")


def test_a_works_exposure_is_sent(web: httpx.Client) -> None:
    sent = web.get("/works/2016-03/exposure.pdf")
    text = " ".join(pages_of(io.BytesIO(sent.content).getvalue()))
    assert "Breakwater, low sun" in text
    assert "March 2026" in text
    assert "North Gallery" in text
